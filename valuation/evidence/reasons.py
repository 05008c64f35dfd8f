"""What evidence consists of, as plain data: effects, influence of single sales, the price trend, gaps of the table.

Apart from what works them out, so that the service can describe its answers before it loads what is slow.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from valuation.notes import Note
from valuation.text.rounding import rounded
from valuation.view import Said, amount_text, decimals_of

EffectKind = Literal["step", "against_subject", "change", "yes_no", "per_year"]


@dataclass(frozen=True, slots=True, repr=False)
class Effect(Said):
    """What going from one level of an attribute to another does to the price of the subject.

    Attributes
    ----------
    attribute, title : str
        Name of the attribute, and as people read it.
    kind : {"step", "against_subject", "change", "yes_no", "per_year"}
        One step up an ordered scale; another level in place of the subject's; a sensible change of a number; a flag
        set against not set; the drift of prices over a year.
    from_level, to_level : str
        As people read them; ``unknown`` stands for the table's average.
    percent, low_percent, high_percent : float
        Change of the price and its interval.
    money, low_money, high_money : float
        The same in money: of the estimate of this vehicle at ``from_level``, all else as the subject's.
    expected_percent : float
        What the schema expects before the table speaks; 0 when it expects nothing.
    from_table : float
        Share, 0 to 1, by which the table narrowed the variance of what was expected: 1 says that the table decides, 0
        that the effect is the schema's expectation.
    held : bool
        The table alone would have run the other way; the expected direction holds the step.
    coverage : float
        Of the intervals.
    """

    attribute: str
    title: str
    kind: EffectKind
    from_level: str
    to_level: str
    percent: float
    low_percent: float
    high_percent: float
    money: float
    low_money: float
    high_money: float
    expected_percent: float
    from_table: float
    held: bool
    coverage: float

    def _said(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        """The effect in one sentence."""
        what = f"{self.title}, {self.from_level} to {self.to_level}"
        if self.kind == "per_year":
            what = f"{self.title}, a year between {self.from_level} and {self.to_level}"
        if self.held:
            return f"{what}: the sales do not show the expected order here, so the two are valued alike."
        return (
            f"{what}: {self.percent:+.0f} % ({self.low_percent:+.0f} to {self.high_percent:+.0f} %), "
            f"{amount_text(rounded(self.money), sign=True)} in money; "
            f"{100 * self.from_table:.0f} % of what is known of it comes from the table."
        )


@dataclass(frozen=True, slots=True, repr=False)
class SaleInfluence(Said):
    """What one sale does to the estimate of the subject.

    Attributes
    ----------
    sale, outcome : str
        Its name in the table, and how its price came about.
    estimate_without : float
        The estimate if this sale were not in the table, money.
    change : float
        Estimate less ``estimate_without``, money: above 0 when the sale holds the estimate up.
    change_percent : float
        The same in percent of ``estimate_without``.
    pull : float
        Cook's distance: how far the sale moves the estimates of all sales, in units of their own doubt.
    as_written : str
        Its price as the owner wrote it, with what was added; of the strongest alone, empty of the others.
    """

    sale: str
    outcome: str
    estimate_without: float
    change: float
    change_percent: float
    pull: float
    as_written: str = ""

    def _said(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        """The influence in one sentence."""
        price = f" ({self.as_written})" if self.as_written else ""
        left = f"{rounded(self.estimate_without):,.{decimals_of(self.estimate_without)}f}"
        without = f"Without {self.sale}{price} the estimate is {left}"
        if abs(self.change_percent) < 0.05:
            return f"{without}, the same as with it."
        side = "up" if self.change > 0 else "down"
        return (
            f"{without}: the sale holds it {side} by {amount_text(rounded(abs(self.change)))} "
            f"({abs(self.change_percent):.1f} %)."
        )


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


@dataclass(frozen=True, slots=True)
class PriceTrend:
    """The drift of prices over the table's period.

    Attributes
    ----------
    as_of : date
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

    as_of: dt.date
    by: Literal["quarter", "year"]
    levels: tuple[PriceLevel, ...]
    percent_per_year: float | None
    low_percent: float | None
    high_percent: float | None
    coverage: float
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, repr=False)
class Gap(Said):
    """A sale that is not in the table, and what it would do for the estimate.

    Attributes
    ----------
    kind : {"twin", "same"}
        A vehicle like the subject in all; one that shares one attribute with it and is average otherwise.
    attribute, level : str
        The attribute meant and the level of the added sale there; empty for a twin.
    narrows_percent : float
        By how much the interval would be expected to narrow, in percent of its width on the log scale; 0 to 100.
    low, high : float
        The interval as it would then be around the same estimate, money.
    sales_now : int or None
        Rows of the table with that level; None where it is not a level, or the model holds no sales.
    words : str
        The whole in one sentence.
    """

    kind: str
    attribute: str
    level: str
    narrows_percent: float
    low: float
    high: float
    sales_now: int | None
    words: str

    def _said(self) -> str:
        return self.words
