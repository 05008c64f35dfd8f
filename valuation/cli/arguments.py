"""Arguments that many commands share, and how their texts are read. Imports nothing but argparse."""

from __future__ import annotations

import argparse
import datetime as dt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from valuation.text.money import Money


def command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, what: str
) -> argparse.ArgumentParser:
    """A command with its line of help.

    Parameters
    ----------
    commands : action of argparse
        As ``add_subparsers`` gives it.
    name, what : str
        The command, and what it does.
    """
    return commands.add_parser(name, help=what, description=what[0].upper() + what[1:] + ".")


def vehicle(parser: argparse.ArgumentParser) -> None:
    """A vehicle as a file, in words, or as a file that words change."""
    parser.add_argument(
        "vehicle",
        nargs="+",
        metavar="VEHICLE|ATTRIBUTE=VALUE",
        help="vehicle file (TOML or JSON), or what you know of it, such as family='Garrow Wren' year=1951 "
        "condition=driver; words beside a file change what it says",
    )
    as_written(parser)


def as_written(parser: argparse.ArgumentParser) -> None:
    """Whether a level that looks misspelt is new indeed."""
    parser.add_argument("--as-written", action="store_true", help="take a new make, model or other word as it is")


def schema(parser: argparse.ArgumentParser) -> None:
    """Which sheet is read, and what its columns mean."""
    parser.add_argument(
        "--sheet",
        metavar="NAME",
        help="sheet of a workbook to read; default: the one whose headers fit best, of equals the fullest",
    )
    parser.add_argument(
        "--schema",
        metavar="FILE",
        help="what the columns mean (TOML); default: schema.toml beside the table, else vintage",
    )


def when(parser: argparse.ArgumentParser) -> None:
    """The day of the answer."""
    parser.add_argument("--as-of", type=day, metavar="DATE", help="day on which the estimate holds (default: today)")


def coverage(parser: argparse.ArgumentParser) -> None:
    """Of the intervals."""
    parser.add_argument(
        "--coverage",
        type=number,
        default=0.8,
        metavar="SHARE",
        help="share of such sales inside the interval (default 0.8)",
    )


def all_of_it(parser: argparse.ArgumentParser) -> None:
    """More than fits on a screen."""
    parser.add_argument("--all", action="store_true", help="all that is known, not only what fits on a screen")


def as_json(parser: argparse.ArgumentParser) -> None:
    """JSON in place of text."""
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def day(text: str) -> dt.date:
    """A day, as ``type`` of an argument."""
    from valuation.text.dates import read_day
    from valuation.text.reading import Reading

    try:
        return read_day(text, Reading())
    except ValueError as why:
        raise argparse.ArgumentTypeError(f"{text[:60]!r} {why}; write year-month-day, such as 2026-09-30") from None


def amount(text: str) -> Money:
    """An amount of money, as ``type`` of an argument."""
    from valuation.text.money import read_amount, read_money

    try:
        read_amount(text)
        return read_money(text)
    except ValueError as why:
        raise argparse.ArgumentTypeError(f"{text[:60]!r} {why}; write an amount such as 24500") from None


def number(text: str) -> float:
    """A number, as ``type`` of an argument."""
    from valuation.text.numbers import DOUBT, read_number

    try:
        return read_number(text, DOUBT if "." in text else "")
    except ValueError as why:
        raise argparse.ArgumentTypeError(f"{text[:60]!r} {why}; write a number such as 0.8") from None
