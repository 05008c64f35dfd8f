"""Questions on a terminal: where somebody is there to answer they are asked, else they are refused with advice."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

from valuation.errors import UnlikelyError

T = TypeVar("T")


def agreed(question: str) -> bool | None:
    """Whether a question was answered with a yes; None where nobody is there to answer."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    print(f"{question} [y/N] ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().casefold() in ("y", "yes")


def once_confirmed(write: Callable[[bool], T], confirmed: bool) -> T:
    """What ``write`` gives, told whether an unlikely figure is right: by the command line, else by an answer.

    Parameters
    ----------
    write : callable
        Writes, or raises ``UnlikelyError`` unless it is told that the figure is right.
    confirmed : bool
        What the command line says.

    Raises
    ------
    UnlikelyError
        It was not confirmed; nothing was written.
    """
    try:
        return write(confirmed)
    except UnlikelyError as doubt:
        answer = agreed(str(doubt))
        if answer is None:
            raise UnlikelyError(f"{doubt} To confirm it, say --confirm.", where=doubt.where) from doubt
        if not answer:
            raise UnlikelyError("Nothing was written, since it was not confirmed.", where=doubt.where) from doubt
        return write(True)
