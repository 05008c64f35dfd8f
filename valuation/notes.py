"""Notes: what a reader of a number must know, carried on the result and shown by every face."""

from __future__ import annotations

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
