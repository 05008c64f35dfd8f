"""Buyers: how they come, and what their offers and their silence say of a vehicle's worth.

Worth is what the market would pay for this very vehicle; it is believed, never known. The log of an offer is the log of
the worth, plus a centre that is the same for all vehicles, plus the buyer's own scatter. Logs of money throughout.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

HALVES_IN = 4.0
"""Usual times to sell in which the stream of buyers halves: a new listing draws most. Common practice, no source."""

SILENCE = 0.4
"""How strongly the number of buyers speaks of the worth: a worth that is higher by one standard deviation of a single
offer brings about 1.5 times the buyers at the same ask. Set low, since that number has many other reasons."""

TRY_ON = 0.2
"""Share of offers that are no more than a try and say nothing of the worth. Common practice, no source."""

TRY_ON_HEIGHT = 0.1
"""Density of such offers by standard deviations of a serious one: they lie anywhere within five on either side."""

GUESSED_OFFERS = 1.0
"""Offers that the entered number a month counts for: as a guess that one offer more or less changes by half."""


@dataclass(frozen=True, slots=True)
class Buyers:
    """How buyers come and how their last offers scatter.

    Parameters
    ----------
    per_week : float
        Offers a week, on average over the usual weeks; > 0.
    spread : float
        Standard deviation of the log of offers for one vehicle; > 0.
    usual_weeks : float
        Weeks that such a sale takes; > 0.
    centre : float
        What the log of offers centres on, over the log of the worth.
    """

    per_week: float
    spread: float
    usual_weeks: float
    centre: float = 0.0

    def expected(self, weeks: float) -> float:
        """Offers to expect in the first ``weeks`` of a listing."""
        halving = HALVES_IN * self.usual_weeks
        in_usual_weeks = 1 - math.exp(-math.log(2.0) / HALVES_IN)
        shown = 1 - math.exp(-math.log(2.0) * max(weeks, 0.0) / halving)
        return self.per_week * self.usual_weeks * shown / in_usual_weeks

    def news(self, expected: float, doubt: float) -> float:
        """What one buyer's coming says of the log worth, per unit of its variance, after ``expected`` offers.

        The rate at which buyers come is ``exp(pull * log worth)`` times a rate that is itself a guess of
        ``GUESSED_OFFERS``; the slope of the log likelihood of one more buyer, which every expected one takes back.

        Parameters
        ----------
        expected : float
            Offers that were to be expected so far.
        doubt : float
            Standard deviation of the log worth before any offer.
        """
        pull = SILENCE / math.hypot(self.spread, doubt)
        return pull * GUESSED_OFFERS / (GUESSED_OFFERS + expected)

    def silence(self, expected: float, doubt: float) -> float:
        """What ``expected`` offers take back together: the integral of ``news`` over the listing so far.

        Parameters
        ----------
        expected : float
            Offers that were to be expected so far.
        doubt : float
            Standard deviation of the log worth before any offer.
        """
        pull = SILENCE / math.hypot(self.spread, doubt)
        return pull * GUESSED_OFFERS * math.log1p(expected / GUESSED_OFFERS)


@dataclass(frozen=True, slots=True)
class Heard:
    """One buyer's offer, as evidence.

    Parameters
    ----------
    amount : float
        The last that this buyer offered, money; > 0.
    weeks : float
        Into the listing, when this buyer came.
    """

    amount: float
    weeks: float


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of the log of the worth: normal.

    Parameters
    ----------
    mean : float
    doubt : float
        Standard deviation; > 0.
    buyers : int
        Who made an offer so far that was meant.
    """

    mean: float
    doubt: float
    buyers: int = 0

    @property
    def worth(self) -> float:
        """The middle of what is believed, money."""
        return math.exp(self.mean)


def learned(prior: Belief, buyers: Buyers, heard: Sequence[Heard], weeks: float) -> Belief:
    """The belief after some offers and the weeks that passed: the conjugate update of a normal mean.

    Parameters
    ----------
    prior : Belief
        Before the listing.
    buyers : Buyers
    heard : sequence of Heard
        One for each buyer.
    weeks : float
        Since the listing began.

    Notes
    -----
    Raiffa and Schlaifer (1961), Applied Statistical Decision Theory, for the update of a normal mean; each offer counts
    as far as it is likely to be meant, so that one that lies far off moves little. How many came is evidence too: each
    buyer speaks for a higher worth, each week for a lower one, and on average they cancel.
    """
    expected = buyers.expected(weeks)
    slope, met = -buyers.silence(expected, prior.doubt), 0.0
    for one in heard:
        surprise = math.log(one.amount) - buyers.centre - prior.mean
        counts = serious(surprise / math.hypot(prior.doubt, buyers.spread))
        news = buyers.news(buyers.expected(min(one.weeks, weeks)), prior.doubt)
        slope, met = slope + counts * (surprise / buyers.spread**2 + news), met + counts
    precision = 1 / prior.doubt**2 + met / buyers.spread**2
    return Belief(prior.mean + slope / precision, precision**-0.5, prior.buyers + round(met))


def serious(score: float) -> float:
    """Probability that an offer is meant seriously, by how many standard deviations it lies from what is expected."""
    meant = (1 - TRY_ON) * math.exp(-(score**2) / 2) / math.sqrt(2 * math.pi)
    return meant / (meant + TRY_ON * TRY_ON_HEIGHT)
