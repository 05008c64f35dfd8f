"""``valuation mend``: a mended copy of a table, asked for group by group, with a list of what was changed in it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path

from valuation.answers.given import schema_for
from valuation.answers.mend import TableMend, refuse_target, schema_beside
from valuation.answers.mend import mend as answer
from valuation.cli.exits import DONE
from valuation.cli.progress import progress
from valuation.cli.screen import group_lines, read_by, with_command
from valuation.cli.show import print_json, wrapped
from valuation.comparables.mend import Group, Mend
from valuation.comparables.suggestions import Agree, sure
from valuation.text.language import say, say_count


def mend(arguments: argparse.Namespace) -> int:
    """Show what can be mended, ask for it or take it as told, and write the copy."""
    table, out = Path(arguments.table), Path(arguments.out)
    refuse_target(table, out)
    asked = not (arguments.yes or arguments.json) and sys.stdin.isatty() and sys.stdout.isatty()
    writes = asked or arguments.yes
    agree: Agree = _Questions() if asked else sure
    with progress(f"Reading {table.name}"):
        schema = schema_for(table, arguments.schema)
    found = answer(table, schema, out=out if writes else None, sheet=arguments.sheet, agree=agree)
    if arguments.json:
        print_json(found)
    elif writes:
        _show_written(found, table, arguments)
    else:
        _show_offer(found, arguments)
    return DONE


class _Questions:
    """Asks at the terminal which mends of each group are to be made."""

    def __init__(self) -> None:
        self.every_sure_one = self.no_more = False

    def __call__(self, group: Group) -> Iterable[Mend]:
        """The mends of a group that are agreed to."""
        if self.no_more:
            return ()
        print()
        print(*group_lines([group]), sep="\n")
        if self.every_sure_one and group.how == "one answer":
            return group.mends
        if group.confirms:
            return self._one_by_one(group)
        said = self._ask(say("Mend? [y]es, [n]o, [o]ne by one, [a]ll that have one answer: "), "ynoa")
        if said == "o":
            return self._one_by_one(group)
        self.every_sure_one |= said == "a"
        return group.mends if said in ("y", "a") else ()

    def _one_by_one(self, group: Group) -> list[Mend]:
        agreed: list[Mend] = []
        for one in group.mends:
            what = say("row {row}, {column}: {old} is {new}", row=one.row, column=one.column, old=one.old, new=one.new)
            if one.leaves_out:
                what = say("leave row {row} out", row=one.row)
            if group.confirms:
                question = say("{what}? [y]es, [n]o, [r]ight as it is (yes in '{column}'): ", what=what,
                               column=group.confirms)  # fmt: skip
            else:
                question = say("{what}? [y]es, [n]o: ", what=what)
            said = self._ask(question, "ynr" if group.confirms else "yn")
            agreed += {"y": [one], "r": [group.confirmed(one.row)]}.get(said, [])
        return agreed

    def _ask(self, question: str, letters: str) -> str:
        """One of the letters; no to everything from here on where the input ends."""
        while not self.no_more:
            try:
                said = input(f"  {question}").strip().casefold()[:1]
            except EOFError:
                self.no_more = True
                print()
            else:
                if said and said in letters:
                    return said
        return "n"


def _show_offer(found: TableMend, arguments: argparse.Namespace) -> None:
    """What would be mended, since nobody could be asked."""
    kinds = ((say("With one answer:"), "one answer"), (say("To be asked, at a terminal:"), "ask"))
    for title, how in kinds:
        groups = [group for group in found.groups if group.how == how]
        if groups:
            print(title, *group_lines(groups), "", sep="\n")
    if not found.changes:
        print(wrapped(say("{name}: nothing has one answer, and nothing was written.", name=found.source_name)))
        return
    counts = {"now": f"{found.usable:,}", "rows": f"{found.rows:,}", "then": f"{found.usable_after:,}"}
    print(wrapped(say("{now} of {rows} rows can be used now, {then} then. Nothing was written.", **counts)))
    command = ["valuation", "mend", arguments.table, "--out", arguments.out, *read_by(arguments), "--yes"]
    print(with_command(say("Make those that have one answer:"), command))


def _show_written(found: TableMend, table: Path, arguments: argparse.Namespace) -> None:
    if not found.written:
        print(wrapped(say("{name}: nothing was mended, and nothing was written.", name=found.source_name)))
        return
    counts = {"then": f"{found.usable_after:,}", "rows": f"{found.rows:,}", "now": f"{found.usable:,}"}
    out = sum(not change.column for change in found.changes)
    told = [say("{file}: {then} of {rows} rows can be used, {now} before.", file=found.written, **counts)]
    if cells := len(found.changes) - out:
        told.append(say_count("{n} cell was written anew.", "{n} cells were written anew.", cells))
    if out:
        told.append(say_count("{n} row was left out.", "{n} rows were left out.", out))
    told.append(say("The list is {file}.", file=found.list_written))
    if found.only_the_table:
        told.append(
            say("It holds the table alone: other sheets, formulas, looks and lines above it stay in {name}.",
                name=found.source_name)
        )  # fmt: skip
    print(wrapped(" ".join(told)))
    if found.left:
        print("", say("Still found:"), *group_lines(found.left), sep="\n")
    if any(group.confirms for group in found.left):
        print(wrapped(say("Where a row is right as it is, write yes in a column 'confirmed'.")))
    schema = schema_beside(table, arguments.schema, Path(found.written))
    print()
    command = ["valuation", "check", found.written, *(["--schema", str(schema)] if schema else [])]
    print(with_command(say("Next:"), command))
