"""Printing: JSON, plain tables and wrapped notes."""

from __future__ import annotations

import json
import shutil
import textwrap
from collections.abc import Sequence
from typing import Any

from valuation.notes import Note, each_once
from valuation.text.plain import plain

MOST_NOTES = 5
"""Weightiest notes that are printed unless all are asked for."""


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
    print(textwrap.fill(text, width=_width(), initial_indent="  * ", subsequent_indent="    "))


def notes(items: Sequence[Note]) -> None:
    """Print what must be known, each note once."""
    if items:
        heading("Good to know")
    for note in each_once(items):
        bullet(note.text)


def good_to_know(items: Sequence[Note], *, all_of_them: bool) -> None:
    """Print the weightiest notes, at most five unless all are asked for.

    Parameters
    ----------
    items : sequence of Note
        The weightiest first.
    all_of_them : bool
        Whether none is left for ``--all``.
    """
    told = each_once(items)
    shown = told if all_of_them else told[:MOST_NOTES]
    if shown:
        print("\nGood to know")
    for note in shown:
        bullet(note.text)
    if len(told) > len(shown):
        print(f"  {len(told) - len(shown)} more with --all.")


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
