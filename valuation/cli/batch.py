"""``valuation batch``: many vehicles from a saved model, of one file or of a folder, here or on a cluster."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from valuation.cli.exits import DONE, REFUSED
from valuation.cli.progress import progress
from valuation.cli.show import notes, print_json
from valuation.errors import shortlist
from valuation.regression.saved import load_model
from valuation.text.spelling import counted

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
    whole = f" of {counted(len(done.files) - len(failed), 'file')}" if folder else ""
    print(f"Wrote {counted(done.rows, 'row')}{whole} to {arguments.out}.")
    if done.refused:
        print(f"{counted(done.refused, 'row')} could not be valued; the column 'remark' says why.")
    if failed:
        print(f"{counted(len(failed), 'file')} could not be valued, named above: mend that and run it again.")
    if done.passed_over:
        print(f"Passed over, being neither CSV nor Parquet: {shortlist(list(done.passed_over))}.")
    notes((*model.notes, *model.table_notes))
    return REFUSED if failed else DONE
