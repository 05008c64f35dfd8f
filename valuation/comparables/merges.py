"""Merged cells: what a merge shows stands for all of its cells."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from valuation.comparables.read_as import ReadAs

_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6}):([A-Z]{1,3})([1-9]\d{0,6})")


@dataclass(frozen=True, slots=True)
class Merge:
    """Cells merged into one, by the numbers of their rows and columns, counted from 1."""

    top: int
    left: int
    bottom: int
    right: int

    @classmethod
    def of(cls, reference: str) -> Merge | None:
        """The merge that a reference such as ``A3:A9`` names; ``None`` for anything else."""
        match = _REFERENCE.fullmatch(reference)
        return cls(int(match[2]), column_number(match[1]), int(match[4]), column_number(match[3])) if match else None


def column_number(letters: str) -> int:
    """The number of a column that a spreadsheet names by letters.

    Examples
    --------
    >>> column_number("A"), column_number("AB")
    (1, 28)
    """
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number


def filled_in(
    body: list[Sequence[str]], numbers: Sequence[int], headers: Sequence[str], merges: Iterable[Merge]
) -> tuple[list[Sequence[str]], tuple[ReadAs, ...]]:
    """The rows with merged cells filled in, and what was filled.

    A merge over all that its row holds is left alone: it is a heading. So is one whose cells do hold something.

    Parameters
    ----------
    body : list of sequence of str
        Rows below the header.
    numbers : sequence of int
        Their numbers, rising.
    headers : sequence of str
        One for each column.
    merges : iterable of Merge
        May name cells above the header and beyond the table.
    """
    place = {number: at for at, number in enumerate(numbers)}
    read_as: list[ReadAs] = []
    for merge in merges:
        rows = [number for number in range(merge.top, merge.bottom + 1) if number in place]
        if not rows or rows[0] != merge.top or merge.left > len(headers):
            continue
        text = body[place[merge.top]][merge.left - 1]
        alone = not any(cell.strip() for i, cell in enumerate(body[place[merge.top]]) if i != merge.left - 1)
        if not text.strip() or alone:
            continue
        for number in rows:
            row = list(body[place[number]])
            for at in range(merge.left - 1, min(merge.right, len(headers))):
                if not row[at].strip():
                    row[at] = text
                    read_as.append(ReadAs("merged_cells", number, headers[at], "", text.strip()))
            body[place[number]] = row
    return body, tuple(read_as)
