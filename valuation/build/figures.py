"""Figures as people read them: money, percent, and rounding that a simulation's error allows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from valuation.text.locale import HARD, Locale
from valuation.view import amount_text


@dataclass(frozen=True, slots=True)
class Spread:
    """Mean of a figure, and the range that holds it eight times in ten."""

    mean: float
    low: float
    high: float


def money(amount: float, *, cents: bool = False, error: float = 0.0) -> str:
    """An amount with thousands parted by commas: to whole units, to the cent, or as far as its error allows.

    Parameters
    ----------
    amount : float
    cents : bool
        Whether to write cents.
    error : float
        Standard error of a simulated amount.

    Examples
    --------
    >>> money(15563.834), money(15563.834, cents=True), money(15563.834, error=12.0)
    ('15,564', '15,563.83', '15,550')
    """
    step = rounding_step(error)
    if step >= 1:
        return f"{round(amount / step) * step:,.0f}"
    return f"{amount:,.2f}" if cents else amount_text(amount)


def percent(probability: float, digits: int = 0) -> str:
    """A probability as percent; one that only rounding makes 0 or 100 is said to be under or over the last step.

    Parameters
    ----------
    probability : float
        From 0 to 1.
    digits : int
        After the decimal point.

    Examples
    --------
    >>> percent(0.7349), percent(0.7349, 1), percent(0.002), percent(0.0)
    ('73 %', '73.5 %', 'under 1 %', '0 %')
    """
    step = 10.0**-digits
    if 0 < 100 * probability < step / 2:
        return f"under {step:g} %"
    if 100 - step / 2 < 100 * probability < 100:
        return f"over {100 - step:g} %"
    return f"{100 * probability:.{digits}f} %"


def odds_words(probability: float) -> str:
    """A probability as people say odds: in ten, or in a hundred near the ends.

    Examples
    --------
    >>> odds_words(0.72), odds_words(0.03), odds_words(0.0004)
    ('about 7 in 10', 'about 3 in 100', 'less than 1 in 100')
    """
    if probability < 0.005:
        return "less than 1 in 100"
    if probability > 0.995:
        return "more than 99 in 100"
    if 0.1 <= probability <= 0.9:
        return f"about {round(10 * probability)} in 10"
    return f"about {round(100 * probability)} in 100"


def named(names: Sequence[str]) -> str:
    """Names as a sentence lists them.

    Examples
    --------
    >>> named(["engine"]), named(["engine", "brakes", "cab"])
    ('engine', 'engine, brakes and cab')
    """
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def apart(amount: float, reference: float, name: str) -> str:
    """How far an amount lies over or under another that has a name.

    Parameters
    ----------
    amount : float
        Money.
    reference : float
        Money.
    name : str
        What the reference is called.

    Examples
    --------
    >>> apart(45_000, 50_000, "the ask"), apart(200_000, 50_000, "the ask")
    ('10 % under the ask', '300 % over the ask')
    >>> apart(50_000, 50_000, "the ask"), apart(50_100, 50_000, "the ask")
    ('exactly the ask', 'less than 1 % over the ask')
    """
    if amount == reference:
        return f"exactly {name}"
    share = abs(100 * (amount / reference - 1))
    size = f"{share:.0f} %" if share >= 0.5 else "less than 1 %"
    return f"{size} {'over' if amount > reference else 'under'} {name}"


def at_most(amount: float) -> str:
    """A limit on what to pay: three significant figures, rounded down so that it is never passed.

    Examples
    --------
    >>> at_most(13_445.67), at_most(982.4), at_most(76.9), at_most(105_990.0)
    ('13,400', '982', '76', '105,000')
    """
    return f"{round_down(amount):,.0f}"


def round_down(amount: float) -> float:
    """To three significant figures or whole units, never up."""
    step = 10.0 ** max(math.floor(math.log10(amount)) - 2, 0) if amount > 0 else 1.0
    return math.floor(amount / step * (1 + 1e-12)) * step


def day_words(day: date) -> str:
    """A date as people say it: 14 June 2027."""
    return Locale().date(day).replace(HARD, " ")


def rounding_step(error: float) -> float:
    """The step (1, 2 or 5 times a power of ten) to which a figure with that standard error may be rounded.

    At least twice the error, so that a repeated simulation shows the same rounded figure or the one beside it.

    Examples
    --------
    >>> rounding_step(0.7), rounding_step(12.0), rounding_step(0.0)
    (2.0, 50.0, 0.0)
    """
    if error <= 0:
        return 0.0
    power = 10.0 ** math.floor(math.log10(2 * error))
    for digit in (1, 2, 5, 10):
        if digit * power >= 2 * error * (1 - 1e-12):
            return digit * power
    return 10 * power
