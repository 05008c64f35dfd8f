"""The time trend: how the price level moved over the table's period, and the estimate on another date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from valuation.errors import EvidenceError
from valuation.evidence.contrasts import Contrasts, StateRows, States, contrasts, reach
from valuation.evidence.deflation import index_notes, sale_dates
from valuation.evidence.remembered import remembered
from valuation.evidence.subject import SALE_DATE, Subject
from valuation.notes import Note
from valuation.schema.vehicle import Vehicle
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.regression.model import Interval, PriceModel

QUARTERS_UP_TO = 6.0
"""Years up to which levels are given by quarter; by year for a longer table."""


@dataclass(frozen=True, slots=True)
class PriceLevel:
    """The price level of one period relative to the as-of date.

    Attributes
    ----------
    period : str
        ``2024`` or ``2024 Q3``.
    date : date
        The middle of the period, as far as the table's sales reach.
    level, low, high : float
        1.1 when prices stood 10 % above those of the as-of date; with its interval.
    sales : int or None
        Rows of the table in the period; None for a model that holds no sales.
    """

    period: str
    date: dt.date
    level: float
    low: float
    high: float
    sales: int | None

    def as_dict(self) -> dict[str, Any]:
        """The level as the JSON answers show it."""
        return {
            "period": self.period,
            "date": self.date.isoformat(),
            "level": self.level,
            "low": self.low,
            "high": self.high,
            "sales": self.sales,
        }


@dataclass(frozen=True, slots=True)
class PriceTrend:
    """The drift of prices over the table's period.

    Attributes
    ----------
    as_of : date or None
        The date to which levels are relative (level 1).
    by : {"quarter", "year"}
        Length of a period.
    levels : tuple of PriceLevel
        Oldest first; empty when the fit has no drift.
    percent_per_year, low_percent, high_percent : float or None
        Average drift over the whole period and its interval; None when the sales span less than a quarter.
    coverage : float
        Of the intervals.
    notes : tuple of Note
        What was found, in words.
    """

    as_of: dt.date | None
    by: Literal["quarter", "year"]
    levels: tuple[PriceLevel, ...]
    percent_per_year: float | None
    low_percent: float | None
    high_percent: float | None
    coverage: float
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class _Period:
    name: str
    middle: pd.Timestamp
    sales: int | None


@dataclass(frozen=True, slots=True)
class DatedEstimate:
    """The estimate of one vehicle on one date.

    Attributes
    ----------
    date : date
        The date.
    median, mean : float
        Median (the estimate) and mean of the buyer-pays price, money.
    interval, mean_interval : Interval
        As in a valuation.
    days_beyond : int
        Days between the newest sale and the date; 0 inside the table's period.
    """

    date: dt.date
    median: float
    mean: float
    interval: Interval
    mean_interval: Interval
    days_beyond: int


def price_trend(
    model: PriceModel, as_of: dt.date | None = None, coverage: float = 0.8, *, vehicle: Vehicle | None = None
) -> PriceTrend:
    """Price level by quarter or year, relative to the as-of date.

    Parameters
    ----------
    model : PriceModel
        The fit; one loaded from a file will do.
    as_of : date, optional
        As for ``PriceModel.value``.
    coverage : float
        Of the intervals; strictly between 0 and 1.
    vehicle : Vehicle, optional
        For whom: the drift may differ a little with other attributes through the combination. The table's average
        vehicle when left out.

    Raises
    ------
    EvidenceError
        If the coverage does not lie strictly between 0 and 1.
    """
    subject = Subject.of(model, vehicle or Vehicle("average", {}), as_of)
    states = States(subject.cells)
    answer = ask_trend(subject, states, coverage)
    return answer(states.encode(model.core))


def ask_trend(subject: Subject, states: States, coverage: float) -> Callable[[StateRows], PriceTrend]:
    """Add the states of the trend's periods; the answer is given once they are encoded."""
    model = subject.model
    half = reach(model.core, coverage)
    moved = index_notes(model.comparables)
    if SALE_DATE not in subject.cells or model.first_sale is None or model.last_sale is None or moved:
        none = Note("no_drift", "The table has no dates, so nothing is said about the drift of prices.")
        return lambda encoded: PriceTrend(subject.as_of, "year", (), None, None, None, coverage, moved or (none,))
    first, last = pd.Timestamp(model.first_sale), pd.Timestamp(model.last_sale)
    periods = remembered(model, "periods", lambda: _periods(model, first, last))
    ends = [states.add(SALE_DATE, period.middle) for period in periods]
    whole = states.add(SALE_DATE, first), states.add(SALE_DATE, last)
    return lambda encoded: _trend(
        subject,
        periods,
        contrasts(encoded, [0] * len(ends) + [whole[0]], [*ends, whole[1]]),
        half,
        coverage,
        (last - first).days / DAYS_PER_YEAR,
    )


