"""Vintage-vehicle tables with known effects, hidden quality, heavy tails, gaps, and unsold bids and asking prices.

All families, figures and sales are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import pandas as pd

from valuation.schema.attributes import Attribute, Level, Role

Way = Literal["thin room", "low draw"]

CONDITION = {"derelict": 0.0, "project": 0.45, "runner": 0.60, "driver": 0.95, "show": 1.05}
PAINT = {"bare": 0.0, "worn": 0.05, "presentable": 0.20, "fresh": 0.28}
DRIVETRAIN = {"original": 0.10, "rebuilt-original": 0.15, "period-swap": 0.0, "modern-swap": -0.10, "missing": -0.35}
DRIFT = 0.04
MILEAGE = -0.06
AS_OF = pd.Timestamp("2026-01-01")

FAMILY_SPREAD = 0.35
HIDDEN = 0.10
TAIL_SCALE, TAIL_FREEDOM = 0.13, 4.0
GAP_CELLS = ("condition", "paint", "drivetrain", "mileage")
GAP_SHARE = 0.08
BID_SHARE, ASK_SHARE = 0.12, 0.10
BID_SHORT, ASK_OVER = 0.25, 0.25

ATTRIBUTES: Mapping[str, Attribute] = {
    "family": Attribute("family", Role.NOMINAL),
    "model_year": Attribute("model_year", Role.SMOOTH),
    "condition": Attribute("condition", Role.ORDINAL, levels=tuple(map(Level, CONDITION)), direction="up"),
    "paint": Attribute("paint", Role.ORDINAL, levels=tuple(map(Level, PAINT)), direction="up"),
    "drivetrain": Attribute("drivetrain", Role.NOMINAL),
    "mileage": Attribute("mileage", Role.NUMBER),
    "sold": Attribute("sold", Role.DATE),
}


@dataclass(frozen=True)
class Table:
    """A simulated table.

    Attributes
    ----------
    cells : DataFrame, shape (n, 7)
        Attributes, with gaps.
    low, high : ndarray, shape (n,)
        Log price bounds: equal where sold, infinite on an open side.
    seen : ndarray, shape (n,)
        Log of the figure in the table, whatever the outcome.
    median : ndarray, shape (n,)
        True log median price of such a vehicle, gaps filled and hidden quality average.
    """

    cells: pd.DataFrame
    low: np.ndarray
    high: np.ndarray
    seen: np.ndarray
    median: np.ndarray

    @property
    def sold(self) -> np.ndarray:
        """Rows that were sold."""
        return self.low == self.high

    def rows(self, kept: np.ndarray) -> Table:
        """The table with some rows only."""
        cells = self.cells.iloc[np.arange(len(self.cells))[kept]].reset_index(drop=True)
        return Table(cells, self.low[kept], self.high[kept], self.seen[kept], self.median[kept])

    def dropped(self) -> Table:
        """One-sided rows left out."""
        return self.rows(self.sold)

    def misused(self) -> Table:
        """One-sided rows taken as if sold at the figure in the table."""
        return replace(self, low=self.seen, high=self.seen)


@dataclass(frozen=True)
class World:
    """True log effects of the families, and of the levels of each scale."""

    families: Mapping[str, float]
    levels: Mapping[str, Mapping[str, float]] = field(default_factory=lambda: scales())

    @classmethod
    def draw(cls, rng: np.random.Generator, families: int = 6) -> World:
        """Families with effects of their own."""
        return cls({f"family {number + 1}": rng.normal(0, FAMILY_SPREAD) for number in range(families)})

    def another_shop(self, rng: np.random.Generator, families_differ: float, levels_differ: float) -> World:
        """A market whose effects differ from these by normal amounts of so many log points."""
        families = {name: effect + rng.normal(0, families_differ) for name, effect in self.families.items()}
        levels = {
            name: {level: effect + rng.normal(0, levels_differ) for level, effect in scale.items()}
            for name, scale in self.levels.items()
        }
        return World(families, levels)

    def vehicles(self, rng: np.random.Generator, family: np.ndarray) -> pd.DataFrame:
        """Complete cells of one vehicle for each entry of ``family``."""
        n = len(family)
        return pd.DataFrame(
            {
                "family": family,
                "model_year": rng.integers(1928, 1968, n).astype(float),
                "condition": rng.choice(list(CONDITION), n, p=[0.12, 0.22, 0.28, 0.26, 0.12]),
                "paint": rng.choice(list(PAINT), n, p=[0.15, 0.3, 0.35, 0.2]),
                "drivetrain": rng.choice(list(DRIVETRAIN), n, p=[0.4, 0.25, 0.15, 0.12, 0.08]),
                "mileage": np.round(np.exp(rng.normal(11.0, 0.6, n))),
                "sold": AS_OF - pd.to_timedelta(rng.integers(0, 1460, n), unit="D"),
            }
        )

    def median(self, cells: pd.DataFrame) -> np.ndarray:
        """True log median price of vehicles without gaps."""
        years = (cells["sold"] - AS_OF).dt.days.to_numpy() / 365.25
        bump = 0.5 * np.exp(-0.5 * ((cells["model_year"].to_numpy() - 1934) / 8) ** 2)
        return np.asarray(
            10.0
            + cells["family"].map(dict(self.families)).to_numpy(dtype=float)
            + bump
            + sum(cells[name].map(dict(scale)).to_numpy(dtype=float) for name, scale in self.levels.items())
            + MILEAGE * (np.log(cells["mileage"].to_numpy()) - 11.0) / 0.6
            + DRIFT * years
        )

    def table(self, rng: np.random.Generator, family: np.ndarray, way: Way = "thin room") -> Table:
        """One table with its one-sided rows.

        Either way a price is the true median times hidden quality, which the room sees and the table does not, times a
        heavy-tailed luck of the day.

        - ``thin room``: on some days, whatever the vehicle, the best bidder is not there. Bidding stops short of the
          price that it would have made by an exponential gap, and the reserve, set by the seller at that price, is not
          met. An asking price lies over that price by an exponential gap.
        - ``low draw``: the best bid is the price itself and the reserve scatters around the value that seller and
          room know. Bids are not met *because* luck was low, so the sold rows are the luckier ones: the way of
          unsold bids that the likelihood does not describe.
        """
        n = len(family)
        cells = self.vehicles(rng, family)
        median = self.median(cells)
        value = median + rng.normal(0, HIDDEN, n)
        price = value + TAIL_SCALE * rng.standard_t(TAIL_FREEDOM, n)
        outcome = rng.uniform(size=n)
        asked = outcome > 1 - ASK_SHARE
        if way == "thin room":
            unmet = outcome < BID_SHARE
            bid = price - rng.exponential(BID_SHORT, n)
        else:
            reserve = value + rng.normal(-0.25, 0.1, n)
            unmet = (price < reserve) & ~asked
            bid = price
        ask = price + rng.exponential(ASK_OVER, n)
        seen = np.where(unmet, bid, np.where(asked, ask, price))
        low, high = np.where(asked, -np.inf, seen), np.where(unmet, np.inf, seen)
        return Table(with_gaps(rng, cells), low, high, seen, median)


def scales() -> dict[str, dict[str, float]]:
    """True log effects of each level."""
    return {"condition": CONDITION, "paint": PAINT, "drivetrain": DRIVETRAIN}


def with_gaps(rng: np.random.Generator, cells: pd.DataFrame) -> pd.DataFrame:
    """Some cells emptied at random."""
    cells = cells.copy()
    for name in GAP_CELLS:
        empty = rng.uniform(size=len(cells)) < GAP_SHARE
        cells[name] = cells[name].where(~empty, np.nan if name == "mileage" else None)
    return cells
