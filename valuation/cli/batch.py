"""``valuation batch``: many vehicles from a saved model."""

from __future__ import annotations

import argparse

from valuation.cli.exits import DONE
from valuation.cli.progress import progress
from valuation.cli.show import notes
from valuation.regression.saved import load_model


def batch(words: argparse.Namespace) -> int:
    """Value a table of vehicles in chunks and write one row each."""
    from valuation.regression.batch import value_file

    model = load_model(words.model)
    with progress("Valuing") as state:
        done = value_file(
            model,
            words.vehicles,
            words.out,
            as_of=words.as_of,
            coverage=words.coverage,
            chunk_rows=words.chunk,
            tell=state.tell,
        )
    print(f"Wrote {done.rows:,} estimates to {words.out}; {done.refused:,} rows could not be valued and say why there.")
    notes((*model.notes, *model.table_notes))
    return DONE
