"""``valuation ledger``: back up, restore and check the ledger of a shop."""

from __future__ import annotations

import argparse

from valuation.cli.exits import DONE, FAULTS_FOUND
from valuation.ledger import Ledger
from valuation.ledger.estimates import repeat_estimate

SHOWN = 10
"""Problems that are listed one by one."""


def ledger(words: argparse.Namespace) -> int:
    """Carry out one of the three."""
    if words.what == "restore":
        Ledger.restore(
            words.copy,
            words.ledger,
            repeat=repeat_estimate,
            accept_loss=words.accept_loss,
            replace=words.replace,
        )
        print(f"Restored {words.ledger} from {words.copy}.")
        return DONE
    with Ledger.open(words.ledger, incomplete=words.what == "check") as book:
        if words.what == "backup":
            book.backup(words.copy)
            print(f"Backed up {words.ledger} to {words.copy}.")
            return DONE
        report = book.check(repeat=repeat_estimate(book))
    print(report.words())
    for problem in report.problems[:SHOWN]:
        print(f"  {problem}")
    if len(report.problems) > SHOWN:
        print(f"  and {len(report.problems) - SHOWN} more")
    return DONE if report.sound else FAULTS_FOUND
