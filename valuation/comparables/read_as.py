"""Read otherwise than written: each cell whose value is not what it says letter by letter, and a note for each kind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from valuation.errors import shortlist
from valuation.notes import Note
from valuation.text.spelling import counted

KINDS = {
    "prices_in_thousands": ("price given in thousands was", "prices given in thousands were", "read in full"),
    "spellings_joined": ("spelling was", "spellings were", "read as the commonest of the same word"),
}
"""Every kind: what one is called, what several are called, and how it was read. The kind is the note's code."""


@dataclass(frozen=True, slots=True)
class ReadAs:
    """One cell, or one row, that was read otherwise than it is written.

    Parameters
    ----------
    kind : str
        One of ``KINDS``.
    row : int
        Row number as a spreadsheet shows it.
    column : str
        Header as the file spells it; empty when the whole row is meant.
    written : str
        The cell's text.
    value : str
        What it was read as, as people read it.
    """

    kind: str
    row: int
    column: str
    written: str
    value: str


def reading_notes(read_as: Iterable[ReadAs]) -> list[Note]:
    """One note for each kind: how many there are, and the commonest examples with their rows."""
    by_kind: dict[str, list[ReadAs]] = {}
    for one in read_as:
        by_kind.setdefault(one.kind, []).append(one)
    return [Note(kind, _sentence(kind, found)) for kind, found in by_kind.items()]


def _sentence(kind: str, found: list[ReadAs]) -> str:
    one, many, how = KINDS[kind]
    rows: dict[tuple[str, str], list[int]] = {}
    for cell in found:
        rows.setdefault((cell.written.strip(), cell.value), []).append(cell.row)
    examples = [f"'{written[:60]}' as {_quoted(value)} ({_rows(at)})" for (written, value), at in rows.items()]
    return f"{counted(len(found), one, many)} {how}: {shortlist(examples, 5)}."


def _quoted(value: str) -> str:
    """Words in quotation marks, figures and dates without."""
    return value if any(map(str.isdigit, value)) else f"'{value}'"


def _rows(numbers: list[int]) -> str:
    return f"row{'s' if len(numbers) > 1 else ''} {shortlist([str(number) for number in numbers], 3)}"
