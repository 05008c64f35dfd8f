"""How buyers take an ask, learned from the shop's own finished talks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from valuation.build.terms import SaleTerms
from valuation.sell.asking import TEN_PERCENT

ENOUGH = 5
"""Finished talks from which on they say more than common practice."""

COUNTS_FOR = 3.0
"""Talks that common practice counts for beside the shop's own."""

DOUBT = 0.5
"""Standard deviation of the log of how strongly an ask keeps buyers away, by common practice."""

LEAST_LOST, MOST_LOST = 1.0, 90.0
"""Percent; outside them a few talks would say that an ask keeps nobody, or everybody, away."""
ROUNDS = 30
"""Most rounds of Newton's method, which needs a handful."""


@dataclass(frozen=True, slots=True)
class FinishedTalks:
    """A vehicle that was sold after talks.

    Parameters
    ----------
    estimate, asked, sold : float
        Money, > 0.
    buyers : int
        Who made an offer.
    weeks : float
        From the ask to the sale, > 0.
    """

    estimate: float
    asked: float
    sold: float
    buyers: int
    weeks: float


def learned_terms(terms: SaleTerms, talks: Sequence[FinishedTalks]) -> tuple[SaleTerms, tuple[str, ...]]:
    """The terms with the two figures of how buyers take an ask as the shop's own talks show them.

    Parameters
    ----------
    terms : SaleTerms
        Their figures are what is expected before; returned as they are where the talks are fewer than five.
    talks : sequence of FinishedTalks

    Returns
    -------
    SaleTerms, tuple of str
        And what is to be said of it.

    Notes
    -----
    How far under the ask talks end: the mean of the logs, the expected figure counting for three talks. How strongly
    an ask keeps buyers away: Poisson regression of the buyers who came on the log of the ask over the estimate, with
    the weeks as exposure, a level of its own, and a normal expectation of the log slope; its mode by Newton's method.
    """
    if len(talks) < ENOUGH:
        return terms, ()
    expected = -math.log1p(-terms.settle_under_ask_percent / 100)
    ended = [math.log(one.asked / one.sold) for one in talks]
    room = (sum(ended) + COUNTS_FOR * expected) / (len(ended) + COUNTS_FOR)
    lost = 100 * -math.expm1(-TEN_PERCENT * _steepness(terms, talks))
    found = replace(
        terms,
        settle_under_ask_percent=100 * -math.expm1(-max(room, 0.0)),
        buyers_lost_percent=min(max(lost, LEAST_LOST), MOST_LOST),
    )
    text = (
        f"In the shop's own {len(talks)} finished talks and common practice together, talks end "
        f"{found.settle_under_ask_percent:.0f} % under the ask, and an ask that is a tenth higher keeps "
        f"{found.buyers_lost_percent:.0f} in 100 buyers away."
    )
    return found, (text,)


def _steepness(terms: SaleTerms, talks: Sequence[FinishedTalks]) -> float:
    """By how many percent buyers fall for each percent that is asked more."""
    usual = math.log(-math.log1p(-terms.buyers_lost_percent / 100) / TEN_PERCENT)
    over = np.array([math.log(one.asked / one.estimate) for one in talks])
    over = over - over.mean()
    came = np.array([float(one.buyers) for one in talks])
    weeks = np.array([one.weeks for one in talks])
    log_slope = usual
    for _ in range(ROUNDS):
        slope = math.exp(log_slope)
        share = weeks * np.exp(-slope * over)
        share /= share.sum()  # the level drops out: buyers fall to the talks in these shares
        mean = float(share @ over)
        first = -slope * float(came @ over - came.sum() * mean) - (log_slope - usual) / DOUBT**2
        spread = float(share @ (over - mean) ** 2)
        second = slope**2 * came.sum() * spread + 1 / DOUBT**2
        step = first / second
        log_slope += float(np.clip(step, -0.5, 0.5))
        if abs(step) < 1e-10:
            break
    return math.exp(log_slope)
