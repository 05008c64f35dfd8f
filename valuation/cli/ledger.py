"""``valuation ledger``: back up, restore and check the ledger of a shop."""

from __future__ import annotations

import argparse

from valuation.answers.kept_estimates import repeat_estimate
from valuation.cli.exits import DONE, FAULTS_FOUND
from valuation.ledger import Ledger

SHOWN = 10
"""Problems that are listed one by one."""


def ledger(arguments: argparse.Namespace) -> int:
    """Carry out one of the three."""
    if arguments.what == "restore":
        Ledger.restore(
            arguments.copy,
            arguments.ledger,
            repeat=repeat_estimate,
            accept_loss=arguments.accept_loss,
            replace=arguments.replace,
        )
        print(f"Restored {arguments.ledger} from {arguments.copy}.")
        return DONE
    with Ledger.open(arguments.ledger, incomplete=arguments.what == "check") as book:
        if arguments.what == "backup":
            book.backup(arguments.copy)
            print(f"Backed up {arguments.ledger} to {arguments.copy}.")
            return DONE
        report = book.check(repeat=repeat_estimate(book))
    print(report.words())
    for problem in report.problems[:SHOWN]:
        print(f"  {problem}")
    if len(report.problems) > SHOWN:
        print(f"  and {len(report.problems) - SHOWN} more")
    return DONE if report.sound else FAULTS_FOUND
