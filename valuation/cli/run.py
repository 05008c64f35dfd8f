"""Parse the arguments, run the command, turn a refusal into a message and an exit code."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from valuation.cli.exits import REFUSED, STOPPED
from valuation.cli.parser import COMMANDS, build_parser
from valuation.errors import ValuationError
from valuation.text.language import ENGLISH, languages, spoken
from valuation.threads import one_thread

_IN_ENGLISH = frozenset({"keep", "add", "ledger", "serve", "sheet"})
"""Commands of records, paper and the desk, which are to be made again as they were and compared."""


def run(argv: Sequence[str] | None = None) -> int:
    """Run one command line and answer its exit code."""
    one_thread()
    arguments = build_parser().parse_args(argv)
    module, function = COMMANDS[arguments.command]
    try:
        with spoken(_language(arguments)):
            answer: int = getattr(import_module(f"valuation.cli.{module}"), function)(arguments)
        sys.stdout.flush()
        return answer
    except ValuationError as refusal:
        print(f"valuation: {refusal} [{refusal.code}]", file=sys.stderr)
        return REFUSED
    except KeyboardInterrupt:
        print("valuation: stopped.", file=sys.stderr)
        return STOPPED
    except BrokenPipeError:  # the reader of our output has seen enough
        _let_go_of_output()
        return 0
    except OSError as problem:  # a full disk behind the output, a file that vanished between two looks
        _let_go_of_output()
        place = f" at {problem.filename}" if problem.filename else ""
        print(
            f"valuation: stopped{place}: {problem.strerror or problem}. Make room or choose another place.",
            file=sys.stderr,
        )
        return REFUSED
    except MemoryError:
        print(
            "valuation: stopped: this computer's memory does not hold the work. Give a smaller table.", file=sys.stderr
        )
        return REFUSED


def _language(arguments: argparse.Namespace) -> str:
    """The language asked for; English, with a word on the error stream, where there is no such catalogue."""
    if getattr(arguments, "json", False) or arguments.command in _IN_ENGLISH:
        return ENGLISH
    asked = os.environ.get("VALUATION_LANGUAGE", "").strip() or ENGLISH
    if asked in languages():
        return asked
    print(
        f"valuation: answers in English, since VALUATION_LANGUAGE is {asked[:60]!r}. Set it to one of "
        f"{', '.join(languages())}.",
        file=sys.stderr,
    )
    return ENGLISH


def _let_go_of_output() -> None:
    """Point standard output nowhere: the interpreter would try once more, on its way out, to write what is left."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
