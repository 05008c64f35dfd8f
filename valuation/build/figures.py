"""Figures as people read them: money, percent, odds and days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from valuation.text.language import ENGLISH, say, spoken
from valuation.text.rounding import rounded
from valuation.view import amount_text


@dataclass(frozen=True, slots=True)
class Spread:
    """Mean of a figure, and the range that holds it eight times in ten."""

    mean: float
    low: float
    high: float

    @property
    def words(self) -> str:
        """The mean as a figure of that range is told."""
        return amount_text(rounded(self.mean, width=self.high - self.low))


def money(amount: float, *, cents: bool = False, error: float = 0.0) -> str:
    """An amount with thousands parted by commas: to whole units, to the cent, or rounded where it is simulated.

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
    ('15,564', '15,563.83', '15,600')
    """
    if error > 0:
        return amount_text(rounded(amount, error=error))
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
    """A probability as people say odds, in English: in ten, or in a hundred near the ends.

    Examples
    --------
    >>> odds_words(0.72), odds_words(0.03), odds_words(0.0004)
    ('about 7 in 10', 'about 3 in 100', 'less than 1 in 100')
    """
    with spoken(ENGLISH):
        return odds_said(probability)


def odds_said(probability: float) -> str:
    """The same in the language of the answer, as a part of a sentence that is said in it.

    Examples
    --------
    >>> odds_said(0.72)
    'about 7 in 10'
    """
    if probability < 0.005:
        return say("less than 1 in 100")
    if probability > 0.995:
        return say("more than 99 in 100")
    return say("about {odds}", odds=_odds(probability))


def chance(probability: float) -> str:
    """A probability as a cell of a table says it, in the language of the answer.

    Examples
    --------
    >>> chance(0.03), chance(0.0004)
    ('3 in 100', 'under 1 in 100')
    """
    if probability < 0.005:
        return say("under 1 in 100")
    if probability > 0.995:
        return say("over 99 in 100")
    return _odds(probability)


def _odds(probability: float) -> str:
    if 0.1 <= probability <= 0.9:
        return say("{n} in 10", n=round(10 * probability))
    return say("{n} in 100", n=round(100 * probability))


def named(names: Sequence[str]) -> str:
    """Names as a sentence lists them.

    Examples
    --------
    >>> named(["engine"]), named(["engine", "brakes", "cab"])
    ('engine', 'engine, brakes and cab')
    """
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def listed(names: Sequence[str]) -> str:
    """Names as a sentence in the language of the answer lists them.

    Examples
    --------
    >>> listed(["engine", "brakes", "cab"])
    'engine, brakes and cab'
    """
    if len(names) < 2:
        return "".join(names)
    return say("{names} and {last}", names=", ".join(names[:-1]), last=names[-1])


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


def about(amount: float, *, sign: bool = False, error: float = 0.0) -> str:
    """An estimated amount as people are told it.

    Parameters
    ----------
    amount : float
    sign : bool
        Whether a plus stands before an amount above 0.
    error : float
        Standard error, where it is simulated.

    Examples
    --------
    >>> about(43_979.0), about(8.25), about(14_362.0, sign=True)
    ('44,000', '8.25', '+14,400')
    """
    told = rounded(amount, error=error)
    return amount_text(told, sign=sign and told > 0)


def at_most(amount: float) -> str:
    """A limit on what to pay, rounded down so that it is never passed.

    Examples
    --------
    >>> at_most(13_445.67), at_most(982.4), at_most(76.9), at_most(105_990.0)
    ('13,400', '982', '76.90', '105,000')
    """
    return amount_text(rounded(amount, limit="down"))


def at_least(amount: float) -> str:
    """The least to take, rounded up so that it is kept.

    Examples
    --------
    >>> at_least(43_910.0), at_least(43_900.0)
    ('44,000', '43,900')
    """
    return amount_text(rounded(amount, limit="up"))
