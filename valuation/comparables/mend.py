"""A mend, and faults of one cause with the mends that answer them: plain data, which loads nothing slow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

How = Literal["one answer", "ask", "by hand", "stays out"]
"""How the faults of one cause are mended."""


@dataclass(frozen=True, slots=True)
class Mend:
    """One cell rewritten, or one row left out.

    Parameters
    ----------
    row : int
        As a spreadsheet shows it.
    column : str
        The file's header; empty when the row is left out.
    old, new : str
        What the cell held, and what it holds after.
    """

    row: int
    column: str
    old: str = ""
    new: str = ""

    @property
    def leaves_out(self) -> bool:
        """Whether the row is left out."""
        return not self.column


@dataclass(frozen=True, slots=True)
class Group:
    """Faults of one cause, and how they are mended.

    Parameters
    ----------
    code : str
        Of the faults.
    how : {"one answer", "ask", "by hand", "stays out"}
        Whether the mends can be taken as they are, must be agreed to, are the owner's to make, or are not wanted.
    count : int
        How many cells, rows or columns it is about.
    cause : str
        What is said of them, to follow the count: "prices below zero ('-5' may be 5)".
    rows : tuple of int
        As a spreadsheet shows them; empty for the whole table.
    mends : tuple of Mend
        One for each cell to be written, or row to be left out.
    frees : int
        Rows that are set aside for it.
    todo : str
        What to do, as the first of the faults says it.
    confirms : str
        Column in which yes says that a row is right as it is; empty where that does not mend it.
    """

    code: str
    how: How
    count: int
    cause: str
    rows: tuple[int, ...]
    mends: tuple[Mend, ...]
    frees: int
    todo: str
    confirms: str = ""

    def confirmed(self, row: int) -> Mend:
        """The mend that says that a row is right as it is."""
        return Mend(row, self.confirms, "", "yes")
