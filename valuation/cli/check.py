"""``valuation check``: what of a table can be used, its faults by cause, and what to do next, on one screen."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path

from valuation.answers.check import HABITS, Next, TableCheck, refused
from valuation.answers.check import check as answer
from valuation.answers.given import schema_for
from valuation.answers.mend import new_name
from valuation.cli.exits import DONE, FAULTS_FOUND
from valuation.cli.inputs import comparables_of
from valuation.cli.screen import fitting, group_lines, read_by, with_command
from valuation.cli.show import SCREEN, bullet, heading, lines_of, one_screen, print_json, wrapped
from valuation.comparables.table import Fault
from valuation.errors import TableError
from valuation.regression.regressor import LEAST_SALES
from valuation.text.language import say, say_count
from valuation.view import outcome_words

_BELOW = 3
"""Lines that are left below the groups for the notes, or for how many there are."""

Commands = Mapping[Next, Sequence[str]]
"""The words of the command for each of what may come next."""


def check(arguments: argparse.Namespace) -> int:
    """Read a table and print what is wrong with it and how to mend it."""
    table = Path(arguments.table)
    commands = _commands(table, arguments)
    try:
        found = answer(comparables_of(arguments, table))
    except TableError as refusal:
        schema = schema_for(table, arguments.schema)
        raise refused(refusal, table, schema, commands["start"], arguments.sheet) from refusal
    if arguments.json:
        print_json(found)
    else:
        show_check(found, commands, everything=arguments.all)
    return FAULTS_FOUND if any(fault.sets_aside for fault in found.faults) else DONE


def _commands(table: Path, arguments: argparse.Namespace) -> Commands:
    folder = table.with_name(f"{table.stem}-shop")
    return {
        "start": ["valuation", "start", str(folder), "--from", str(table), *read_by(arguments, schema=False)],
        "mend": ["valuation", "mend", str(table), "--out", str(new_name(table)), *read_by(arguments)],
        "by hand": ["valuation", "check", str(table), "--all", *read_by(arguments)],
        "estimate": ["valuation", "estimate", "VEHICLE", "--comparables", str(table), *read_by(arguments)],
    }


def show_check(found: TableCheck, commands: Commands | None = None, *, everything: bool = False) -> None:
    """Print what can be used, what to do next, the faults by cause, and how the table was read.

    Parameters
    ----------
    found : TableCheck
    commands : mapping, optional
        The command for what comes next; without them nothing is said of it.
    everything : bool
        Whether every fault is printed, row by row.
    """
    above = [wrapped(_answer(found))]
    if commands is not None:
        above.append(_next(found, commands))
    habits = [say("Usable now: {outcomes}.", outcomes=outcome_words(found.outcomes))]
    habits += [say("Read as: {habits}.", habits="; ".join(found.read_as))] if found.read_as else []
    below = [wrapped(habit) for habit in habits]
    groups, room = group_lines(found.groups, with_todo=True), SCREEN - lines_of(above) - lines_of(below) - _BELOW - 2
    if lines_of(groups) > room:
        groups = group_lines(found.groups)
    if not everything:
        groups = fitting(groups, room)
    notes = [note for note in found.notes if everything or note.code not in HABITS]
    with one_screen(notes, all_of_them=everything):
        print(*above, sep="\n")
        print(*([""] if groups else []), *groups, *below, sep="\n")
        if everything:
            _every_fault(found.faults)


def _answer(found: TableCheck) -> str:
    name = found.source_name
    if found.sheet:
        name = say('{name}, sheet "{sheet}"', name=name, sheet=found.sheet)
    more, undecided = found.usable_after - found.usable, found.rows - found.usable_after - found.stays_out
    parts = [say_count("{n} row", "{n} rows", found.rows), say("{usable} usable now", usable=f"{found.usable:,}")]
    if more > 0:
        parts.append(say("{more} more after mends that have one answer", more=f"{more:,}"))
    if undecided > 0:
        parts.append(say("{undecided} to decide or to mend by hand", undecided=f"{undecided:,}"))
    if found.stays_out:
        parts.append(say("{out} set aside for good", out=f"{found.stays_out:,}"))
    return f"{name}: {', '.join(parts)}."


def _next(found: TableCheck, commands: Commands) -> str:
    more = found.usable_after - found.usable
    said: dict[Next, str] = {
        "start": say("Its columns or words are its own: draft a schema from it."),
        "mend": say_count("Mend it:", "Mend the {n}:", more) if more > 0 else say("Decide what is doubtful:"),
        "by hand": say("What to write there only you can say; each with its mend:"),
        "add sales": say("An estimate needs {least} usable sales at least: add some.", least=LEAST_SALES),
        "estimate": say("Estimate from it:"),
    }
    return with_command(said[found.next], commands[found.next]) if found.next in commands else said[found.next]


def _every_fault(faults: Sequence[Fault]) -> None:
    for title, aside in ((say("Set aside until mended"), True), (say("Read, with a remark"), False)):
        listed = [fault for fault in faults if fault.sets_aside is aside]
        if listed:
            heading(title)
        for fault in listed:
            bullet(_fault_line(fault))


def _fault_line(fault: Fault) -> str:
    where = f"row {fault.row}" if fault.row else "whole table"
    if fault.column:
        where += f", {fault.column}"
    if fault.value:
        where += f" {fault.value!r}"
    return f"{where}: {fault.why} {fault.mend}"
