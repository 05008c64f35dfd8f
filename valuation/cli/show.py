"""Printing: JSON, one screen of an answer, tables and wrapped text, all within the width of the terminal."""

from __future__ import annotations

import io
import json
import re
import shutil
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from typing import Any

from valuation.notes import Note, each_once
from valuation.text.language import say, written
from valuation.text.plain import plain

MOST_NOTES = 5
"""Weightiest notes that are printed unless all are asked for."""
SCREEN = 24
"""Lines that a small terminal shows at once, without the line one types in next."""
WIDEST = 100
"""Columns of text that the eye follows from one line to the next; chosen."""
NARROWEST = 30
"""Columns that a text is given at least: a word and what it says; chosen."""
NARROW_CELL = 12
"""Columns under which no column of words is broken: narrower ones take more lines than they save; chosen."""
GAP = "  "
_SHELL_WORD = re.compile(r"""(?:'[^']*'|"[^"]*"|\S)+""")


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
    print(wrapped(text, indent, indent))


def bullet(text: str) -> None:
    """Print a wrapped line of a list."""
    print(_bullet(text))


@contextmanager
def one_screen(items: Sequence[Note], then: str = "", *, all_of_them: bool) -> Iterator[Callable[[str], None]]:
    """Print what is printed within, then what still fits on a screen with it, and what usually comes next.

    Parameters
    ----------
    items : sequence of Note
        The weightiest first.
    then : str
        The last line, where there is one.
    all_of_them : bool
        Whether nothing is left for ``--all``.

    Yields
    ------
    callable
        Takes a further sentence, which stands before the notes where there is room for it.
    """
    more: list[str] = []
    with redirect_stdout(io.StringIO()) as answer:
        yield more.append
    print(answer.getvalue(), end="")
    sentences = [wrapped(text) for text in more]
    told = [_bullet(note.text) for note in each_once(items)]
    last = ["", *command_lines(then)] if then else []
    room = SCREEN - answer.getvalue().count("\n") - lines_of(last) - len(["", "more"])
    shown = sentences if all_of_them else _fitting(sentences, room - len([""]))
    if shown:
        print("", *shown, sep="\n")
    room -= lines_of(["", *shown]) if shown else 0
    noted = told if all_of_them else _fitting(told[:MOST_NOTES], room - len(["", "Good to know"]))
    if noted:
        print("", say("Good to know"), *noted, sep="\n")
    if left := len(sentences) + len(told) - len(shown) - len(noted):
        print("" if not noted else "  ", say("{n} more with --all.", n=left), sep="" if noted else "\n")
    if then:
        print(*last, sep="\n")


def _fitting(texts: Sequence[str], room: int) -> list[str]:
    """The first of them that take no more lines than there are."""
    return [text for i, text in enumerate(texts) if lines_of(texts[: i + 1]) <= room]


def command_lines(text: str, indent: str = "") -> list[str]:
    """A text that ends in a command, or is one, in lines that a shell reads as one; no word in quotes is broken.

    Parameters
    ----------
    text : str
    indent : str
        Before the first line; those that follow stand further in.
    """
    first, *words = _SHELL_WORD.findall(text)
    lines = [indent + first]
    for word in words:
        if len(lines[-1]) + len(word) + len("  \\") > width():
            lines[-1] += " \\"
            lines.append(indent + GAP + word)
        else:
            lines[-1] += f" {word}"
    return lines


def _bullet(text: str) -> str:
    return wrapped(text, "  * ", "    ")


def wrapped(text: str, first: str = "", then: str = "") -> str:
    """A text in lines of the terminal.

    Parameters
    ----------
    text : str
    first, then : str
        Before the first line, and before each line after it.
    """
    return textwrap.fill(text, width=width(), initial_indent=first, subsequent_indent=then, break_on_hyphens=False)


def lines_of(texts: Sequence[str]) -> int:
    """How many lines texts take."""
    return sum(text.count("\n") + 1 for text in texts)


