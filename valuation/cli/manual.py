"""``valuation manual``: the manual page, made from the parser: ``valuation manual | man -l -``."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from valuation.cli.exits import DONE
from valuation.cli.parser import build_parser
from valuation.version import own_version


def manual(arguments: argparse.Namespace) -> int:
    """Print the page in the man macros of roff."""
    print("\n".join(_page(build_parser())))
    return DONE


def _page(parser: argparse.ArgumentParser) -> Iterator[str]:
    name, what = parser.prog, parser.description or ""
    yield f'.TH {name.upper()} 1 "" "{name} {own_version()}" "User commands"'
    yield ".SH NAME"
    yield f"{name} \\- {_text(what[:1].lower() + what[1:]).rstrip('.')}"
    yield from (".SH SYNOPSIS", f".B {name}", ".I COMMAND", "[\\fIARGUMENT\\fR ...]")
    yield from (".SH DESCRIPTION", _text(what))
    yield from _arguments(parser)
    yield ".SH COMMANDS"
    for command, one in _commands(parser):
        yield from _command(f"{name} {command}", one)
    codes, _, rest = (parser.epilog or "").partition("\n\n")
    yield from (".SH NOTES", _text(" ".join(f"{codes} {rest}".split())))


def _command(name: str, parser: argparse.ArgumentParser) -> Iterator[str]:
    """One command with its arguments, and then the commands under it."""
    yield f'.SS "{_text(name)}"'
    yield _text(parser.description or "")
    yield from _arguments(parser)
    for below, one in _commands(parser):
        yield from _command(f"{name} {below}", one)


def _arguments(parser: argparse.ArgumentParser) -> Iterator[str]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction | argparse._HelpAction):
            continue
        value = "" if action.nargs == 0 else str(action.metavar or action.dest.upper())
        more = " ..." if action.nargs == "+" else ""
        names = ", ".join(f"\\fB{_text(option)}\\fR" for option in action.option_strings)
        yield ".TP"
        yield " ".join(filter(None, [names, f"\\fI{_text(value)}\\fR{more}" if value else ""]))
        yield _text(action.help or "")


def _commands(parser: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            yield from action.choices.items()


def _text(text: str) -> str:
    """Text that roff takes as it is: no command by its first character, hyphens that are typed, no escapes."""
    escaped = text.replace("%%", "%").replace("\\", "\\e").replace("-", "\\-").replace('"', "\\(dq")
    return f"\\&{escaped}" if escaped[:1] in (".", "'") else escaped
