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
from valuation.cli.screen import group_lines, read_by, with_command, wrapped
from valuation.cli.show import print_json
from valuation.comparables.mends import Mend
from valuation.comparables.suggestions import Agree, Group, sure


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
        said = self._ask("  Mend? [y]es, [n]o, [o]ne by one, [a]ll that have one answer: ", "ynoa")
        if said == "o":
            return self._one_by_one(group)
        self.every_sure_one |= said == "a"
        return group.mends if said in ("y", "a") else ()

    def _one_by_one(self, group: Group) -> list[Mend]:
        agreed: list[Mend] = []
        for one in group.mends:
            what = (
                f"leave row {one.row} out" if one.leaves_out else f"row {one.row}, {one.column}: {one.old} is {one.new}"
            )
            right = f", [r]ight as it is ('yes' in column {group.confirms!r})" if group.confirms else ""
            said = self._ask(f"  {what}? [y]es, [n]o{right}: ", "ynr" if right else "yn")
            agreed += {"y": [one], "r": [group.confirmed(one.row)]}.get(said, [])
        return agreed

    def _ask(self, question: str, letters: str) -> str:
        """One of the letters; no to everything from here on where the input ends."""
        while not self.no_more:
            try:
                said = input(question).strip().casefold()[:1]
            except EOFError:
                self.no_more = True
                print()
            else:
                if said and said in letters:
                    return said
        return "n"


def _show_offer(found: TableMend, arguments: argparse.Namespace) -> None:
    """What would be mended, since nobody could be asked."""
    for title, how in (("With one answer:", "one answer"), ("To be asked, at a terminal:", "ask")):
        groups = [group for group in found.groups if group.how == how]
        if groups:
            print(title, *group_lines(groups), "", sep="\n")
    if not found.changes:
        print(wrapped(f"{found.source_name}: nothing has one answer, and nothing was written."))
        return
    counts = f"{found.usable:,} of {found.rows:,} rows can be used now, {found.usable_after:,} then."
    print(wrapped(f"{counts} Nothing was written."))
    command = ["valuation", "mend", arguments.table, "--out", arguments.out, *read_by(arguments), "--yes"]
    print(with_command("Make those that have one answer:", command))


def _show_written(found: TableMend, table: Path, arguments: argparse.Namespace) -> None:
    if not found.written:
        print(wrapped(f"{found.source_name}: nothing was mended, and nothing was written."))
        return
    out = sum(not change.column for change in found.changes)
    cells = len(found.changes) - out
    what = [f"{cells:,} {'cell was' if cells == 1 else 'cells were'} written anew"] if cells else []
    what += [f"{out:,} {'row was' if out == 1 else 'rows were'} left out"] if out else []
    counts = f"{found.usable_after:,} of {found.rows:,} rows can be used, {found.usable:,} before."
    print(wrapped(f"{found.written}: {counts} {' and '.join(what)}; the list is {found.list_written}."))
    if found.only_the_table:
        others = "other sheets, formulas, looks and lines above it"
        print(wrapped(f"It holds the table alone: {others} stay in {found.source_name}."))
    if found.left:
        print("\nStill found:", *group_lines(found.left), sep="\n")
    if any(group.confirms for group in found.left):
        print(wrapped("Where a row is right as it is, write yes in a column 'confirmed'."))
    schema = schema_beside(table, arguments.schema, Path(found.written))
    print()
    print(with_command("Next:", ["valuation", "check", found.written, *(["--schema", str(schema)] if schema else [])]))
