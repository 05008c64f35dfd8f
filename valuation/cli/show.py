"""Printing: JSON, plain tables and wrapped notes."""

from __future__ import annotations

import io
import json
import shutil
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from typing import Any

from valuation.notes import Note, each_once
from valuation.text.language import say, say_count
from valuation.text.plain import plain

MOST_NOTES = 5
"""Weightiest notes that are printed unless all are asked for."""
SCREEN = 24
"""Lines that a small terminal shows at once, without the line one types in next."""


def print_json(answer: Any) -> None:
    """Print a typed answer, or plain data, as one JSON object."""
    print(json.dumps(plain(answer), ensure_ascii=False, indent=2, allow_nan=False))


def heading(text: str) -> None:
    """Print a heading with an empty line before it."""
    print(f"\n{text}\n{'-' * len(text)}")


def paragraph(text: str, *, indent: str = "") -> None:
    """Print wrapped text.

    Parameters
    ----------
    text : str
    indent : str
        Before each line.
    """
    print(textwrap.fill(text, width=_width(), initial_indent=indent, subsequent_indent=indent))


def bullet(text: str) -> None:
    """Print a wrapped line of a list."""
    print(_bullet(text))


def notes(items: Sequence[Note]) -> None:
    """Print what must be known, each note once."""
    if items:
        heading(say("Good to know"))
    for note in each_once(items):
        bullet(note.text)


@contextmanager
def one_screen(items: Sequence[Note], then: str = "", *, all_of_them: bool) -> Iterator[None]:
    """Print what is printed within, then the notes that still fit on a screen with it, and what usually comes next.

    Parameters
    ----------
    items : sequence of Note
        The weightiest first.
    then : str
        The last line, where there is one.
    all_of_them : bool
        Whether no note is left for ``--all``.
    """
    with redirect_stdout(io.StringIO()) as answer:
        yield
    print(answer.getvalue(), end="")
    told = [_bullet(note.text) for note in each_once(items)]
    room = SCREEN - answer.getvalue().count("\n") - len(["", "Good to know", "more"]) - len(["", then] if then else [])
    shown = told if all_of_them else [one for i, one in enumerate(told[:MOST_NOTES]) if _lines(told[: i + 1]) <= room]
    if shown:
        print(f"\n{say('Good to know')}", *shown, sep="\n")
    left = len(told) - len(shown)
    if left and shown:
        print("  " + say_count("{n} more note with --all.", "{n} more notes with --all.", left))
    elif left:
        print("\n" + say("Good to know: {n} with --all.", n=left))
    if then:
        print(f"\n{then}")


def _bullet(text: str) -> str:
    return textwrap.fill(text, width=_width(), initial_indent="  * ", subsequent_indent="    ")


def _lines(texts: Sequence[str]) -> int:
    return sum(text.count("\n") + 1 for text in texts)


def table(header: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> None:
    """Print aligned columns, the first ``left`` of them flush left, the rest flush right.

    Parameters
    ----------
    header : sequence of str
    rows : sequence of sequence of str
        Cells as text.
    left : int
        Columns flush left.
    """
    widths = [max(len(str(row[i])) for row in (header, *rows)) for i in range(len(header))]
    for row in (header, tuple("-" * width for width in widths), *rows):
        cells = [
            str(cell).ljust(width) if i < left else str(cell).rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  " + "  ".join(cells).rstrip())


def _width() -> int:
    return max(50, min(100, shutil.get_terminal_size().columns))
