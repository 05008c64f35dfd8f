"""A market of known truth: what vehicles are worth, the sales that a shop gets to see, and the finds on offer.

All figures are invented. The README says when they were changed and what had been seen by then.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr, stdtrit

from benchmarks.stated_prices import StatedPrices
from valuation.regression import ScoreCurve
from valuation.schema import Vehicle, default_schema

AS_OF = dt.date(2026, 11, 2)
YEARS_OF_SALES = 4
SCATTER, FREEDOM = 0.16, 5.0
"""Scale (log units) and degrees of freedom of what no column tells: hidden quality and the luck of the day."""

BIDS, ASKS = 0.12, 0.10
"""Shares of rows that are unsold bids and asking prices."""

BLANKS = {"paint": 0.06, "drivetrain": 0.04, "mileage": 0.25}
"""Share of empty cells by column."""

BASE = 30_000.0
YEARLY_PERCENT = 3.0
FIRST_YEAR, LAST_YEAR = 1946, 1968
FACTORS: dict[str, dict[str, float]] = {
    "family": {"Penhurrow Haywain": 1.15, "Tarrowby Linnet": 0.75, "Brackwater Pike": 1.0, "Orvane Tessera": 1.8},
    "condition": {"derelict": 0.3, "project": 0.48, "runner": 0.66, "driver": 1.0, "show": 1.45},
    "paint": {"bare": 0.88, "worn": 0.93, "presentable": 1.0, "fresh": 1.1, "show-finish": 1.3},
    "drivetrain": {
        "original": 1.0, "rebuilt-original": 1.07, "period-swap": 0.92, "modern-swap": 1.06, "missing": 0.7,
    },
    "awards": {"none": 1.0, "local": 1.04, "regional": 1.12, "national": 1.3},
    "model_year": {
        str(float(year)): float(np.exp(0.1 * np.sin((year - 1946) / 5) - 0.006 * (year - 1957)))
        for year in range(FIRST_YEAR, LAST_YEAR + 1)
    },
}  # fmt: skip
PER_UNIT = {"mileage": (-1.5e-4, 60_000.0)}
"""Percent per mile, and the mileage at which the factor is 1."""

OFTEN: dict[str, dict[str, float]] = {
    "family": {"Penhurrow Haywain": 0.42, "Tarrowby Linnet": 0.28, "Brackwater Pike": 0.22, "Orvane Tessera": 0.08},
    "condition": {"derelict": 0.12, "project": 0.2, "runner": 0.22, "driver": 0.28, "show": 0.18},
    "drivetrain": {
        "original": 0.48, "rebuilt-original": 0.22, "period-swap": 0.12, "modern-swap": 0.12, "missing": 0.06,
    },
}  # fmt: skip
COLUMNS = ("family", "model_year", "condition", "drivetrain", "paint", "awards", "mileage")


def truth() -> StatedPrices:
    """The true prices as a price model of the deal room: the oracle asks it what others must estimate."""
    return StatedPrices(
        default_schema(),
        BASE,
        FACTORS,
        PER_UNIT,
        scatter=SCATTER,
        yearly_percent=YEARLY_PERCENT,
        base_date=AS_OF,
        curve=student_curve(FREEDOM),
    )


def student_curve(freedom: float) -> ScoreCurve:
    """Student's t as a score curve, knot by knot between 4 normal scores below and above the middle."""
    z = np.concatenate([np.arange(-4.0, 0.0, 0.02), [0.0], np.arange(0.02, 4.01, 0.02)])
    return ScoreCurve(z, np.asarray(stdtrit(freedom, ndtr(z)), dtype=float))


def draw_vehicle(rng: np.random.Generator, conditions: Mapping[str, float] | None = None) -> Vehicle:
    """One vehicle; paint goes with condition, awards with show condition."""
    scale = list(FACTORS["condition"])
    condition = _choose(rng, conditions or OFTEN["condition"])
    place = int(np.clip(scale.index(condition) + rng.choice([-1, 0, 1], p=[0.25, 0.55, 0.2]), 0, 4))
    awards = {"show": [0.45, 0.3, 0.17, 0.08], "driver": [0.85, 0.12, 0.03, 0.0]}.get(condition, [1.0, 0.0, 0.0, 0.0])
    return Vehicle(
        "vehicle",
        {
            "family": _choose(rng, OFTEN["family"]),
            "model_year": float(rng.integers(FIRST_YEAR, LAST_YEAR + 1)),
            "condition": condition,
            "drivetrain": _choose(rng, OFTEN["drivetrain"]),
            "paint": list(FACTORS["paint"])[place],
            "awards": str(rng.choice(list(FACTORS["awards"]), p=awards)),
            "mileage": float(np.round(np.exp(rng.normal(np.log(58_000), 0.45)), -2)),
        },
    )


def draw_table(rng: np.random.Generator, rows: int) -> pd.DataFrame:
    """The table of so many rows that a shop sees, as text under the headers of a file."""
    market = truth()
    table = []
    for number in range(rows):
        vehicle = draw_vehicle(rng)
        date = AS_OF - dt.timedelta(days=int(rng.integers(7, round(YEARS_OF_SALES * 365.25))))
        price = float(market.distribution([vehicle], date).sample([rng.standard_normal()])[0, 0])
        kind, off = rng.random(), 0.02 + abs(rng.normal(0, 0.1))
        outcome = "bid_not_met" if kind < BIDS else "asking" if kind < BIDS + ASKS else "sold"
        price *= {"bid_not_met": 1 - min(off, 0.6), "asking": 1 + off, "sold": 1.0}[outcome]
        cells = {name: "" if rng.random() < BLANKS.get(name, 0.0) else vehicle.attributes[name] for name in COLUMNS}
        table.append(
            {"sale": f"sale {number + 1}", "date": date.isoformat(), "price": round(price), "outcome": outcome, **cells}
        )
    return pd.DataFrame(table)


@dataclass(frozen=True)
class Find:
    """A vehicle on offer and the price asked for it."""

    vehicle: Vehicle
    asked: float


def draw_find(rng: np.random.Generator) -> Find:
    """A find: rough, and asked for at what its owner thinks it is worth, who errs by a third either way."""
    vehicle = draw_vehicle(rng, {"derelict": 0.35, "project": 0.45, "runner": 0.2})
    bare = Vehicle("find", {**vehicle.attributes, "awards": "none"})
    worth = float(truth().distribution([bare], AS_OF).median()[0])
    return Find(bare, float(np.round(worth * np.exp(rng.normal(-0.1, 0.35)), -1)))


def _choose(rng: np.random.Generator, often: Mapping[str, float]) -> str:
    return str(rng.choice(list(often), p=np.array(list(often.values())) / sum(often.values())))
