"""The time trend: how the price level moved over the table's period, and the estimate on another date."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd

from valuation.evidence.contrasts import Contrasts, StateRows, States, contrasts, half_width
from valuation.evidence.deflation import index_notes, sale_dates
from valuation.evidence.reasons import PriceLevel, PriceTrend
from valuation.evidence.remembered import remembered
from valuation.evidence.subject import SALE_DATE, Subject
from valuation.notes import Note
from valuation.text.language import english
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.regression.model import PriceModel

QUARTERS_UP_TO = 6.0
"""Years up to which levels are given by quarter; by year for a longer table."""


@dataclass(frozen=True, slots=True)
class _Period:
    name: str
    middle: pd.Timestamp
    sales: int | None


def ask_trend(subject: Subject, states: States, coverage: float) -> Callable[[StateRows], PriceTrend]:
    """Price level by quarter or year, relative to the as-of date.

    Parameters
    ----------
    subject : Subject
        For whom: the drift may differ a little with other attributes through the interaction.
    states : States
        Gets the states of the trend's periods.
    coverage : float
        Of the intervals; strictly between 0 and 1.

    Returns
    -------
    callable
        Gives the trend once the states are encoded.

    Raises
    ------
    EvidenceError
        If the coverage does not lie strictly between 0 and 1.
    """
    model = subject.model
    half = half_width(model.core, coverage)
    moved = index_notes(model.comparables)
    if SALE_DATE not in subject.cells or model.first_sale is None or model.last_sale is None or moved:
        none = Note("no_drift", english("The table has no dates, so nothing is said about the drift of prices."))
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
    sd = half * np.sqrt(found.variance)
    middle, low, high = (np.exp(found.effect + sign * sd) for sign in (0, -1, 1))
    levels = tuple(
        PriceLevel(period.name, period.middle.date(), float(middle[k]), float(low[k]), float(high[k]), period.sales)
        for k, period in enumerate(periods)
    )
    by = _length(years)
    if years < 0.25:
        text = "The sales lie within a quarter of a year, so nothing is said about the drift of prices."
        return PriceTrend(subject.as_of, by, levels, None, None, None, coverage, (Note("drift_unknown", text),))
    drift, half_drift = float(found.effect[-1]), float(sd[-1])
    rate, least, most = (
        float(100 * np.expm1(value / years)) for value in (drift, drift - half_drift, drift + half_drift)
    )
    note = _drift_note(rate, least, most, coverage, years)
    return PriceTrend(subject.as_of, by, levels, rate, least, most, coverage, (note,))


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
    reading = english("they rose") if rate > 0 else english("they fell")
    if low <= 0 <= high:
        reading = english("the table does not show whether they rose or fell")
    return Note(
        "drift",
        english(
            "Over {years} years prices of like vehicles moved by {rate} % a year ({low} to {high} %, {sure} % sure): "
            "{reading}. Past the newest sale prices are assumed to go on like that, for half the table's span and two "
            "years at most, with a wider interval.",
            years=f"{years:.1f}",
            rate=f"{rate:+.1f}",
            low=f"{low:+.1f}",
            high=f"{high:+.1f}",
            sure=f"{100 * coverage:g}",
            reading=reading,
        ),
    )
