"""``valuation batch``: many vehicles from a saved model, of one file or of a folder, here or on a cluster."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from valuation.cli.exits import DONE, REFUSED
from valuation.cli.progress import progress
from valuation.cli.show import one_screen, paragraph, print_json
from valuation.day import day_of
from valuation.errors import shortlist
from valuation.notes import Note
from valuation.regression.saved import load_model
from valuation.text.language import say, say_count

if TYPE_CHECKING:
    from valuation.regression.fleet import FleetCount

SHOWN = 10
"""Files that could not be valued and are listed one by one."""


def batch(arguments: argparse.Namespace) -> int:
    """Value a table of vehicles, or every table of a folder, in chunks and write one row each."""
    from valuation.regression.fleet import FleetCount, value_file, value_folder

    model, folder = load_model(arguments.model), Path(arguments.vehicles).is_dir()
    files = arguments.vehicles, arguments.out
    with progress("Valuing") as state:
        settings = {
            "as_of": arguments.as_of,
            "coverage": arguments.coverage,
            "chunk_rows": arguments.chunk,
            "cluster": arguments.cluster,
            "tell": state.tell,
        }
        done = (
            value_folder(model, *files, **settings) if folder else FleetCount((value_file(model, *files, **settings),))
        )
    failed = [one for one in done.files if one.problem]
    for one in failed[:SHOWN]:
        print(f"valuation: {one.problem}", file=sys.stderr)
    if arguments.json:
        print_json(done)
        return REFUSED if failed else DONE
    _show(done, arguments, folder, (*model.notes, *model.table_notes))
    return REFUSED if failed else DONE


def _show(done: FleetCount, arguments: argparse.Namespace, folder: bool, notes: Sequence[Note]) -> None:
    """Print how many were valued, as of when and where to, and what was not."""
    day, out, read = day_of(arguments.as_of), arguments.out, len(done.files) - done.problems
    with one_screen(notes, all_of_them=arguments.all) as more:
        if folder:
            valued = say_count(
                "Valued the vehicles of {n} file as of {day}, {rows} in all: {out}.",
                "Valued the vehicles of {n} files as of {day}, {rows} in all: {out}.",
                read,
                day=day,
                rows=f"{done.rows - done.refused:,}",
                out=out,
            )
        else:
            valued = say_count(
                "Valued {n} vehicle of {file} as of {day}: {out}.",
                "Valued {n} vehicles of {file} as of {day}: {out}.",
                done.rows - done.refused,
                file=arguments.vehicles,
                day=day,
                out=out,
            )
        paragraph(valued)
        if done.refused:
            more(
                say_count(
                    "{n} row could not be valued; the column 'remark' says why.",
                    "{n} rows could not be valued; the column 'remark' says why.",
                    done.refused,
                )
            )
        if done.problems:
            more(
                say_count(
                    "{n} file could not be valued, named above: mend that and run it again.",
                    "{n} files could not be valued, named above: mend that and run it again.",
                    done.problems,
                )
            )
        if done.passed_over:
            names = shortlist(list(done.passed_over))
            more(say("Passed over, being neither CSV nor Parquet: {names}.", names=names))