def _trend(
    subject: Subject, periods: tuple[_Period, ...], found: Contrasts, half: float, coverage: float, years: float
) -> PriceTrend:
    spread = half * np.sqrt(found.variance)
    middle, low, high = (np.exp(found.effect + sign * spread) for sign in (0, -1, 1))
    levels = tuple(
        PriceLevel(period.name, period.middle.date(), float(middle[k]), float(low[k]), float(high[k]), period.sales)
        for k, period in enumerate(periods)
    )
    by = _length(years)
    if years < 0.25:
        text = "The sales lie within a quarter of a year, so nothing is said about the drift of prices."
        return PriceTrend(subject.as_of, by, levels, None, None, None, coverage, (Note("drift_unknown", text),))
    drift, half_drift = float(found.effect[-1]), float(spread[-1])
    rate, least, most = (
        float(100 * np.expm1(value / years)) for value in (drift, drift - half_drift, drift + half_drift)
    )
    note = _drift_note(rate, least, most, coverage, years)
    return PriceTrend(subject.as_of, by, levels, rate, least, most, coverage, (note,))


def estimates_on(
    model: PriceModel, vehicle: Vehicle, dates: Sequence[dt.date], coverage: float = 0.8
) -> tuple[DatedEstimate, ...]:
    """The estimate of one vehicle on each of several dates, for example on the day when it will be sold.

    Parameters
    ----------
    model : PriceModel
        The fit.
    vehicle : Vehicle
        The subject.
    dates : sequence of date
        Past the newest sale the price level is held where the table leaves it, and the interval widens with the
        distance: a drift is not carried on into the future.
    coverage : float
        Of the intervals.

    Raises
    ------
    EvidenceError
        If the fit has no sale dates, so that every date has the same estimate.
    """
    if SALE_DATE not in model.attribute_by_name or model.last_sale is None:
        raise EvidenceError(
            "Cannot give the estimate on several dates: the table has no sale dates, so every date has the same one. "
            "Sales with a date are needed. Add the column 'date', or ask for one estimate."
        )
    answer = []
    for date in dates:
        found = model.value(vehicle, date, coverage)
        beyond = max((date - model.last_sale).days, 0)
        answer.append(DatedEstimate(date, found.median, found.mean, found.interval, found.mean_interval, beyond))
    return tuple(answer)


def _length(years: float) -> Literal["quarter", "year"]:
    return "quarter" if years <= QUARTERS_UP_TO else "year"


def _periods(model: PriceModel, first: pd.Timestamp, last: pd.Timestamp) -> tuple[_Period, ...]:
    """The table's quarters or years, the middle of the part of each that has sales, and how many."""
    by = _length((last - first).days / DAYS_PER_YEAR)
    frequency = "Q" if by == "quarter" else "Y"
    counts = None
    if model.comparables is not None:
        counts = sale_dates(model.comparables).dropna().dt.to_period(frequency).value_counts()
    answer = []
    for period in pd.period_range(first, last, freq=frequency):
        start, end = max(period.start_time, first), min(period.end_time, last)
        name = f"{period.year} Q{period.quarter}" if by == "quarter" else f"{period.year}"
        sales = None if counts is None else int(counts.get(period, 0))
        answer.append(_Period(name, (start + (end - start) / 2).normalize(), sales))
    return tuple(answer)


def _drift_note(rate: float, low: float, high: float, coverage: float, years: float) -> Note:
    reading = (
        "the table does not show whether they rose or fell"
        if low <= 0 <= high
        else f"they {'rose' if rate > 0 else 'fell'}"
    )
    return Note(
        "drift",
        f"Over {years:.1f} years prices of like vehicles moved by {rate:+.1f} % a year ({low:+.1f} to {high:+.1f} %, "
        f"{100 * coverage:g} % sure): {reading}. Past the newest sale the level is held, with a wider interval; a "
        "trend is not carried on.",
    )
