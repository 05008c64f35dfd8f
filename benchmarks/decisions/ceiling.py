"""The ceiling: a buyer who knows how the market was made, and of its effects what the table says.

Bayes' rule with the market's own figures: which columns matter and in which form, what a step of an ordered scale is
worth on average, how far single levels and families lie from that, how sales scatter, how far bids lie under prices
and asking prices over them. The effects themselves it has to learn from the same table as everybody else. What is
missing to the oracle is what a table of that size cannot tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from benchmarks.decisions.market import AS_OF, FACTORS, FREEDOM, OFTEN, PER_UNIT, SCATTER, YEARLY_PERCENT, truth
from valuation.regression import PriceDistribution
from valuation.schema import Vehicle, default_schema
from valuation.schema.schema import Schema
from valuation.year import DAYS_PER_YEAR

OFF = {"sold": (0.0, 0.0), "bid_not_met": (-0.108, 0.069), "asking": (0.093, 0.053)}
"""Mean and deviation of what a bid lies under the price, and an asking price over it, in logs: the market's figures."""

ORDERED = ("condition", "paint", "awards")
LEAST_SD = 0.03
"""Least deviation of a level from the line of its scale, in logs: nobody knows it to the last percent."""

_LEVELS = {name: levels for name, levels in FACTORS.items() if name != "model_year"}
_MILES, _NORMAL_MILES = "mileage", 27_000.0
_ROUNDS = 30


@dataclass(frozen=True)
class KnowsTheMarket:
    """Prices by somebody who knows how the market was made.

    Attributes
    ----------
    mean, covariance : ndarray, shapes (p,) and (p, p)
        Of the effects after the table.
    schema : Schema
    currency : str
    """

    mean: np.ndarray
    covariance: np.ndarray
    schema: Schema
    currency: str = "USD"

    def distribution(self, vehicles: Sequence[Vehicle], as_of: date) -> PriceDistribution:
        """Prices of the vehicles one by one."""
        rows = np.array([_row(vehicle.attributes, as_of)[0] for vehicle in vehicles])
        doubt = np.sqrt(np.einsum("ij,ij->i", rows @ self.covariance, rows))
        mix = truth().mix
        return PriceDistribution(rows @ self.mean, mix.spread(doubt, SCATTER), mix.weight)


def knows_the_market(table: pd.DataFrame) -> KnowsTheMarket:
    """Learn the effects from a table as ``draw_table`` makes it, Student's t by its weights."""
    encoded = [_row(row, date.fromisoformat(str(row["date"]))) for row in table.to_dict("records")]
    rows = np.array([columns for columns, _ in encoded])
    off = np.array([OFF[outcome] for outcome in table["outcome"]])
    response = np.log(table["price"].to_numpy(float)) - off[:, 0]
    extra = off[:, 1] ** 2 + np.array([blank for _, blank in encoded])
    prior_mean, prior_sd = _prior()
    prior = np.diag(prior_sd**-2.0)
    weight = np.ones(len(rows))
    for _ in range(_ROUNDS):
        precision = 1 / (SCATTER**2 / weight + extra)
        covariance = np.linalg.inv(prior + (rows.T * precision) @ rows)
        mean = covariance @ (prior @ prior_mean + rows.T @ (precision * response))
        around = np.einsum("ij,ij->i", rows @ covariance, rows)
        square = ((response - rows @ mean) ** 2 + around) * SCATTER**2 / (SCATTER**2 + extra)
        weight = (FREEDOM + 1) / (FREEDOM + square / SCATTER**2)
    return KnowsTheMarket(mean, covariance, default_schema())


def _row(cells: object, day: date) -> tuple[np.ndarray, float]:
    """Columns of one vehicle, and the variance that its empty cells add."""
    assert hasattr(cells, "get")
    columns, blank = [1.0], 0.0
    for name, levels in _LEVELS.items():
        often = OFTEN.get(name, dict.fromkeys(levels, 1 / len(levels)))
        value = str(cells.get(name) or "")
        columns += [float(value == level) - often[level] if value in levels else 0.0 for level in levels]
        blank += 0.0 if value in levels else _size(name) ** 2
    year = float(cells.get("model_year"))
    columns += [np.sin((year - 1946) / 5), (year - 1957) / 6.6]
    miles = cells.get(_MILES)
    known = miles not in ("", None)
    columns.append((float(miles) - PER_UNIT[_MILES][1]) / _NORMAL_MILES if known else 0.0)
    blank += 0.0 if known else _mile_effect() ** 2
    columns.append((day - AS_OF).days / DAYS_PER_YEAR)
    return np.array(columns), blank


def _size(name: str) -> float:
    """Root mean square of a column's true effects around their average."""
    return float(np.std(np.log(list(_LEVELS[name].values()))))


def _mile_effect() -> float:
    return float(abs(np.log1p(PER_UNIT[_MILES][0] / 100)) * _NORMAL_MILES)


def _prior() -> tuple[np.ndarray, np.ndarray]:
    """Means and standard deviations of the effects before the table."""
    means, deviations = [np.log(30_000.0)], [1.0]
    for name, scale in _LEVELS.items():
        logs = np.log(list(scale.values()))
        line = np.full(len(logs), logs.mean())
        if name in ORDERED:
            line = np.polyval(np.polyfit(np.arange(len(logs)), logs, 1), np.arange(len(logs)))
        means += (line - line.mean()).tolist()
        deviations += [max(float(np.std(logs - line)), LEAST_SD)] * len(logs)
    shapes = [0.1, 0.006 * 6.6, _mile_effect(), YEARLY_PERCENT / 100]
    return np.array([*means, 0.0, 0.0, 0.0, 0.0]), np.array([*deviations, *shapes])
