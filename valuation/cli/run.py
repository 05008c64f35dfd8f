"""Parse the words, run the command, turn a refusal into a message and an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module

from valuation.cli.exits import REFUSED, STOPPED
from valuation.cli.parser import COMMANDS, build_parser
from valuation.errors import ValuationError
from valuation.threads import one_thread


def run(argv: Sequence[str] | None = None) -> int:
    """Run one command line and answer its exit code."""
    one_thread()
    words = build_parser().parse_args(argv)
    module, function = COMMANDS[words.command]
    try:
        answer: int = getattr(import_module(f"valuation.cli.{module}"), function)(words)
        sys.stdout.flush()
        return answer
    except ValuationError as refusal:
        print(f"valuation: {refusal} [{refusal.code}]", file=sys.stderr)
        return REFUSED
    except KeyboardInterrupt:
        print("valuation: stopped.", file=sys.stderr)
        return STOPPED
    except BrokenPipeError:  # the reader of our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
