"""Who decides: this project's model, three simpler ways, and the oracle that knows the true prices.

Each buyer answers one question: what does the finished vehicle of each path bring? The rule is the same for all but the
rule of thumb: take the path with the largest expected profit at the asked price, and buy if that is above 0. All know
the same plans, so the expected outlay of a path is the same for all. Apart from these stands the project's model with
the usual goal of a plan: 75 % sure, here of no loss.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Protocol

import numpy as np
import pandas as pd

from benchmarks.accuracy.coding import Coding
from benchmarks.decisions.ceiling import knows_the_market
from benchmarks.decisions.market import COLUMNS, FACTORS, truth
from valuation.paths.deal_path import DealPath
from valuation.paths.pricer import Pricer
from valuation.schema import Vehicle, default_schema

ROLES = {
    "family": "nominal", "model_year": "smooth", "condition": "ordinal", "drivetrain": "nominal", "paint": "ordinal",
    "awards": "ordinal", "mileage": "number", "date": "date",
}  # fmt: skip
OURS, CAUTIOUS = "this project", "this project, 75 % sure of no loss"
CEILING = "who knows how the market was made"
NEAREST = 5
RULE_OF_THUMB = 2.0


class Buyer(Protocol):
    """One way to decide."""

    name: str

    def choose(self, paths: Sequence[DealPath], asked: float) -> int | None:
        """Number of the path to go, or None to pass."""


def best_by_profit(proceeds: Sequence[float], paths: Sequence[DealPath], asked: float) -> int | None:
    """The path with the largest expected profit, if that is above 0."""
    profit = [p - float(path.deal.outlay(asked).mean()) for p, path in zip(proceeds, paths, strict=True)]
    best = int(np.argmax(profit))
    return best if profit[best] > 0 else None


@dataclass(frozen=True)
class ByModel:
    """Expected proceeds of a price model: the truth's (the oracle) or a fit's."""

    name: str
    pricer: Pricer
    most_odds_of_loss: float = 1.0

    def choose(self, paths: Sequence[DealPath], asked: float) -> int | None:
        """By the model's predictive distribution on each path's expected day of sale."""
        deals = [
            replace(path.deal, prices=self.pricer.distribution(path.states.vehicles, path.sale_date)) for path in paths
        ]
        proceeds = [
            float(deal.expected_proceeds().mean())
            if self.most_odds_of_loss >= 1 or deal.odds_of_loss(asked).value <= self.most_odds_of_loss
            else -np.inf
            for deal in deals
        ]
        return best_by_profit(proceeds, paths, asked)


@dataclass(frozen=True)
class ByTable:
    """Expected proceeds from coded rows: nearest sales or least squares; rows that were not sold are left out."""

    name: str
    coding: Coding
    rows: np.ndarray
    log_prices: np.ndarray

    def choose(self, paths: Sequence[DealPath], asked: float) -> int | None:
        """By ``worth`` of each path's vehicle as it will be sold."""
        worth = self.worth(self.coding.transform(_frame_of([(p.states.vehicles[0], p.sale_date) for p in paths])))
        return self.decide(worth, paths, asked)

    def decide(self, worth: np.ndarray, paths: Sequence[DealPath], asked: float) -> int | None:
        """The common rule."""
        return best_by_profit([p.deal.kept * w for p, w in zip(paths, worth, strict=True)], paths, asked)

    def worth(self, new: np.ndarray) -> np.ndarray:
        """Price of each coded row, money."""
        raise NotImplementedError


class FiveNearest(ByTable):
    """The mean of the five nearest sales."""

    def worth(self, new: np.ndarray) -> np.ndarray:
        """Mean price of the five nearest."""
        return np.exp(self.log_prices)[self.nearest(new)].mean(axis=1)

    def nearest(self, new: np.ndarray) -> np.ndarray:
        """Places of the five nearest rows by Euclidean distance over the coded columns, shape (m, 5)."""
        distance = ((new[:, None, :] - self.rows[None, :, :]) ** 2).sum(axis=2)
        return np.argsort(distance, axis=1, kind="stable")[:, :NEAREST]


class RuleOfThumb(FiveNearest):
    """Buy when the median of the five nearest sales is at least twice the outlay; of such paths, the largest gap."""

    def worth(self, new: np.ndarray) -> np.ndarray:
        """Median price of the five nearest."""
        return np.median(np.exp(self.log_prices)[self.nearest(new)], axis=1)

    def decide(self, worth: np.ndarray, paths: Sequence[DealPath], asked: float) -> int | None:
        """Twice the outlay, or pass."""
        outlay = np.array([float(path.deal.outlay(asked).mean()) for path in paths])
        gap = np.where(worth >= RULE_OF_THUMB * outlay, worth - outlay, -np.inf)
        return int(np.argmax(gap)) if np.isfinite(gap).any() else None


class LeastSquares(ByTable):
    """Least squares on log price, back from logs by half the residual variance (Goldberger 1968)."""

    def worth(self, new: np.ndarray) -> np.ndarray:
        """exp(fit + s^2 / 2), by the pseudo-inverse where columns repeat each other."""
        design = np.column_stack([np.ones(len(self.rows)), self.rows])
        coefficients, _, rank, _ = np.linalg.lstsq(design, self.log_prices, rcond=None)
        residual = self.log_prices - design @ coefficients
        variance = float(residual @ residual) / max(len(design) - int(rank), 1)
        return np.exp(np.column_stack([np.ones(len(new)), new]) @ coefficients + variance / 2)


def oracle() -> ByModel:
    """Knows the true effects and the true scatter; hidden quality and luck it does not know."""
    return ByModel("oracle", truth())


def buyers(table: pd.DataFrame) -> list[Buyer]:
    """The ceiling, the project's model and the three others, all from the same table."""
    sold = table[table["outcome"] == "sold"]
    frame = _typed(sold)
    coding = Coding(ROLES).fit(frame)
    parts = (coding, coding.transform(frame), np.log(sold["price"].to_numpy(float)))
    model = fit(table)
    return [
        ByModel(CEILING, knows_the_market(table)),
        ByModel(OURS, model),
        ByModel(CAUTIOUS, model, most_odds_of_loss=0.25),
        RuleOfThumb("rule of thumb", *parts),
        FiveNearest("five nearest", *parts),
        LeastSquares("least squares", *parts),
    ]


def fit(table: pd.DataFrame) -> Pricer:
    """The table as a shop would use it: out of a CSV file, with the schema that ships."""
    from valuation.comparables import read_comparables
    from valuation.regression import PriceModel

    with TemporaryDirectory() as folder:
        file = Path(folder) / "comparables.csv"
        table.to_csv(file, index=False)
        return PriceModel.fit(read_comparables(file, default_schema()))


def _frame_of(sold: Sequence[tuple[Vehicle, object]]) -> pd.DataFrame:
    return _typed(pd.DataFrame([{**{c: v.attributes[c] for c in COLUMNS}, "date": str(day)} for v, day in sold]))


def _typed(rows: pd.DataFrame) -> pd.DataFrame:
    """Columns typed by role for the peers' coding."""
    columns: dict[str, object] = {"date": pd.to_datetime(rows["date"])}
    for name in COLUMNS:
        if ROLES[name] == "ordinal":
            columns[name] = pd.Categorical(rows[name].replace("", None), list(FACTORS[name]), ordered=True)
        elif ROLES[name] == "nominal":
            columns[name] = rows[name].replace("", None).to_numpy(object)
        else:
            columns[name] = pd.to_numeric(rows[name], errors="coerce").to_numpy(float)
    return pd.DataFrame(columns)