def table(header: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1, spare: Sequence[int] = ()) -> None:
    """Print aligned columns, the first ``left`` of them flush left, the rest flush right.

    Where the terminal is too narrow, columns of words are broken into lines, and then those that can be spared left
    out, which a line below says.

    Parameters
    ----------
    header : sequence of str
    rows : sequence of sequence of str
        Cells as text.
    left : int
        Columns flush left.
    spare : sequence of int
        Columns that may be left out, the first to go first.
    """
    told = [[written(cell) for cell in row] for row in rows]
    used = [i for i, head in enumerate(header) if head or any(row[i] for row in told)]
    for shown in ([i for i in used if i not in spare[:gone]] for gone in range(len(spare) + 1)):
        if (widths := _widths([[line[i] for i in shown] for line in (list(header), *told)])) is not None:
            break
    else:  # no room for columns at all: then nothing need be left out
        shown = used
    flush = sum(i < left for i in shown)
    for row in _laid_out([[line[i] for i in shown] for line in (list(header), *told)], widths, flush):
        print(row)
    dropped = [header[i] for i in used if header[i] and i not in shown]
    if dropped:
        paragraph(say("Left out at this width: {columns}.", columns=", ".join(dropped)), indent=GAP)


def listing(rows: Sequence[tuple[str, str, str]]) -> None:
    """Print figures one below the other, each with its name before it and what it means after it.

    Parameters
    ----------
    rows : sequence of tuple of str
        Name, figure, meaning.
    """
    name, figure = (max(len(row[i]) for row in rows) for i in (0, 1))
    for row in rows:
        start = f"{GAP}{row[0]:<{name}}{GAP}{written(row[1]):>{figure}}{GAP}"
        print(wrapped(row[2], start, " " * len(start)))


def fits(header: Sequence[str], rows: Sequence[Sequence[str]]) -> bool:
    """Whether a table needs no cell broken and no column left out.

    Parameters
    ----------
    header : sequence of str
    rows : sequence of sequence of str
    """
    columns = zip(header, *rows, strict=True)
    return sum(max(map(len, column)) + len(GAP) for column in columns) <= width()


def _widths(lines: Sequence[Sequence[str]]) -> list[int] | None:
    """Width of each column of a table, its header first; None where even with broken lines it is too wide."""
    columns = list(zip(*lines, strict=True))
    widths = [max(map(len, column)) for column in columns]
    least = [max(_longest_word(head), *map(_unbroken, cells), 1) for head, *cells in columns]
    room = width() - len(GAP) * len(columns)
    while sum(widths) > room:
        able = [i for i, wide in enumerate(widths) if wide > least[i]]
        if not able:
            return None
        widths[max(able, key=widths.__getitem__)] -= 1
    return widths


def _longest_word(text: str) -> int:
    return max(map(len, text.split()), default=0)


def _unbroken(cell: str) -> int:
    """How narrow a cell can become: a short one stays whole."""
    return min(len(cell), max(NARROW_CELL, _longest_word(cell)))


def _laid_out(lines: Sequence[Sequence[str]], widths: list[int] | None, left: int) -> Iterator[str]:
    """The lines of a table, its header first; each row as a text where there is no room for columns."""
    header, *rows = lines
    if widths is None:
        for row in rows:
            pairs = [f"{head} {cell}".strip() for head, cell in zip(header[1:], row[1:], strict=True) if cell]
            yield wrapped(f"{row[0]}: {'; '.join(pairs)}", GAP, GAP * 2)
        return
    for row in (header, ["-" * wide for wide in widths], *rows):
        cells = [textwrap.wrap(cell, wide) or [""] for cell, wide in zip(row, widths, strict=True)]
        if row is header:  # a short head stands on its column, not over it
            cells = [[""] * (max(map(len, cells)) - len(cell)) + cell for cell in cells]
        for at in range(max(map(len, cells))):
            parts = [cell[at] if at < len(cell) else "" for cell in cells]
            told = [
                part.ljust(wide) if i < left else part.rjust(wide)
                for i, (part, wide) in enumerate(zip(parts, widths, strict=True))
            ]
            yield (GAP + GAP.join(told)).rstrip()


def width() -> int:
    """Columns that a text may take on this terminal."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size().columns))
