"""What fits on a screen: a command to copy, and faults by cause, one line each where it holds them."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Sequence

from valuation.cli.show import GAP, command_lines, lines_of, width, wrapped
from valuation.comparables.mend import Group
from valuation.errors import shortlist
from valuation.text.language import say_count

_COUNT = 4
"""Characters for the count at the beginning of a line."""
_INDENT = " " * (_COUNT + 2)
_ROWS = 22
"""Characters that are kept for the rows at the end of a line."""


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
    if len(whole) <= width():
        return whole
    return "\n".join([wrapped(text), *command_lines(shlex.join(words), GAP)])


def group_lines(groups: Sequence[Group], *, with_todo: bool = False) -> list[str]:
    """One text for each group: how many, what, and in which rows, which stand under each other where they fit.

    Parameters
    ----------
    groups : sequence of Group
    with_todo : bool
        Whether a line below says what to do where it is to be done by hand.
    """
    room = width() - _COUNT - 2
    widest = max((len(group.cause) for group in groups if len(group.cause) <= room - _ROWS), default=0)
    lines = [_line(group, room, widest) for group in groups]
    told = [with_todo and group.how == "by hand" and bool(group.frees and group.rows) for group in groups]
    return [
        f"{line}\n{_indented(group.todo)}" if todo else line
        for line, group, todo in zip(lines, groups, told, strict=True)
    ]


def _indented(text: str) -> str:
    return wrapped(text, _INDENT, _INDENT)


def _line(group: Group, room: int, widest: int) -> str:
    if not group.rows and group.frees:  # it stops the whole table: with what to do about it
        return _indented(f"{group.cause}. {group.todo}")
    count = f"{group.count:>{_COUNT},}  "
    if len(group.cause) <= widest and (beside := _rows(group.rows, room - widest - 2)) is not None:
        return f"{count}{group.cause:<{widest}}  {beside}".rstrip()
    rows = _rows(group.rows, room) or ""
    return wrapped(f"{group.cause}: {rows}" if rows else group.cause, count, _INDENT)


def _rows(rows: Sequence[int], room: int) -> str | None:
    """The rows, as many as there is room for; ``None`` where there is none even for one."""
    if not rows:
        return ""
    texts = [str(row) for row in rows]
    tries = (
        say_count("row {rows}", "rows {rows}", len(rows), rows=shortlist(texts, most))
        for most in range(min(len(rows), 12), 0, -1)
    )
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
    return [*shown, _INDENT + say_count("and {n} more cause with --all", "and {n} more causes with --all", left)]
