"""``valuation demo``: an invented shop's table, from its faults to two decisions."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import valuation
from valuation.answers.backtest import backtest, record_sentence
from valuation.answers.check import check
from valuation.answers.estimate import estimate
from valuation.answers.paths import paths
from valuation.build.figures import about
from valuation.build.plan_file import read_plan
from valuation.cli.backtest import show_backtest
from valuation.cli.check import show_check
from valuation.cli.deal import show_paths
from valuation.cli.estimate import show_estimate
from valuation.cli.exits import DONE
from valuation.cli.progress import progress
from valuation.cli.show import heading, one_screen, paragraph, table
from valuation.comparables import Comparables, read_comparables
from valuation.errors import TableError
from valuation.evidence.effects import effects
from valuation.paths.compare import PathsReport
from valuation.regression.model import PriceModel
from valuation.schema import Vehicle, read_schema, read_vehicle
from valuation.text.files import read_text_file
from valuation.text.language import say
from valuation.text.toml import read_toml

FINDS = {"the pickup in the long barn": "haywain-*.toml", "the convertible behind the mill": "linnet-*.toml"}
"""The two finds and the files of their plans."""


def demo(arguments: argparse.Namespace) -> int:
    """Go through the demo: each question's answer in a sentence, or all of it."""
    folder = demo_folder()
    truth = read_toml(read_text_file(folder / "true_effects.toml"))
    as_of = dt.date.fromisoformat(truth["as_of"])
    comparables = read_comparables(folder / "comparables.csv", read_schema(folder / "schema.toml"), today=as_of)
    unsaid = replace(comparables, notes=())  # they are said with the table
    with progress(f"Fitting {comparables.n_usable} rows"):
        model = PriceModel.fit(unsaid)
    vehicles = [read_vehicle(path, model.schema) for path in sorted((folder / "vehicles").glob("*.toml"))]
    tried, finds = None, []
    if not arguments.quick:
        with progress("Pricing past sales as if unseen") as state:
            tried = backtest(unsaid, progress=state.tell)
        with progress("Weighing the plans"):
            finds = [(find, _weighed(model, folder / "plans", pattern, as_of)) for find, pattern in FINDS.items()]
    recovered = _recovered(model, vehicles[0], as_of, truth)
    inside = sum(row[-1] for row in recovered)
    then = say("Next, with your own table: {command}", command="valuation start mine --from TABLE")
    with one_screen((), then, all_of_them=arguments.all):
        paragraph(
            say(
                "From an invented shop's {n} sales, drawn from stated true effects, {inside} of {ranges} ranges hold "
                "the truth on {day}; at 80 % about {promised} should.",
                n=f"{model.sales_used['sold']:,}",
                inside=inside,
                ranges=len(recovered),
                day=as_of,
                promised=round(0.8 * len(recovered)),
            )
        )
        print()
        _show_subjects(model, vehicles, folder, as_of)
        print()
        if tried is not None:
            paragraph(record_sentence(tried))
        for find, report in finds:
            paragraph(f"{find[0].upper()}{find[1:]}: {report.why}")
        paragraph(say("Everything lies in {folder}; all of it, step by step, with --all.", folder=folder))
        if arguments.all:
            _show_all(comparables, model, vehicles[0], recovered, as_of)
            if tried is not None:
                heading(say("How far to trust it: past sales priced as if unseen"))
                show_backtest(tried, all_of_it=True)
            for find, report in finds:
                heading(say("The find: {find}", find=find))
                show_paths(report, all_of_it=True)
    return DONE


def _show_all(
    comparables: Comparables,
    model: PriceModel,
    vehicle: Vehicle,
    recovered: Sequence[tuple[str, str, str, str, str, str, bool]],
    as_of: dt.date,
) -> None:
    """The table with its faults, one estimate in full, and each effect beside the truth."""
    heading(say("The table and its faults"))
    show_check(check(comparables))
    heading(say("One vehicle in full"))
    show_estimate(estimate(model, vehicle, as_of), all_of_it=True)
    heading(say("What was recovered from the table, beside the truth"))
    table(
        (say("attribute"), say("step"), say("found"), say("80 % range"), say("truth"), say("from the table")),
        [row[:-1] for row in recovered],
        left=2,
        spare=(5,),
    )


def _weighed(model: PriceModel, folder: Path, pattern: str, as_of: dt.date) -> PathsReport:
    """The plans of one find side by side."""
    return paths(model, [read_plan(file, model.schema) for file in sorted(folder.glob(pattern))], as_of)


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
        reach = say("{low} to {high}", low=about(found.interval.low), high=about(found.interval.high))
        rows.append((vehicle.name, about(found.median), reach, about(true_prices[path.stem])))
    table((say("vehicle"), say("estimate"), say("8 in 10 such sales"), say("true median")), rows)


def _recovered(
    model: PriceModel, vehicle: Vehicle, as_of: dt.date, truth: Mapping[str, Any]
) -> list[tuple[str, str, str, str, str, str, bool]]:
    """Steps of the ordered scales as found, with their ranges, beside the figures that the table was drawn from."""
    rows = []
    for effect in effects(model, vehicle, as_of):
        true = truth["steps"].get(effect.attribute, {}).get(effect.to_level)
        if effect.kind != "step" or true is None:
            continue
        rows.append(
            (
                effect.title,
                say("{level} to {other}", level=effect.from_level, other=effect.to_level),
                f"{effect.percent:+.0f} %",
                say("{low} to {high}", low=f"{effect.low_percent:+.0f}", high=f"{effect.high_percent:+.0f} %"),
                f"{true:+.0f} %",
                f"{100 * effect.from_table:.0f} %",
                effect.low_percent <= true <= effect.high_percent,
            )
        )
    return rows
