"""Owners who sell to the same buyers: one who knows the worth, this project, and two rules of thumb."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from typing import Protocol

import numpy as np

from benchmarks.talks.world import (
    AUCTION_KEPT,
    BIDDERS,
    DISCOUNT,
    FADE_WEEKS,
    HOLDING,
    LONGEST,
    PER_WEEK,
    WALK_AWAY,
    Buyer,
    FloatArray,
    centre,
    net,
    population,
)
from valuation.build.plan import BuildPlan
from valuation.sell.bands import PriceBands
from valuation.sell.offers import Offer, OfferAnswer, answer_offer

STEPS = 48
SAMPLE = 20_000
COUNTERS = np.linspace(0.8, 1.4, 61)


class Owner(Protocol):
    """Someone who sells; money as a share of the worth."""

    name: str

    def counter(self, buyer: Buyer) -> float | None:
        """What to say to an opening bid; None: nothing, the bid is let go or taken as it stands."""

    def takes(self, bid: float, buyer: Buyer) -> bool:
        """Whether a bid that will not rise is taken."""


def sell(owner: Owner, buyers: list[Buyer], auction: float) -> tuple[float, float]:
    """Net money kept and weeks taken."""
    for buyer in buyers:
        said = owner.counter(buyer)
        if said is None:
            if owner.takes(buyer.opens, buyer):
                return net(buyer.opens, buyer.week), buyer.week
            continue
        if said <= buyer.limit:
            return net(said, buyer.week), buyer.week
        if not buyer.walks_away and owner.takes(buyer.last_word, buyer):
            return net(buyer.last_word, buyer.week), buyer.week
    return net(auction, LONGEST), LONGEST


@dataclass
class Knows:
    """Knows the worth and the population, not the buyer before him, and plays best against it."""

    name: str = "knows the worth"

    def counter(self, buyer: Buyer) -> float | None:
        """The counter that brings the most against buyers who open so."""
        return best_counter(buyer.opens, waiting_value(buyer.week))

    def takes(self, bid: float, buyer: Buyer) -> bool:
        """Takes what is worth more than waiting."""
        return bid >= waiting_value(buyer.week)


@dataclass
class Rule:
    """Says one figure to everybody and takes what is not under another.

    Attributes
    ----------
    name : str
    least : float
        Taken at least.
    says : callable
        What to say to an opening bid.
    """

    name: str
    least: float
    says: Callable[[float], float]

    def counter(self, buyer: Buyer) -> float | None:
        """The figure, where it is over the bid."""
        said = max(self.says(buyer.opens), self.least)
        return said if said > buyer.opens else None

    def takes(self, bid: float, buyer: Buyer) -> bool:
        """Whether the bid is high enough."""
        return bid >= self.least


def first_over_the_estimate(estimate: float) -> Rule:
    """Says the estimate and takes the first offer that is not under it."""
    return Rule("first over the estimate", estimate, lambda bid: estimate)


def fifteen_under_the_ask(estimate: float) -> Rule:
    """Asks 15 % over the estimate, goes two thirds of the way to the ask, takes 15 % under it."""
    ask = 1.15 * estimate
    return Rule("15 % under the ask", 0.85 * ask, lambda bid: bid + 2 / 3 * (ask - bid))


@dataclass
class Ours:
    """What the program says: bands, and the answer to each bid.

    Attributes
    ----------
    bands : PriceBands
    plan : BuildPlan
    worth : float
        By which shares become money; not looked at otherwise.
    """

    bands: PriceBands
    plan: BuildPlan
    worth: float
    name: str = "this project"
    so_far: list[Offer] = field(default_factory=list)

    def counter(self, buyer: Buyer) -> float | None:
        """What the program says."""
        answer = self._answer(buyer.opens, buyer)
        return None if answer.counter is None else answer.counter / self.worth

    def takes(self, bid: float, buyer: Buyer) -> bool:
        """Whether the bid is at least the floor after learning from it."""
        answer = self._answer(bid, buyer)
        return answer.amount >= answer.floor

    def _answer(self, bid: float, buyer: Buyer) -> OfferAnswer:
        day = self.bands.prospect.for_sale + dt.timedelta(days=int(7 * buyer.week))
        offer = Offer(bid * self.worth, day, f"buyer {buyer.week:.4f}")
        answer = answer_offer(self.bands, self.plan.sale, offer, earlier=tuple(self.so_far))
        self.so_far.append(offer)
        return answer


@cache
def _sample() -> tuple[FloatArray, FloatArray, FloatArray]:
    opens, last, limit = (centre() * part for part in population(np.random.default_rng(2), SAMPLE))
    order = np.argsort(opens)
    return opens[order], last[order], limit[order]


def _near(opens: float) -> slice:
    """Buyers of the sample who open about so."""
    at = int(np.searchsorted(_sample()[0], opens))
    return slice(max(at - 150, 0), max(at + 150, 300))


def best_counter(opens: float, waiting: float) -> float:
    """The counter with the largest expected worth against buyers who open so."""
    tries = COUNTERS[waiting <= COUNTERS]
    return float(tries[int(np.argmax(_worths(_near(opens), tries, waiting)))])


def _worths(rows: slice, counters: FloatArray, waiting: float) -> FloatArray:
    """Expected worth of each counter against some buyers of the sample."""
    _, last, limit = (part[rows] for part in _sample())
    refused = WALK_AWAY * waiting + (1 - WALK_AWAY) * np.maximum(last, waiting)
    met = limit >= counters[:, None]
    return np.asarray((met * counters[:, None] + ~met * refused).mean(axis=1))


@cache
def _values() -> FloatArray:
    """What waiting is worth at the steps of the listing, for who knows the worth."""
    out = AUCTION_KEPT * float(
        np.sort(centre() * population(np.random.default_rng(3), 6 * SAMPLE)[2].reshape(-1, BIDDERS))[:, -2].mean()
    )
    width = LONGEST / STEPS
    values = [out]
    blocks = [slice(i, i + 400) for i in range(0, SAMPLE, 400)]
    for step in reversed(range(STEPS)):
        comes = -math.expm1(-PER_WEEK * 1.1 * 2 ** (-step * width / FADE_WEEKS) * width)
        tries = COUNTERS[values[-1] <= COUNTERS]
        met = float(np.mean([_worths(rows, tries, values[-1]).max() for rows in blocks]))
        value = comes * met + (1 - comes) * values[-1]
        values.append(max(value * math.exp(-DISCOUNT * width) - HOLDING * width, out))
    return np.array(values[::-1])


def waiting_value(week: float) -> float:
    """What waiting is worth for who knows the worth, so many weeks into the listing."""
    return float(np.interp(week, np.linspace(0, LONGEST, STEPS + 1), _values()))
