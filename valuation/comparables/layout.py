"""Layout: which rows of a file are titles, headers, units, headings, totals and notes, and which are sales."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from valuation.errors import TableError
from valuation.text.dates import MONTHS
from valuation.text.spelling import level_key

Row = Sequence[str]

HEAD_ROWS = 30
"""Rows from the top, blank ones left out, among which the header is looked for; chosen, more than any title needs."""

WIDE = 0.6
"""Share of a table's usual number of filled cells that a header row has at least; chosen: a title has fewer."""

_UNITS = frozenset(
    [
        "usd",
        "eur",
        "gbp",
        "cad",
        "aud",
        "chf",
        "sek",
        "nok",
        "dkk",
        "$",
        "€",
        "£",
        "%",
        "percent",
        "pct",
        "miles",
        "mile",
        "mi",
        "km",
        "kms",
        "kilometres",
        "kilometers",
        "year",
        "years",
        "yyyy",
        "date",
        "text",
        "number",
        "figures",
        "money",
        "currency",
        "yes/no",
        "y/n",
    ]
)
_UNIT = re.compile(r"[(\[].{1,20}[)\]]|[dmy]{1,4}[-./ ][dmy]{1,4}([-./ ][dmy]{2,4})?", re.IGNORECASE)
_STARTS_AS_FIGURE = re.compile(r"\W*(?:[A-Z]{3}|[A-Z]{0,2}[$]|ca?\.)?\W*\d")
_LONG_WORD = re.compile(r"[^\W\d_]{4,}")
_MONTH = re.compile("|".join(month if len(month) < 4 else month[:3] + f"(?:{month[3:]})?" for month in MONTHS), re.I)
_ACROSS = re.compile(
    rf"(?:{_MONTH.pattern})\.?[-\s/']*(?:\d{{4}}|\d{{2}})?|(?:19|20)\d{{2}}|(?:19|20)\d{{2}}[-/]\d{{1,2}}(?:-01)?|"
    r"q[1-4](?:[-\s/]*\d{4})?|\d{4}[-\s/]*q[1-4]",
    re.IGNORECASE,
)
_PIVOT_WORDS = frozenset({"row labels", "column labels", "grand total", "total result", "zeilenbeschriftungen"})


@dataclass(frozen=True, slots=True)
class Head:
    """The header of a table and what stands above it.

    Parameters
    ----------
    headers : tuple of str
        One for each column, joined where two rows give it; blank where none does.
    raw : tuple of str
        The cells of the chief header row, by which a repetition is known.
    rows : tuple of int
        Numbers of the rows that make the headers: above, chief, below, units.
    titles : dict of int to str
        Rows above that were passed over, and what they say.
    """

    headers: tuple[str, ...]
    raw: tuple[str, ...]
    rows: tuple[int, ...]
    titles: dict[int, str]


def find_head(
    rows: Sequence[tuple[int, Row]], is_known: Callable[[str], bool], spans: Sequence[tuple[int, int, int]], name: str
) -> Head | None:
    """The header among the first rows that hold anything; ``None`` when no row has two cells.

    It is the row with most headers that the schema knows; without two such the first row of words that is about as
    wide as the table. A row above that is merged over several columns, or a row below that fills the header's gaps, is
    joined with it; so is a row of units.

    Parameters
    ----------
    rows : sequence of (int, sequence of str)
        The first rows with their numbers, blank ones left out.
    is_known : callable
        Whether a header is one that the schema knows.
    spans : sequence of (int, int, int)
        Cells merged within a row: its number, the first column and the last, counted from 0.
    name : str
        File name, for messages.

    Raises
    ------
    TableError
        If the rows are sales from the first one on, or a pivot table.
    """
    wide = [at for at, (_, row) in enumerate(rows) if filled(row) > 1]
    if not wide:
        return None
    at = _chief(rows, wide, is_known, name)
    chief = rows[at][1]
    above = _row_above(rows, at, spans)
    below = at + 1 if _fills_gaps(rows, at) else None
    units = (below or at) + 1
    headers = list(chief)
    if below is not None:
        headers = _joined(chief, rows[below][1])
    if above is not None:
        headers = _joined(_spread(rows[above], spans), headers)
    made = [rows[i][0] for i in (above, at, below) if i is not None]
    if units < len(rows) - 1 and _are_units(rows[units][1]):
        made.append(rows[units][0])
        headers = [_with_unit(header, unit) for header, unit in _pairs(headers, rows[units][1])]
    _refuse_pivot(headers, rows[at:], is_known, name)
    titles = {n: ", ".join(cell.strip() for cell in row if cell.strip()) for n, row in rows[:at] if n not in made}
    return Head(tuple(headers), tuple(cell.strip() for cell in chief), tuple(made), titles)


def filled(row: Row) -> int:
    """How many cells of a row hold something."""
    return sum(not cell.isspace() for cell in row if cell)


def _is_figure(cell: str) -> bool:
    """Whether a cell is a number, an amount or a date, and no words."""
    if not any(map(str.isdigit, cell)):
        return False
    bare = _MONTH.sub("", cell)
    return _STARTS_AS_FIGURE.match(bare) is not None and not _LONG_WORD.search(bare)


