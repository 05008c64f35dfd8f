"""What a back-test consists of, as plain data: each sale priced as if unseen, and what all of them say."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import Literal

from valuation.evidence.calibration import Calibration
from valuation.evidence.ratio_study import RatioStudy
from valuation.notes import Note
from valuation.text.rounding import told
from valuation.view import View, Viewed, as_money


@dataclass(frozen=True, slots=True)
class UnseenSale:
    """One sold row, priced as if unseen.

    Attributes
    ----------
    sale : str
        Its name in the table.
    date : date or None
        Day of the sale.
    price, estimate, low, high : float
        Buyer-pays price, and the estimate and interval made without it; money.
    place : float
        The price's place in its predictive distribution, 0 to 1.
    inside : bool
        The price fell into the interval.
    cut_off : date or None
        The fit saw sales before this day only; None for a leave-one-out check.
    sales_seen : int
        Rows that the fit saw.
    as_written : str
        The price as the owner wrote it, with what was added; empty of one that fell inside.
    """

    sale: str
    date: dt.date | None
    price: float
    estimate: float
    low: float
    high: float
    place: float
    inside: bool
    cut_off: dt.date | None
    sales_seen: int
    as_written: str = ""


@dataclass(frozen=True, kw_only=True, repr=False)
class BackTest(Viewed):
    """How estimates made without each sale stand to the prices.

    Attributes
    ----------
    method : {"rolling", "leave_one_out"}
        Each sale priced from earlier ones only, or from all others.
    coverage : float
        Of the intervals.
    words : tuple of str
        How far to trust the estimates, one sentence or two for each finding.
    sales : tuple of UnseenSale
        In the order of their dates.
    calibration : Calibration
        Coverage, misses and bias.
    ratio_study : RatioStudy
        Estimates over prices.
    notes : tuple of Note
        How it was done, and what it leaves open.
    """

    method: Literal["rolling", "leave_one_out"]
    coverage: float
    words: tuple[str, ...] = field(init=False, default=())
    sales: tuple[UnseenSale, ...]
    calibration: Calibration
    ratio_study: RatioStudy
    notes: tuple[Note, ...]

    @property
    def missed(self) -> tuple[UnseenSale, ...]:
        """Sales outside their interval, the farthest from its estimate first."""
        outside = [sale for sale in self.sales if not sale.inside]
        return tuple(sorted(outside, key=lambda sale: -abs(math.log(sale.price / sale.estimate))))

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", tuple(note.text for note in self.calibration.notes))

    def _view(self) -> View:
        inside = sum(sale.inside for sale in self.sales)
        return View(
            title="Back-test" if self.method == "rolling" else "Each sale priced from all others",
            facts=(f"{inside} of {len(self.sales)} sales inside their {self.coverage:.0%} interval",),
            header=("sale", "date", "price", "estimate", "from", "to", "inside"),
            rows=[
                (
                    one.sale,
                    str(one.date or ""),
                    as_money(one.price),
                    told(one.estimate, width=one.high - one.low),
                    told(one.low),
                    told(one.high),
                    "yes" if one.inside else "no",
                )
                for one in self.sales
            ],
            notes=(*self.calibration.notes, *self.ratio_study.notes, *self.notes),
        )
