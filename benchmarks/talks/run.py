"""Let each owner sell the same vehicles to the same buyers, and write the results anew.

OMP_NUM_THREADS=1 python -m benchmarks.talks.run            (seeds for report; writes results/talks.md)
OMP_NUM_THREADS=1 python -m benchmarks.talks.run --work     (other seeds, to work with; writes nothing)
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks.decisions.buyers import fit
from benchmarks.decisions.market import AS_OF, SCATTER, draw_table, draw_vehicle, truth
from benchmarks.measure import stamp
from benchmarks.talks.owners import Knows, Ours, Owner, fifteen_under_the_ask, first_over_the_estimate, sell
from benchmarks.talks.world import HOLDING, OFFERS_A_MONTH, WEEKS, auctioned, buyers_for
from valuation.build.plan import BuildPlan, ShopSettings
from valuation.build.simulation import Simulation
from valuation.build.terms import SaleTerms
from valuation.build.three_point import ThreePoint
from valuation.sell.bands import price_bands

RESULTS = Path(__file__).parents[1] / "results" / "talks.md"
SALES_IN_TABLE, TABLES, VEHICLES = 40, 24, 12
REPORT_SEED, WORK_SEED = 20_261_126, 11
AIM = 0.96
HIDDEN = {"half of the scatter": 0.5, "a fifth of the scatter": 0.2, "four fifths of the scatter": 0.8}
"""How much of what no column tells is the vehicle's own, as a share of its standard deviation."""

BEST, OURS = "knows the worth", "this project"
SIMULATION = Simulation(scenarios=16, shifts=4)
LIBRARIES = ("numpy", "scipy", "pandas")


def one_table(number: int, seed: int, vehicles: int, hidden: float) -> list[dict[str, object]]:
    """Every owner sells some vehicles, with one table of sales."""
    rng = np.random.default_rng([seed, number])
    model, market, rows = fit(draw_table(rng, SALES_IN_TABLE)), truth(), []
    for place in range(vehicles):
        vehicle = draw_vehicle(rng, {"runner": 0.2, "driver": 0.5, "show": 0.3})
        middle = float(market.distribution([vehicle], AS_OF).median()[0])
        worth = middle * math.exp(hidden * SCATTER * rng.standard_normal())
        buyers, auction = buyers_for(rng), auctioned(rng)
        plan = BuildPlan(
            "vehicle", vehicle, shop=ShopSettings(holding_per_week=HOLDING * middle),
            sale=SaleTerms(offers_per_month=OFFERS_A_MONTH, weeks_to_sell=ThreePoint.certain(WEEKS)),
        )  # fmt: skip
        bands = price_bands(model, plan, AS_OF, simulation=SIMULATION)
        owners: list[Owner] = [
            Knows(),
            Ours(bands, plan, worth),
            first_over_the_estimate(bands.estimate / worth),
            fifteen_under_the_ask(bands.estimate / worth),
        ]
        for owner in owners:
            kept, weeks = sell(owner, buyers, auction)
            rows.append({"table": number, "vehicle": place, "owner": owner.name, "kept": kept, "weeks": weeks,
                         "error": math.log(bands.estimate / worth)})  # fmt: skip
    return rows


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """Net money kept as a share of the worth and of the best owner's, and how far ours is ahead of each, paired."""
    by_table = rows.pivot_table(index="table", columns="owner", values="kept", aggfunc="mean")
    ratio = by_table.mean() / by_table[BEST].mean()
    ahead = by_table.rsub(by_table[OURS], axis=0)
    off = by_table - by_table[[BEST]].to_numpy() * ratio.to_numpy()
    return pd.DataFrame(
        {
            "kept": by_table.mean(),
            "of the best": ratio,
            "its error": off.std(ddof=1) / math.sqrt(len(by_table)) / by_table[BEST].mean(),
            "ours ahead": ahead.mean(),
            "error of ahead": ahead.std(ddof=1) / math.sqrt(len(by_table)),
            "weeks": rows.groupby("owner")["weeks"].mean(),
        }
    ).loc[list(dict.fromkeys(rows["owner"]))]


def write_up(found: dict[str, pd.DataFrame], tables: int, vehicles: int) -> str:
    """The report as Markdown."""
    parts = [
        "# Talks with simulated buyers",
        f"{stamp(LIBRARIES)} {tables} tables of {SALES_IN_TABLE} sales, {vehicles} vehicles with each.",
        "Made by `OMP_NUM_THREADS=1 python -m benchmarks.talks.run`; buyers and owners are described in "
        "`benchmarks/talks/README.md`. Errors are standard errors over tables; differences are paired.",
    ]
    for title, table in found.items():
        lines = [
            "| owner | net kept, share of the worth | share of the best owner's | its error | ours is ahead by "
            "| its error | weeks |",
            "|---|---:|---:|---:|---:|---:|---:|",
        ]
        lines += [
            f"| {name} | {row['kept']:.4f} | {row['of the best']:.4f} | {row['its error']:.4f} "
            f"| {row['ours ahead']:.4f} | {row['error of ahead']:.4f} | {row['weeks']:.1f} |"
            for name, row in table.iterrows()
        ]
        ours = float(table["of the best"][OURS])
        reached = "met" if ours >= AIM else f"missed by {AIM - ours:.4f}"
        behind = [
            name for name in table.index.drop([BEST, OURS])
            if table["ours ahead"][name] < 2 * table["error of ahead"][name]
        ]  # fmt: skip
        rivals = (
            f"not ahead by two standard errors of: {', '.join(behind)}" if behind else "ahead of both rules of thumb"
        )
        parts += [f"## Hidden quality is {title}", "\n".join(lines), f"Aim {AIM} of the best: {reached}; {rivals}."]
    return "\n\n".join(parts) + "\n"


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and report."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.talks.run", description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("--work", action="store_true", help="use the seeds kept for work and write nothing")
    parser.add_argument("--tables", type=int, default=TABLES)
    parser.add_argument("--vehicles", type=int, default=VEHICLES, help="vehicles with each table")
    options = parser.parse_args(arguments)
    found: dict[str, pd.DataFrame] = {}
    for title, hidden in HIDDEN.items():
        rows: list[dict[str, object]] = []
        for number in range(options.tables):
            rows += one_table(number, WORK_SEED if options.work else REPORT_SEED, options.vehicles, hidden)
            sys.stderr.write(f"\r{title}: table {number + 1} of {options.tables}   ")
        found[title] = summary(pd.DataFrame(rows))
    report = write_up(found, options.tables, options.vehicles)
    sys.stdout.write("\n" + report)
    if not options.work:
        RESULTS.write_text(report, encoding="utf-8")


if __name__ == "__main__":
    main()
