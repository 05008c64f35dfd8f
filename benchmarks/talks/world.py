"""Buyers of several kinds for a vehicle of known worth: who comes, when, what each opens at and would pay at most.

All figures are invented. Everything is a share of the worth, so that one population serves every vehicle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

OFFERS_A_MONTH, WEEKS = 2.0, 8.0
PER_WEEK = OFFERS_A_MONTH * 12 / 52.18
LONGEST = 3 * WEEKS
FADE_WEEKS = 30.0
"""Weeks in which the stream of buyers halves."""

SCATTER = 0.10
"""Standard deviation of the log of what serious buyers would pay for one vehicle."""

HOLDING = 0.001
"""Of the worth, a week."""

DISCOUNT = math.log1p(0.08) / 52.18
WALK_AWAY = 0.3
BIDDERS, AUCTION_KEPT = 6, 0.94 / 1.1

KINDS = {
    "firm": (0.30, 0.0, (1.0, 1.0)),
    "haggles": (0.45, 0.0, (0.82, 0.93)),
    "tries it on": (0.15, -0.25, (0.85, 0.95)),
    "keen": (0.10, 0.08, (0.93, 1.0)),
}
"""Share of buyers; what is added to the log of their limit; the share of the limit at which they open."""


@dataclass(frozen=True)
class Buyer:
    """One buyer; money as a share of the worth."""

    week: float
    opens: float
    limit: float
    last_word: float
    walks_away: bool


def population(rng: np.random.Generator, size: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Opening bids, last words and limits over the centre of serious buyers, shape (size,) each."""
    names = list(KINDS)
    kind = rng.choice(len(names), size=size, p=[KINDS[name][0] for name in names])
    shift = np.array([KINDS[name][1] for name in names])[kind]
    low, high = (np.array([KINDS[name][2][end] for name in names])[kind] for end in (0, 1))
    limit = np.exp(rng.normal(0, SCATTER, size) + shift)
    opens = limit * rng.uniform(low, high)
    return opens, opens + 2 / 3 * (limit - opens), limit


@cache
def centre() -> float:
    """Where serious buyers centre so that the usual seller, who knows the worth, gets it in the usual time.

    He takes the best share of last words that sells in the usual weeks; their geometric mean is the worth.
    """
    _, last, _ = population(np.random.default_rng(1), 400_000)
    taken = last >= np.quantile(last, 1 - 1 / (PER_WEEK * WEEKS))
    return math.exp(-float(np.log(last[taken]).mean()))


def buyers_for(rng: np.random.Generator) -> list[Buyer]:
    """Those who come within the longest listing, in the order of their coming."""
    rate = PER_WEEK * 1.1
    weeks = np.cumsum(rng.exponential(1 / rate, 60))
    weeks = weeks[(weeks < LONGEST) & (rng.uniform(size=60) < 2 ** (-weeks / FADE_WEEKS))]
    opens, last, limit = (centre() * part for part in population(rng, len(weeks)))
    walks = rng.uniform(size=len(weeks)) < WALK_AWAY
    return [
        Buyer(float(weeks[i]), float(opens[i]), float(limit[i]), float(last[i]), bool(walks[i]))
        for i in range(len(weeks))
    ]


def auctioned(rng: np.random.Generator) -> float:
    """What an auction without reserve leaves, as a share of the worth."""
    return AUCTION_KEPT * float(np.sort(centre() * population(rng, BIDDERS)[2])[-2])


def net(price: float, week: float) -> float:
    """Money kept, as a share of the worth, at the day of the listing."""
    return price * math.exp(-DISCOUNT * week) - HOLDING * week