def _figures(row: Row) -> int:
    return sum(map(_is_figure, row))


def _chief(rows: Sequence[tuple[int, Row]], wide: list[int], is_known: Callable[[str], bool], name: str) -> int:
    known = {at: 0 if _figures(rows[at][1]) > 1 else sum(map(is_known, rows[at][1])) for at in wide}
    most = max(known.values())
    if most > 1:
        return next(at for at in wide if known[at] == most)
    usual = sorted(filled(rows[at][1]) for at in wide)[len(wide) // 2]
    likely = [at for at in wide if filled(rows[at][1]) >= max(2, WIDE * usual)]
    words = [at for at in likely if not _figures(rows[at][1])]
    if words:
        return max(words, key=lambda at: known[at])  # the first among equals
    if most == 0 and likely and all(_figures(rows[at][1]) > 1 for at in likely):
        if sum(bool(_ACROSS.fullmatch(cell.strip())) for cell in rows[likely[0]][1]) > 2:
            return likely[0]  # months or years across
        raise _headless(rows[likely[0]], name)
    return next(at for at in wide if known[at] == most)


def _headless(row: tuple[int, Row], name: str) -> TableError:
    cells = ", ".join(f"'{cell.strip()[:30]}'" for cell in row[1] if cell.strip())
    return TableError(
        f"Cannot read '{name}': it has no header row; row {row[0]} holds values already ({cells}). Put a row above it "
        "that names each column, such as date, price, family, year and condition."
    )


def _row_above(rows: Sequence[tuple[int, Row]], at: int, spans: Sequence[tuple[int, int, int]]) -> int | None:
    """The row of group names just above the header: merged over some of its columns, or needed to tell two apart."""
    if at == 0 or rows[at - 1][0] != rows[at][0] - 1:
        return None
    above, (number, chief) = rows[at - 1][1], rows[at]
    if filled(above) < 2 or _figures(above):
        return None
    if sum(row == number - 1 for row, _, _ in spans) > 1:
        return at - 1
    words = [level_key(cell) for cell in chief if cell.strip()]
    joined = [level_key(cell) for cell in _joined(_spread(rows[at - 1], spans), chief) if cell]
    return at - 1 if len(set(words)) < len(words) and len(set(joined)) == len(joined) else None


def _fills_gaps(rows: Sequence[tuple[int, Row]], at: int) -> bool:
    """Whether the row below the header is a second one: words alone, some below a gap of it, and figures after that."""
    if at + 2 >= len(rows) or rows[at + 1][0] != rows[at][0] + 1:
        return False
    chief, below = rows[at][1], rows[at + 1][1]
    after = [row for _, row in rows[at + 2 : at + 4] if not _are_units(row)]
    gaps = [i for i, cell in enumerate(below) if cell.strip() and not _cell(chief, i) and i and _cell(chief, i - 1)]
    return bool(gaps) and not _figures(below) and any(map(_figures, after[:1]))


def _are_units(row: Row) -> bool:
    cells = [cell.strip() for cell in row if cell.strip()]
    return bool(cells) and all(_UNIT.fullmatch(cell) or cell.casefold() in _UNITS for cell in cells)


def _with_unit(header: str, unit: str) -> str:
    return f"{header} ({unit.strip('()[]')})".lstrip() if unit else header


def _spread(row: tuple[int, Row], spans: Sequence[tuple[int, int, int]]) -> list[str]:
    """The cells of a row of group names, each standing for all columns up to the next."""
    number, cells = row
    merged = {column: first for at, first, last in spans if at == number for column in range(first, last + 1)}
    found: list[str] = []
    for i, cell in enumerate(cells):
        text = _cell(cells, merged[i]) if i in merged else cell.strip()
        found.append(text or (found[-1] if found and not merged else ""))
    return found


def _joined(upper: Row, lower: Row) -> list[str]:
    """Two rows of headers as one; a gap in the upper one before which a word stands belongs to that word."""
    found: list[str] = []
    group = ""
    for over, under in _pairs(upper, lower):
        group = over or (group if under else "")
        found.append(f"{group} {under}".strip())
    return found


def _pairs(first: Row, second: Row) -> list[tuple[str, str]]:
    return [(_cell(first, i), _cell(second, i)) for i in range(max(len(first), len(second)))]


def _cell(row: Row, at: int) -> str:
    return row[at].strip() if at < len(row) else ""


def _refuse_pivot(headers: list[str], rows: Sequence[tuple[int, Row]], known: Callable[[str], bool], name: str) -> None:
    """Refuse months, years or venues across: sums of several sales, out of which the sales cannot be had back."""
    across = [header for header in headers if _ACROSS.fullmatch(header)]
    words = {level_key(cell) for _, row in rows[:HEAD_ROWS] for cell in row} & _PIVOT_WORDS
    enough = len(across) > 2 or (words and len(headers) > 2)
    if not enough or sum(map(known, headers)) > 2:
        return
    shown = ", ".join(f"'{one}'" for one in [*across, *sorted(words)][:4])
    raise TableError(
        f"Cannot read '{name}': it is a pivot table ({shown} and others), whose cells hold sums of several sales. "
        "Give the list that it was made from, with one row for each sale."
    )
