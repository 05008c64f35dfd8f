"""What an estimate says aloud: its answer in a sentence, what it rests on, what would change it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from valuation.answers.estimate import Estimate
from valuation.build.figures import about, listed
from valuation.comparables.table import SALE_DATE
from valuation.regression.figures import Factor, Interval
from valuation.text.language import say, written
from valuation.text.rounding import rounded
from valuation.view import amount_text

UNKNOWN = "unknown"
"""Level of a factor whose attribute was not told."""
MOST_FACTORS = 4
"""Factors that an answer names before it folds the rest."""


@dataclass(frozen=True, slots=True)
class Part:
    """One line of what an estimate multiplies up from: an attribute, or several folded into one (no range then)."""

    title: str
    level: str
    factor: float
    low: float | None = None
    high: float | None = None


def answer_sentence(found: Estimate) -> str:
    """The estimate, the day, and where such sales end."""
    return " ".join([price_sentence(found), range_sentence(found.interval)])


def price_sentence(found: Estimate) -> str:
    """The estimate and the day that it holds for."""
    price = _told(found)
    if found.currency:
        return say(
            "{name}: about {price} {currency} on {day}.",
            name=found.vehicle.name,
            price=price,
            currency=found.currency,
            day=found.as_of,
        )
    return say("{name}: about {price} on {day}.", name=found.vehicle.name, price=price, day=found.as_of)


def range_sentence(interval: Interval) -> str:
    """Where so many such sales end, as odds."""
    of = share_in(interval.coverage)
    low, high = about(interval.low), about(interval.high)
    if not math.isfinite(interval.high) and interval.low <= 0:
        return say("There are too few sales to say where {odds} such sales end.", odds=of)
    if not math.isfinite(interval.high):
        return say("{odds} such sales end at {low} or more; there are too few to say how high.", odds=of, low=low)
    if interval.low <= 0:
        return say("{odds} such sales end at {high} or less; there are too few to say how low.", odds=of, high=high)
    return say("{odds} such sales end between {low} and {high}.", odds=of, low=low, high=high)


def share_in(coverage: float) -> str:
    """A coverage as odds.

    Examples
    --------
    >>> share_in(0.8), share_in(0.95)
    ('8 in 10', '95 in 100')
    """
    tenths = 10 * coverage
    if abs(tenths - round(tenths)) < 1e-9:
        return say("{n} in 10", n=round(tenths))
    return say("{n} in 100", n=f"{100 * coverage:g}")


def rests_on(found: Estimate, most: int = MOST_FACTORS) -> tuple[Part, ...]:
    """The factors that move the price most from the table's average, the others as one.

    Parameters
    ----------
    found : Estimate
    most : int
        Factors that are named.
    """
    ordered = sorted(found.factors, key=lambda one: (one.level == UNKNOWN, -abs(math.log(one.factor))))
    shown, rest = ordered[:most], ordered[most:]
    parts = [Part(_title(found, one), _level(found, one), one.factor, one.low, one.high) for one in shown]
    if rest:
        parts.append(Part(say("everything else"), "", math.prod(one.factor for one in rest)))
    return tuple(parts)


def strongest(found: Estimate) -> str:
    """What moves the price most from the table's average, as the end of a sentence; empty where nothing does."""
    told = [one for one in found.factors if one.level and one.level != UNKNOWN]
    if not told:
        return ""
    one = max(told, key=lambda factor: abs(math.log(factor.factor)))
    return say(
        "What moves it most is {attribute}: {level} is worth {times} times the table's average.",
        attribute=_title(found, one).lower(),
        level=one.level,
        times=f"{one.factor:.2f}",
    )


def nearest_sales(found: Estimate) -> str:
    """What the nearest sales come to; empty without any."""
    sold = sum(row.weight > 0 for row in found.grid)
    if found.reconciled is None or not sold:
        return ""
    return say(
        "The {n} nearest sales, brought to this vehicle and this day, come to {price}.",
        n=sold,
        price=about(found.reconciled),
    )


def nearest_sale(found: Estimate) -> str:
    """The sale nearest to the vehicle, at its price as the owner wrote it; empty without any."""
    sold = [row for row in found.grid if row.weight > 0]
    if not sold:
        return ""
    row = sold[0]
    price = row.as_written or amount_text(row.price)
    adjusted = about(row.adjusted_price)
    if row.date is None:
        return say(
            "The nearest, {sale}: {price}; brought here {adjusted}.", sale=row.sale, price=price, adjusted=adjusted
        )
    return say(
        "The nearest, {sale} of {day}: {price}; brought here {adjusted}.",
        sale=row.sale,
        day=row.date,
        price=price,
        adjusted=adjusted,
    )


def not_told(found: Estimate) -> str:
    """What was left out of the vehicle, and what it counts as; empty when all is told."""
    left_out = [
        one
        for one in found.factors
        if one.level and one.attribute != SALE_DATE and one.attribute not in found.vehicle.attributes
    ]
    average = [_title(found, one).lower() for one in left_out if one.level == UNKNOWN]
    taken = [say("{attributes} as is usual in the table", attributes=listed(average))] if average else []
    taken += [
        say("{attribute} as {level}", attribute=_title(found, one).lower(), level=one.level)
        for one in left_out
        if one.level != UNKNOWN
    ]
    return say("Not told, so counted: {what}.", what="; ".join(taken)) if taken else ""


def evidence_used(found: Estimate) -> str:
    """Rows that the estimate rests on."""
    used = found.sales_used
    return say(
        "It rests on {sold} sold, {bids} unsold bids and {asking} asking prices; {aside} rows are set aside.",
        sold=f"{used['sold']:,}",
        bids=f"{used['bid_not_met']:,}",
        asking=f"{used['asking']:,}",
        aside=f"{used['set_aside']:,}",
    )


def _told(found: Estimate) -> str:
    return amount_text(rounded(found.median, width=found.interval.high - found.interval.low))


def _level(found: Estimate, one: Factor) -> str:
    return written(found.as_of) if one.attribute == SALE_DATE and one.level == str(found.as_of) else one.level


def _title(found: Estimate, one: Factor) -> str:
    return found.titles.get(one.attribute, one.attribute.replace("_", " "))
