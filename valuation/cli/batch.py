"""``valuation batch``: many vehicles from a saved model."""

from __future__ import annotations

import argparse

from valuation.cli.exits import DONE
from valuation.cli.progress import progress
from valuation.cli.show import notes
from valuation.regression.saved import load_model
from valuation.text.spelling import counted


def batch(arguments: argparse.Namespace) -> int:
    """Value a table of vehicles in chunks and write one row each."""
    from valuation.regression.batch import value_file

    model = load_model(arguments.model)
    with progress("Valuing") as state:
        done = value_file(
            model,
            arguments.vehicles,
            arguments.out,
            as_of=arguments.as_of,
            coverage=arguments.coverage,
            chunk_rows=arguments.chunk,
            tell=state.tell,
        )
    print(f"Wrote {counted(done.rows, 'row')} to {arguments.out}.")
    if done.refused:
        print(f"{counted(done.refused, 'row')} could not be valued; the column 'remark' says why.")
    notes((*model.notes, *model.table_notes))
    return DONE
