"""``valuation fit``: fit a table and save the model with its card."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path

from valuation.cli.exits import DONE
from valuation.cli.inputs import comparables_of, leaned_on
from valuation.cli.progress import progress
from valuation.cli.show import one_screen, paragraph
from valuation.regression.model import PriceModel
from valuation.regression.saved import save_model
from valuation.text.language import say


def fit(arguments: argparse.Namespace) -> int:
    """Fit and save."""
    comparables = comparables_of(arguments, Path(arguments.table))
    with progress(f"Fitting {comparables.n_usable} rows"):
        model = PriceModel.fit(comparables, **leaned_on(arguments))
    target = save_model(model, arguments.out)
    used, command = model.sales_used, f"valuation estimate VEHICLE --model {shlex.quote(str(target))}"
    then = say("Next, without the table: {command}", command=command)
    with one_screen((*model.notes, *model.table_notes), then, all_of_them=arguments.all):
        paragraph(
            say(
                "Saved {file}, fitted to {sold} sales and {others} bids and asking prices up to {day}, and its card "
                "{card}.",
                file=target,
                sold=f"{used['sold']:,}",
                others=f"{used['bid_not_met'] + used['asking']:,}",
                day=model.last_sale,
                card=target.with_suffix(".md"),
            )
        )
    return DONE
