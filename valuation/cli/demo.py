"""``valuation demo``: an invented shop's table, from its faults to two decisions."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import valuation
from valuation.answers.backtest import backtest
from valuation.answers.check import check
from valuation.answers.estimate import estimate
from valuation.answers.paths import paths
from valuation.build.figures import money
from valuation.build.plan_file import read_plan
from valuation.cli.backtest import show_backtest
from valuation.cli.check import show_check
from valuation.cli.deal import show_paths
from valuation.cli.estimate import show_estimate
from valuation.cli.exits import DONE
from valuation.cli.progress import progress
from valuation.cli.show import bullet, heading, paragraph, table
from valuation.comparables import read_comparables
from valuation.errors import TableError
from valuation.evidence.effects import effects
from valuation.regression.model import PriceModel
from valuation.schema import Vehicle, read_schema, read_vehicle
from valuation.text.files import read_text_file
from valuation.text.toml import read_toml

FINDS = {"the pickup in the long barn": "haywain-*.toml", "the convertible behind the mill": "linnet-*.toml"}
"""The two finds and the files of their plans."""


def demo(arguments: argparse.Namespace) -> int:
    """Go through the demo."""
    folder = demo_folder()
    truth = read_toml(read_text_file(folder / "true_effects.toml"))
    as_of = dt.date.fromisoformat(truth["as_of"])
    paragraph(
        "Everything here is invented: the shop (Thistlewick Motor Works), its people, the makes, the sales and the "
        "prices. The table was drawn from stated true effects, so that what the program finds can be set beside the "
        "truth."
    )
    heading("1. The table and its faults")
    comparables = read_comparables(folder / "comparables.csv", read_schema(folder / "schema.toml"), today=as_of)
    show_check(check(comparables))
    comparables = replace(comparables, notes=())  # they have just been said
    with progress(f"Fitting {comparables.n_usable} rows"):
        model = PriceModel.fit(comparables)
    heading("2. Three vehicles")
    vehicles = [read_vehicle(path, model.schema) for path in sorted((folder / "vehicles").glob("*.toml"))]
    _show_subjects(model, vehicles, folder, as_of)
    heading("3. What was recovered from the table, beside the truth")
    _show_recovered(model, vehicles[0], as_of, truth)
    if not arguments.quick:
        heading("4. How far to trust it: past sales priced as if unseen")
        with progress("Pricing past sales as if unseen") as state:
            show_backtest(backtest(comparables, progress=state.tell))
        heading("5. Two finds, three plans each")
        for find, pattern in FINDS.items():
            _show_find(model, find, sorted((folder / "plans").glob(pattern)), as_of)
    heading("Where everything lies")
    bullet(f"table, schema, vehicles, plans and their description: {folder}")
    bullet(f"on your own table: valuation start FOLDER, then valuation check FOLDER/{'comparables.csv'}")
    return DONE


def demo_folder() -> Path:
    """The demo's files: beside the package in a copy of the project, inside it when installed from a wheel.

    Raises
    ------
    TableError
        If they are in neither place.
    """
    package = Path(valuation.__file__).parent
    for folder in (package.parent / "data", package / "demo_data"):
        if (folder / "true_effects.toml").exists():
            return folder
    raise TableError(f"Cannot show the demo: its files are not in {package.parent / 'data'}. Run it in a full copy.")


def _show_subjects(model: PriceModel, vehicles: list[Vehicle], folder: Path, as_of: dt.date) -> None:
    true_prices = read_toml(read_text_file(folder / "true_prices.toml"))
    rows = []
    for path, vehicle in zip(sorted((folder / "vehicles").glob("*.toml")), vehicles, strict=True):
        found = model.value(vehicle, as_of)
        interval = found.interval
        rows.append(
            (
                vehicle.name,
                money(found.median),
                f"{money(interval.low)} to {money(interval.high)}",
                money(true_prices[path.stem]),
            )
        )
    table(("vehicle", "estimate", "80 % of such sales", "true median"), rows)
    print()
    show_estimate(estimate(model, vehicles[0], as_of))


def _show_recovered(model: PriceModel, vehicle: Vehicle, as_of: dt.date, truth: Mapping[str, Any]) -> None:
    """Steps of the ordered scales as found, with their ranges, beside the figures that the table was drawn from."""
    rows = []
    inside = 0
    for effect in effects(model, vehicle, as_of):
        true = truth["steps"].get(effect.attribute, {}).get(effect.to_level)
        if effect.kind != "step" or true is None:
            continue
        within = effect.low_percent <= true <= effect.high_percent
        inside += within
        rows.append(
            (
                effect.title,
                f"{effect.from_level} to {effect.to_level}",
                f"{effect.percent:+.0f} %",
                f"{effect.low_percent:+.0f} to {effect.high_percent:+.0f} %",
                f"{true:+.0f} %",
                f"{effect.from_table:.0%}",
            )
        )
    table(("attribute", "step", "found", "80 % range", "truth", "from the table"), rows, left=2)
    print(f"\n  {inside} of {len(rows)} ranges hold the truth; at 80 % about {round(0.8 * len(rows))} should.")


def _show_find(model: PriceModel, find: str, files: list[Path], as_of: dt.date) -> None:
    plans = [read_plan(file, model.schema) for file in files]
    heading(f"The find: {find}")
    with progress("Weighing the plans"):
        report = paths(model, plans, as_of)
    show_paths(report)
