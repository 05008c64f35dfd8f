"""Read otherwise than written: each cell whose value is not what it says letter by letter, and a note for each kind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from valuation.errors import shortlist
from valuation.notes import Note
from valuation.text.spelling import counted

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pandas as pd

KINDS = {
    "prices_in_thousands": ("price given in thousands was", "prices given in thousands were", "read in full"),
    "numbers_in_thousands": ("number given in thousands was", "numbers given in thousands were", "read in full"),
    "figures_about": ("figure that is said to be about right was", "figures that are said to be about right were",
                      "read as if exact"),
    "remarks_beside_figures": ("figure with a note beside it was", "figures with a note beside them were",
                               "read without the note"),
    "dates_with_a_width": ("date without a day was", "dates without a day were", "read as the middle of the span"),
    "dates_stored_as_numbers": ("date that a spreadsheet stored as a number was", "dates that a spreadsheet stored as "
                                "numbers were", "read as days"),
    "years_of_two_digits": ("year of two digits was", "years of two digits were",
                            "read in the only century that the schema allows"),
    "years_of_two": ("year given as two was", "years given as two were", "read as the earlier one"),
    "lengths_converted": ("distance in another unit was", "distances in another unit were",
                          "converted into the schema's"),
    "spellings_joined": ("spelling was", "spellings were", "read as the commonest of the same word"),
    "merged_cells": ("merged cell was", "merged cells were", "filled in with what the merge shows"),
}  # fmt: skip
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
    days : int
        How many days a date without a day may lie off, either way.
    """

    kind: str
    row: int
    column: str
    written: str
    value: str
    days: int = 0


Told = dict[int, tuple[tuple[str, ...], str, int]]
"""Of a column's distinct texts, by number: the kinds of what was read otherwise, the value, the days it may lie off."""


def each_row(column: pd.Series[Any], codes: npt.NDArray[np.intp], texts: Sequence[str], told: Told) -> list[ReadAs]:
    """What was read otherwise than written in one column, row by row.

    Parameters
    ----------
    column : Series
        Shape (n_rows,); its name is the header.
    codes : ndarray of int
        Which distinct text each row holds, shape (n_rows,).
    texts : sequence of str
        The distinct texts.
    told : dict
        What was read otherwise.
    """
    if not told:
        return []
    name = str(column.name)
    return [
        ReadAs(kind, row, name, texts[code], told[code][1], told[code][2])
        for row, code in zip(column.index.tolist(), codes.tolist(), strict=True)
        if code in told
        for kind in told[code][0]
    ]


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
    off = max(cell.days for cell in found)
    widest = f", at most {counted(off, 'day')} off" if off else ""
    return f"{counted(len(found), one, many)} {how}{widest}: {shortlist(examples, 5)}."


def _quoted(value: str) -> str:
    """Words in quotation marks, figures and dates without."""
    return value if any(map(str.isdigit, value)) else f"'{value}'"


def _rows(numbers: list[int]) -> str:
    return f"row{'s' if len(numbers) > 1 else ''} {shortlist([str(number) for number in numbers], 3)}"
