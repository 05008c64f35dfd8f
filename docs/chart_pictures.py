"""Every chart at the sizes in which people see it: ``python -m docs.chart_pictures FOLDER``.

Made of invented tables with the corner cases that break charts, to be looked through before a release.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import sys
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from valuation.answers.build import build
from valuation.answers.explain import explain
from valuation.build.plan import BuildPlan, Step
from valuation.build.three_point import ThreePoint
from valuation.comparables import from_frame
from valuation.comparables.plain_sales import plain_sales
from valuation.regression import PriceModel
from valuation.schema import Vehicle, default_schema, parse_vehicle
from valuation.sheets import bands_chart, charts, deal_charts, sale_charts
from valuation.sheets.chart_style import MIDDLE, NARROW, PAPER, WIDE, Chart
from valuation.sheets.paper_charts import drawn
from valuation.sheets.place import place_among
from valuation.sheets.place_chart import place_picture
from valuation.text.locale import LOCALES
from valuation.text.plain import plain

DAY = dt.date(2026, 11, 25)
GRADES = ("derelict", "project", "runner", "driver", "show")
HERE = LOCALES["international"]


@dataclasses.dataclass(frozen=True)
class Case:
    """An invented table: how many rows, about which price, how wide, and what is odd about it."""

    rows: int = 80
    level: float = 25_000.0
    scatter: float = 0.14
    families: tuple[str, ...] = ("Penhurrow Haywain", "Tarrowby Linnet", "Ostrel Dray")
    dated: bool = True
    name: str = "Haywain pickup of 1952"


CASES: Mapping[str, Case] = {
    "usual": Case(),
    "small-prices": Case(level=3.7),
    "large-prices": Case(level=3_720_000.0),
    "twelve": Case(rows=12),
    "three-hundred": Case(rows=300, scatter=0.35),
    "one-family": Case(families=("Penhurrow Haywain",)),
    "undated": Case(dated=False),
    "narrow": Case(scatter=0.02),
    "wide": Case(scatter=1.0),
    "long-name": Case(
        families=("Penhurrow Haywain, the long chassis with the raised roof, " + "as the works wrote it " * 5,),
        name="Haywain " + "of the long chassis " * 10,
    ),
}


def frame_of(case: Case) -> pd.DataFrame:
    """The table of a case, with prices that rise by 6 % a year."""
    rng = np.random.default_rng(11)
    rows = case.rows
    grade, year = rng.integers(0, 5, rows), rng.integers(1946, 1960, rows)
    days = np.sort(rng.integers(0, 4 * 365, rows))
    family = rng.integers(0, len(case.families), rows)
    logs = 0.02 * (year - 1952) + 0.4 * (grade - 2) + 0.06 * days / 365 + 0.15 * family
    price = case.level * np.exp(logs + rng.normal(0, case.scatter, rows))
    kinds = ["bid_not_met" if i % 9 == 4 else "asking" if i % 11 == 6 else "sold" for i in range(rows)]
    table = pd.DataFrame(
        {
            "sale": [f"S{i:03}" for i in range(rows)],
            "price": np.round(price, 2 if case.level < 100 else 0),
            "outcome": kinds,
            "currency": "USD",
            "family": [case.families[k] for k in family],
            "model_year": year,
            "condition": [GRADES[g] for g in grade],
        }
    )
    if case.dated:
        table["date"] = [(dt.date(2022, 11, 1) + dt.timedelta(days=int(day))).isoformat() for day in days]
    return table


def pictures_of(case: Case) -> dict[str, Chart]:
    """All charts that an estimate and its table give."""
    schema = dataclasses.replace(default_schema(), date_required=case.dated)
    table = from_frame(frame_of(case), schema, name="invented.csv", today=DAY)
    model = PriceModel.fit(table)
    cells = {"family": case.families[0], "model_year": 1952, "condition": "driver"}
    vehicle = parse_vehicle(cells, schema, case.name)
    found = explain(model, vehicle, DAY)
    low, high, money = found.interval.low, found.interval.high, HERE.about
    named = [{**plain(one), "title": found.titles[one.attribute]} for one in found.factors]
    mark = {"sale": case.name, "date": DAY.isoformat(), "price": found.median, "low": low, "high": high}
    bands = {"floor": 0.95 * found.median, "target": found.median, "ask": 1.08 * found.median,
             "break_even": 0.93 * found.median}  # fmt: skip
    offers = [{"amount": share * found.median, "who": who}
              for share, who in ((0.8, "Ruth"), (0.88, "Ambrose of the mill"), (0.9, "Ruth"), (0.905, ""))]  # fmt: skip
    sold = [row for row in plain_sales(table) if row["outcome"] == "sold"][:24]
    pairs = [{"subject": f"{case.name} {i}", "sold_on": row["date"] or "no date", "price": row["price"],
              "median": row["price"] * (0.8 + 0.05 * (i % 9)), "low": row["price"] * (0.6 + 0.05 * (i % 9)),
              "high": row["price"] * (1.0 + 0.05 * (i % 9)), "inside": i % 9 < 8}
             for i, row in enumerate(sold)]  # fmt: skip
    made = {
        "estimate": charts.estimate_picture(plain(found.curve), plain(found.interval), found.median, plain(found.grid),
                                            found.currency, money),
        "effects": charts.effects_picture(found.base, named, found.median, found.currency, money),
        "influence": charts.influence_picture(plain(found.influence), found.median, found.currency, money),
        "place": place_picture(place_among(table, found, model, found.grid), HERE, found.currency,
                               estimate=found.median, low=low, high=high, day=HERE.date(DAY)),
        "track": sale_charts.track_picture(pairs, found.currency, money),
        "bands": bands_chart.bands_picture(plain(found.curve), bands, offers, found.currency, HERE),
    }  # fmt: skip
    if case.dated:
        made["dates"] = sale_charts.price_by_date(plain_sales(table), mark, found.currency, money)
    return made | _deal(model, case, found.median)


def _deal(model: PriceModel, case: Case, price: float) -> dict[str, Chart]:
    """The charts of a build on the table of a case."""
    found = Vehicle("as found", {"family": case.families[0], "model_year": 1952.0, "condition": "project"})
    steps = tuple(
        Step(name, f"{name} of the {case.name}"[:80], ThreePoint(*(share * price for share in costs)),
               ThreePoint(10, 16, 30), sets=sets)
        for name, costs, sets in (("engine", (0.05, 0.07, 0.12), {"condition": "runner"}),
                                  ("body", (0.07, 0.1, 0.2), {"condition": "driver"}),
                                  ("paint", (0.1, 0.2, 0.3), {"condition": "show"})))  # fmt: skip
    plans = [BuildPlan(name=f"show build of {case.name}", found=found, steps=steps),
             BuildPlan(name="drive it", found=found, steps=steps[:2])]  # fmt: skip
    whole = build(model, plans, DAY, price=0.3 * price)
    path, curve, money = whole.paths.paths[0], whole.curves[0], HERE.about
    one = whole.plans[plans[0].name]
    finish = {key: HERE.date(day) for key, day in dataclasses.asdict(one.schedule.finish).items()}
    event = {"name": "the harvest meet", "weeks": 14.0}
    currency, names = whole.paths.currency, {step.id: step.what for step in steps}
    return {
        "paths": deal_charts.paths_picture(plain(whole.paths.paths), currency, money),
        "profit": deal_charts.profit_picture(plain(curve), path.odds_of_loss, path.expected_profit, currency, money),
        "steps": deal_charts.steps_picture(plain(one.steps.results), currency, money),
        "timeline": deal_charts.timeline_picture(plain(one.schedule), names, event, finish),
    }


def main() -> None:
    """Write them all."""
    import vl_convert

    folder = Path(sys.argv[1])
    wanted = sys.argv[2:] or list(CASES)
    folder.mkdir(parents=True, exist_ok=True)
    for case in wanted:
        for name, chart in pictures_of(CASES[case]).items():
            for size, frame in (("wide", WIDE), ("middle", MIDDLE), ("narrow", NARROW)):
                spec = {**chart.at(frame, headed=True), "background": PAPER}
                (folder / f"{case}-{name}-{size}.png").write_bytes(vl_convert.vegalite_to_png(json.dumps(spec)))
            drawing = drawn(chart, HERE)
            (folder / f"{case}-{name}-paper{drawing.suffix}").write_bytes(drawing.content)


if __name__ == "__main__":
    main()
