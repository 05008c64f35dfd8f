"""``valuation fit``: fit a table and save the model with its card."""

from __future__ import annotations

import argparse
from pathlib import Path

from valuation.cli.exits import DONE
from valuation.cli.inputs import comparables_of, leaned_on
from valuation.cli.progress import progress
from valuation.cli.show import notes
from valuation.regression.model import PriceModel
from valuation.regression.saved import save_model


def fit(arguments: argparse.Namespace) -> int:
    """Fit and save."""
    comparables = comparables_of(arguments, Path(arguments.table))
    with progress(f"Fitting {comparables.n_usable} rows"):
        model = PriceModel.fit(comparables, **leaned_on(arguments))
    target = save_model(model, arguments.out)
    print(f"Saved {target} and its card {target.with_suffix('.md')}.")
    notes((*model.notes, *model.table_notes))
    return DONE
