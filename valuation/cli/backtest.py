"""``valuation backtest``: past sales priced as if unseen."""

from __future__ import annotations

import argparse
from pathlib import Path

from valuation.answers.backtest import backtest as answer
from valuation.answers.backtest import record_sentence
from valuation.build.figures import about, money
from valuation.cli.exits import DONE
from valuation.cli.inputs import comparables_of, next_command, quoted
from valuation.cli.progress import progress
from valuation.cli.show import one_screen, paragraph, print_json, table
from valuation.evidence.unseen import BackTest
from valuation.text.language import say, written

SAID = frozenset({"record_agrees", "typical_miss"})
"""Notes that the first sentence says already."""
MOST_SALES = 6
"""Sales far off their estimate that the first screen lists."""


def backtest(arguments: argparse.Namespace) -> int:
    """Walk through the table in time and count how many sales fell inside."""
    comparables = comparables_of(arguments, Path(arguments.table))
    with progress("Pricing past sales as if unseen") as state:
        report = answer(comparables, arguments.coverage, progress=state.tell)
    if arguments.json:
        print_json(report)
    else:
        command = next_command("check", arguments, quoted([arguments.table]))
        then = say("Next, for the sales to look at first: {command}", command=command)
        show_backtest(report, then, all_of_it=arguments.all)
    if arguments.pictures:
        from valuation.sheets.backtest_pictures import write_pictures

        for path in write_pictures(report, arguments.pictures):
            print(say("Wrote {file}.", file=path))
    return DONE


def show_backtest(report: BackTest, then: str = "", *, all_of_it: bool = False) -> None:
    """Print how the method would have fared, and the sales that it missed most.

    Parameters
    ----------
    report : BackTest
        The answer.
    then : str
        What usually comes next.
    all_of_it : bool
        Every sale outside its range and every note, not only what fits on a screen.
    """
    missed = report.missed
    notes = (*report.calibration.notes, *report.ratio_study.notes, *report.notes)
    if not all_of_it:
        notes = tuple(note for note in notes if note.code not in SAID)
    with one_screen(notes, then, all_of_them=all_of_it):
        paragraph(record_sentence(report))
        if missed:
            print()
            paragraph(say("Farthest from their estimates:"))
            rows = [
                (
                    one.sale,
                    "" if one.date is None else written(one.date),
                    one.as_written or money(one.price),
                    about(one.estimate),
                    say("{low} to {high}", low=about(one.low), high=about(one.high)),
                )
                for one in (missed if all_of_it else missed[:MOST_SALES])
            ]
            table((say("sale"), say("date"), say("price"), say("estimate"), say("range")), rows, left=3, spare=(1, 4))
