"""What fits on a screen: a command to copy, and faults by cause, one line each where it holds them."""

from __future__ import annotations

import argparse
import shlex
import shutil
import textwrap
from collections.abc import Sequence

from valuation.comparables.suggestions import Group
from valuation.errors import shortlist

_COUNT = 4
"""Characters for the count at the beginning of a line."""
_ROWS = 22
"""Characters that are kept for the rows at the end of a line."""


def screen_width() -> int:
    """Characters in a line."""
    return max(40, min(100, shutil.get_terminal_size().columns))


def wrapped(text: str) -> str:
    """A text in lines of the screen."""
    return textwrap.fill(text, width=screen_width())


def lines_of(texts: Sequence[str]) -> int:
    """How many lines texts take."""
    return sum(text.count("\n") + 1 for text in texts)


def read_by(arguments: argparse.Namespace, *, schema: bool = True) -> list[str]:
    """The words that say how the table is read, for a command that follows.

    Parameters
    ----------
    arguments : Namespace
        As the parser gives them.
    schema : bool
        Whether the schema is among them.
    """
    by_schema = ["--schema", arguments.schema] if schema and arguments.schema else []
    return [*by_schema, *(["--sheet", arguments.sheet] if arguments.sheet else [])]


def with_command(text: str, words: Sequence[str]) -> str:
    """A text and the command that it speaks of, on one line where it holds both; a longer one can still be copied.

    Parameters
    ----------
    text : str
    words : sequence of str
        Of the command, as the shell gives them to the program.
    """
    whole = f"{text}  {shlex.join(words)}"
    if len(whole) <= screen_width():
        return whole
    lines = ["  "]
    for word in map(shlex.quote, words):
        if len(lines[-1]) > 2 and len(lines[-1]) + len(word) + 2 > screen_width():
            lines[-1] += "\\"
            lines.append("    ")
        lines[-1] += f"{word} "
    return "\n".join([wrapped(text), *(line.rstrip() for line in lines)])


def group_lines(groups: Sequence[Group], *, with_todo: bool = False) -> list[str]:
    """One text for each group: how many, what, and in which rows, which stand under each other where they fit.

    Parameters
    ----------
    groups : sequence of Group
    with_todo : bool
        Whether a line below says what to do where it is to be done by hand.
    """
    width = screen_width() - _COUNT - 2
    widest = max((len(group.cause) for group in groups if len(group.cause) <= width - _ROWS), default=0)
    lines = [_line(group, width, widest) for group in groups]
    told = [with_todo and group.how == "by hand" and bool(group.frees and group.rows) for group in groups]
    return [
        f"{line}\n{_indented(group.todo)}" if todo else line
        for line, group, todo in zip(lines, groups, told, strict=True)
    ]


def _indented(text: str) -> str:
    indent = " " * (_COUNT + 2)
    return textwrap.fill(text, width=screen_width(), initial_indent=indent, subsequent_indent=indent)


def _line(group: Group, width: int, widest: int) -> str:
    if not group.rows and group.frees:  # it stops the whole table: with what to do about it
        return _indented(f"{group.cause}. {group.todo}")
    count = f"{group.count:>{_COUNT},}  "
    if len(group.cause) <= widest and (beside := _rows(group.rows, width - widest - 2)) is not None:
        return f"{count}{group.cause:<{widest}}  {beside}".rstrip()
    rows = _rows(group.rows, width) or ""
    whole = f"{group.cause}: {rows}" if rows else group.cause
    return textwrap.fill(whole, width=width + len(count), initial_indent=count, subsequent_indent=" " * len(count))


def _rows(rows: Sequence[int], room: int) -> str | None:
    """The rows, as many as there is room for; ``None`` where there is none even for one."""
    if not rows:
        return ""
    texts = [f"{row}" for row in rows]
    tries = (f"row{'s' if len(rows) > 1 else ''} {shortlist(texts, most)}" for most in range(min(len(rows), 12), 0, -1))
    return next((text for text in tries if len(text) <= room), None)


def fitting(texts: Sequence[str], room: int) -> list[str]:
    """The first texts that fit into so many lines, and how many more there are; at least one.

    Parameters
    ----------
    texts : sequence of str
    room : int
        Lines.
    """
    if lines_of(texts) <= room:
        return list(texts)
    shown = [text for i, text in enumerate(texts) if i == 0 or lines_of(texts[: i + 1]) < room]
    left = len(texts) - len(shown)
    return [*shown, f"{' ' * (_COUNT + 2)}and {left} more {'cause' if left == 1 else 'causes'} with --all"]
