"""``valuation check``: the faults of a table, row by row."""

from __future__ import annotations

import argparse
from pathlib import Path

from valuation.answers.check import TableCheck
from valuation.answers.check import check as answer
from valuation.cli.exits import DONE, FAULTS_FOUND
from valuation.cli.inputs import comparables_of
from valuation.cli.show import bullet, heading, print_json
from valuation.comparables.table import Fault

MOST_SHOWN = 40
"""Faults of one kind that a terminal lists before it says how many more there are."""


def check(arguments: argparse.Namespace) -> int:
    """Read a table and print what is wrong with it and how to mend it."""
    found = answer(comparables_of(arguments, Path(arguments.table)))
    if arguments.json:
        print_json(found)
    else:
        show_check(found)
    return FAULTS_FOUND if any(fault.sets_aside for fault in found.faults) else DONE


def show_check(found: TableCheck) -> None:
    """Print counts, faults, and what was read by a rule."""
    counts = found.outcomes
    print(
        f"{found.source_name}: {found.rows} rows. {found.usable} can be used: "
        f"{counts['sold']} sold, {counts['bid_not_met']} bids that were not met, {counts['asking']} asking prices. "
        f"{counts['set_aside']} set aside."
    )
    for title, aside in (("Set aside until mended", True), ("Read, with a remark", False)):
        faults = [fault for fault in found.faults if fault.sets_aside is aside]
        if faults:
            heading(title)
        for fault in faults[:MOST_SHOWN]:
            bullet(_fault_line(fault))
        if len(faults) > MOST_SHOWN:
            print(f"  and {len(faults) - MOST_SHOWN} more; --json lists all of them")
    if found.notes:
        heading("How it was read")
    for note in found.notes:
        bullet(note.text)


def _fault_line(fault: Fault) -> str:
    where = f"row {fault.row}" if fault.row else "whole table"
    if fault.column:
        where += f", {fault.column}"
    if fault.value:
        where += f" {fault.value!r}"
    return f"{where}: {fault.why} {fault.mend}"
