"""Notes: what a reader of a number must know, carried on the result and shown by every face."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Note:
    """One thing the reader must know about a result.

    Parameters
    ----------
    code : str
        Stable name such as ``"year_outside_table"``; tests and translations rely on it.
    text : str
        One or two plain sentences with the figures that matter.
    """

    code: str
    text: str


_DATE = re.compile(r"\d{4}-\d{2}-\d{2}|\d{1,2}\.? [^\W\d]+ \d{4}")
"""As files write a day, and as sentences do."""


def each_once(notes: Iterable[Note]) -> tuple[Note, ...]:
    """Each note once; of notes that differ in a date alone, such as those on each path's day of sale, the first."""
    found: dict[tuple[str, str], Note] = {}
    for note in notes:
        found.setdefault((note.code, _DATE.sub("", note.text)), note)
    return tuple(found.values())
