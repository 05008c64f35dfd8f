"""``valuation backtest``: past sales priced as if unseen."""

from __future__ import annotations

import argparse
from pathlib import Path

from valuation.answers.backtest import backtest as answer
from valuation.cli.exits import DONE
from valuation.cli.inputs import comparables_of
from valuation.cli.progress import progress
from valuation.cli.show import bullet, heading, notes, paragraph, print_json
from valuation.evidence.unseen import BackTest


def backtest(arguments: argparse.Namespace) -> int:
    """Walk through the table in time and count how many sales fell inside."""
    comparables = comparables_of(arguments, Path(arguments.table))
    with progress("Pricing past sales as if unseen") as state:
        report = answer(comparables, arguments.coverage, progress=state.tell)
    if arguments.json:
        print_json(report)
    else:
        show_backtest(report)
    if arguments.pictures:
        from valuation.sheets.backtest_pictures import write_pictures

        for path in write_pictures(report, arguments.pictures):
            print(f"Wrote {path}.")
    return DONE


def show_backtest(report: BackTest) -> None:
    """Print how the method would have fared."""
    for line in report.words:
        paragraph(line)
    heading("Ratio study")
    for note in report.ratio_study.notes:
        bullet(note.text)
    notes(report.notes)
