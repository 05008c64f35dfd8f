"""``valuation completion``: what a shell needs to complete commands, options and files with the Tab key."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from valuation.cli.exits import DONE
from valuation.cli.parser import build_parser

FILES = frozenset({"FILE", "FILE|URL", "FOLDER", "LOG", "MODEL", "PLAN", "PLAN|VEHICLE", "TABLE", "TABLE|FOLDER"})
"""What the parser calls that which is the name of a file."""
NO_FILES = frozenset({"amount"})
"""Positional arguments without a name of their own that are none."""


def completion(arguments: argparse.Namespace) -> int:
    """Print the script of one shell, made from the parser."""
    import shtab

    parser = build_parser()
    for action in _actions(parser):
        if _is_file(action):
            action.complete = shtab.FILE  # type: ignore[attr-defined]
    print(shtab.complete(parser, shell=arguments.shell))
    return DONE


def _is_file(action: argparse.Action) -> bool:
    if action.nargs == 0 or action.choices or action.type is not None:
        return False
    if action.metavar is None:
        return not action.option_strings and action.dest not in NO_FILES
    return action.metavar in FILES or str(action.metavar).startswith("VEHICLE|")


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    for action in parser._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for one in action.choices.values():
                yield from _actions(one)
