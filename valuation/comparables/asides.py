"""Asides: rows of a table that are no sales, such as a line of totals, a heading, or the headers once more."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice

from valuation.comparables.layout import filled
from valuation.text.dates import read_date
from valuation.text.money import read_money
from valuation.text.remarks import bare_figure
from valuation.text.spelling import level_key

_YEAR = re.compile(r"(?:19|20)\d{2}")

MOST_SUMS = 5
"""Rows without a word for it that are tried as a sum of those above; chosen, so that long sparse tables stay quick."""

_TOTALS = frozenset(  # in English, German, French and Spanish
    [
        "total",
        "totals",
        "sum",
        "sums",
        "subtotal",
        "average",
        "avg",
        "mean",
        "median",
        "count",
        "min",
        "max",
        "minimum",
        "maximum",
        "summe",
        "gesamt",
        "gesamtsumme",
        "zwischensumme",
        "durchschnitt",
        "mittelwert",
        "somme",
        "moyenne",
        "suma",
        "promedio",
    ]
)  # fmt: skip
_STARTS = frozenset(word[:3] for word in _TOTALS)
"""How the words for totals begin: a quick test of each row."""

ASIDES = {
    "totals_row": ("The row holds totals or averages of others, and no sale.", "Nothing: it stays out."),
    "section_row": (
        "The row holds a heading, and no sale.",
        "Nothing; if the heading tells of the sales below it what no column does, write it into a column of its own.",
    ),
    "repeated_header": ("The row repeats the headers.", "Nothing: it stays out."),
    "note_row": ("The row holds a note below the table, and no sale.", "Nothing: it stays out."),
}
"""Fault codes of the rows that are no sales: what they are, and what is to be done."""


def find_asides(body: Sequence[Sequence[str]], numbers: Sequence[int], header: Sequence[str]) -> dict[int, str]:
    """The rows that are no sales, by number, with the fault code that says what each is.

    Parameters
    ----------
    body : sequence of sequence of str
        Rows below the header, all as wide.
    numbers : sequence of int
        Their numbers.
    header : sequence of str
        The cells of the chief header row.
    """
    width = len(body[0])
    start = next((i for i, cell in enumerate(header) if cell), 0)
    first_header, found = header[start] if start < len(header) else "", {}
    sparse: list[int] = []
    for at, row in enumerate(body):
        if row[start].strip() == first_header and _repeats(row, header):
            found[at] = "repeated_header"
        elif width > 2 and (
            width - row.count("") <= width // 2 or (row[start][:3].casefold() in _STARTS and "" in row)
        ):
            sparse.append(at)
    kinds = _lone_and_totals(body, sparse, width)
    found.update(kinds)
    _try_sums(body, [at for at in sparse if at not in found], found)
    return {numbers[at]: code for at, code in sorted(found.items())}


def _totals_label(cell: str) -> bool:
    """Whether a cell names a sum, an average or the like, such as ``Total 2024:``."""
    words = [word.rstrip(":") for word in level_key(cell).split()]
    return 0 < len(words) <= 4 and (words[0] in _TOTALS or " ".join(words[:2]) in _TOTALS)


def _repeats(row: Sequence[str], header: Sequence[str]) -> bool:
    same = [cell.strip() == over for cell, over in zip(row, header, strict=False) if over]
    return sum(same) > max(1, 0.8 * len(same))


def _lone_and_totals(body: Sequence[Sequence[str]], sparse: list[int], width: int) -> dict[int, str]:
    found: dict[int, str] = {}
    last_sale = len(body) - 1
    thin = set(sparse)
    while last_sale in thin:
        last_sale -= 1
    for at in sparse:
        cells = [cell.strip() for cell in body[at] if cell.strip()]
        if cells and _totals_label(cells[0]) and not any(map(_is_day, cells)):
            found[at] = "totals_row"
        elif (
            len(cells) == 1
            and width > 2
            and (_YEAR.fullmatch(cells[0]) or not any(map(str.isdigit, cells[0])) or len(cells[0].split()) > 2)
        ):
            found[at] = "note_row" if at > last_sale else "section_row"
    return found


def _try_sums(body: Sequence[Sequence[str]], sparse: list[int], found: dict[int, str]) -> None:
    """Mark as totals the first few rows of figures alone that hold the sum of a column above them."""
    bare = (at for at in sparse if all(_amount(cell) is not None and not _is_day(cell) for cell in body[at] if cell))
    for at in islice(bare, MOST_SUMS):
        above = [body[i] for i in range(at) if i not in found and filled(body[i]) > filled(body[at])]
        if _holds_sum(body[at], above):
            found[at] = "totals_row"


def _holds_sum(row: Sequence[str], above: Sequence[Sequence[str]]) -> bool:
    """Whether a figure is the sum, to the nearest whole, of three or more above it in its column."""
    for i, cell in enumerate(row):
        figure = _amount(cell)
        column = [amount for other in above if (amount := _amount(other[i])) is not None] if figure is not None else []
        if figure is not None and len(column) > 2 and abs(figure - sum(column)) <= 0.5:
            return True
    return False


def _amount(cell: str) -> float | None:
    try:
        return read_money(bare_figure(cell).text).amount if cell.strip() else None
    except ValueError:
        return None


def _is_day(cell: str) -> bool:
    try:
        read_date(cell)
    except ValueError:
        return False
    return True
