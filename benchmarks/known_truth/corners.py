"""Corners in which an estimate may be wrong: what each does to bias, coverage and the mean.

Every table is of sold rows; a sale scatters by hidden quality and luck as in ``simulate`` unless its corner says
otherwise.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from typing import Literal, get_args

import numpy as np
import pandas as pd

from benchmarks.accuracy.scores import interval_score
from benchmarks.known_truth.simulate import (
    AS_OF,
    ATTRIBUTES,
    CONDITION,
    DRIFT,
    HIDDEN,
    TAIL_FREEDOM,
    TAIL_SCALE,
    World,
    with_gaps,
)
from valuation.regression.fit import Options, fit_core

Corner = Literal["plain", "heavy tails", "uneven scatter", "turning market", "steady drift", "selective recording"]
CORNERS: tuple[Corner, ...] = get_args(Corner)

WILD_FREEDOM = 2.5
"""Degrees of freedom of luck under heavy tails; 4 elsewhere."""

UNEVEN = dict(zip(CONDITION, (0.36, 0.28, 0.22, 0.17, 0.12), strict=True))
"""Scatter by condition: rough vehicles three times as much as finished ones."""

FALL, RISE, AHEAD = 0.2, 0.06, 0.75
"""By how much a market that turned fell over its last year, flat before; the yearly rise of a steady one; and how many
years past the newest sale its vehicles are valued."""

RECORDED_BELOW = 0.5
"""Chance that a sale under what such vehicles bring is recorded; one above always is."""

TESTS = 300


def scatter(rng: np.random.Generator, cells: pd.DataFrame, corner: Corner) -> np.ndarray:
    """Log price of each sale less its median."""
    n = len(cells)
    if corner == "uneven scatter":
        return cells["condition"].map(UNEVEN).to_numpy(dtype=float) * rng.standard_normal(n)
    freedom = WILD_FREEDOM if corner == "heavy tails" else TAIL_FREEDOM
    return rng.normal(0, HIDDEN, n) + TAIL_SCALE * rng.standard_t(freedom, n)


def level(cells: pd.DataFrame, corner: Corner) -> np.ndarray:
    """What the corner adds to the log price level of ``simulate``, which rises by 4 % a year."""
    years = (cells["sold"] - AS_OF).dt.days.to_numpy() / 365.25
    if corner == "turning market":
        return np.log(1 - FALL * np.clip(years + 1, 0, 1)) - DRIFT * years
    return (RISE - DRIFT) * years if corner == "steady drift" else np.zeros(len(years))


def draw(rng: np.random.Generator, world: World, n: int, corner: Corner) -> tuple[pd.DataFrame, np.ndarray]:
    """Complete cells and log prices of n recorded sales."""
    cells = world.vehicles(rng, rng.choice(list(world.families), 3 * n))
    luck = scatter(rng, cells, corner)
    recorded = np.ones(len(cells), dtype=bool)
    if corner == "selective recording":
        recorded = (luck > 0) | (rng.uniform(size=len(cells)) < RECORDED_BELOW)
    kept = np.flatnonzero(recorded)[:n]
    price = world.median(cells) + level(cells, corner) + luck
    return cells.iloc[kept].reset_index(drop=True), price[kept]


def one_table(world: World, rng: np.random.Generator, n: int, corner: Corner) -> pd.DataFrame:
    """Unseen vehicles valued from one table, row by row."""
    cells, price = draw(rng, world, n, corner)
    new = world.vehicles(rng, rng.choice(list(world.families), TESTS))
    if corner in ("turning market", "steady drift"):
        new["sold"] = AS_OF + pd.Timedelta(days=round(365.25 * AHEAD) if corner == "steady drift" else 0)
    median = world.median(new) + level(new, corner)
    seen = median + scatter(rng, new, corner)
    known = with_gaps(rng, new)
    core = fit_core(with_gaps(rng, cells), price, price, tuple(ATTRIBUTES.values()), Options()).core
    forecast = core.distribution(core.rows(known))
    low, high = (np.log(bound) for bound in forecast.interval(0.8))
    return pd.DataFrame(
        {
            "off": 100 * (np.log(forecast.median()) - median),
            "inside": (low <= seen) & (seen <= high),
            "score": interval_score(low, high, seen, 0.2),
            "mean": forecast.mean(),
            "price": np.exp(seen),
            "grade": known["condition"],  # as the estimate sees it: an empty cell is counted under "empty" alone
            "empty": known.isna().sum(axis=1).clip(upper=2),
        }
    )


def corners(tables: int, sizes: Sequence[int], seed: str = "corners") -> pd.DataFrame:
    """Every corner on every table."""
    parts = []
    for corner in CORNERS:
        for n in sizes:
            for number in range(tables):
                rng = np.random.default_rng(zlib.crc32(f"{seed} {corner} {n} {number}".encode()))
                found = one_table(World.draw(rng), rng, n, corner)
                parts.append(found.assign(corner=corner, n=n, table=number))
    return pd.concat(parts, ignore_index=True)


def summary(found: pd.DataFrame) -> pd.DataFrame:
    """Bias with its error over tables, size of errors, coverage by group, interval score, mean over price."""
    rows = {}
    for key, group in found.groupby(["corner", "n"], sort=False):
        by_table = group.groupby("table")["off"].mean()
        inside = group.groupby("grade")["inside"].mean().reindex(list(CONDITION))
        empty = group.groupby("empty")["inside"].mean()
        rows[key] = {
            "bias": f"{by_table.mean():+.1f} ± {by_table.std() / np.sqrt(len(by_table)):.1f}",
            "error": f"{group['off'].abs().mean():.1f}",
            "coverage": f"{group['inside'].mean():.3f}",
            **{grade: f"{share:.2f}" for grade, share in inside.items()},
            **{f"{count} empty": f"{share:.2f}" for count, share in empty.items()},
            "interval score": f"{group['score'].mean():.3f}",
            "mean over price": f"{group['mean'].sum() / group['price'].sum():.3f}",
        }
    table = pd.DataFrame.from_dict(rows, orient="index")
    table.index = pd.MultiIndex.from_tuples(table.index, names=["corner", "n"])
    return table
