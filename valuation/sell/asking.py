"""What to ask: a high ask keeps buyers away, a low one caps what the best of them pays."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from valuation.regression.distribution import FloatArray

TEN_PERCENT = math.log(1.1)
"""In logs: what buyers lost are said for is an ask ten percent over."""
SCORES = np.linspace(-5.0, 5.0, 401)
"""Standard scores of the buyers, five to either side: beyond are fewer than one in a million."""
LOWEST, HIGHEST = math.log(1.02), math.log(1.35)
"""Logs of the lowest and the highest ask over the target: no room for talks under the one, and over the other buyers
take the ask for a mistake, however little the seller himself knows. Common practice, no source."""

STEP = 0.0025
"""Between two asks that are tried, in logs: a quarter of a percent; a parabola finds the top between them."""
HARDLY_WEEKS = 104.0
"""Weeks over which a time to sell is no longer said: it would hardly sell within two years."""


@dataclass(frozen=True, slots=True)
class AskOutcome:
    """What an ask leads to.

    Attributes
    ----------
    ask : float
        Money.
    expected_price : float
        Price on which talks are expected to end, money.
    expected_weeks : float or None
        Until then; None where it would hardly sell within two years.
    """

    ask: float
    expected_price: float
    expected_weeks: float | None


@dataclass(frozen=True, slots=True)
class Manner:
    """How buyers take an ask: two figures.

    Parameters
    ----------
    room_percent : float
        How far under the ask talks usually end, percent in [0, 100): half of the buyers who would pay so much less
        than the ask come to talk.
    lost_percent : float
        How many of those who are of two minds an ask keeps away that is higher by a tenth, percent in (0, 100).
    """

    room_percent: float
    lost_percent: float

    def come(self, under_ask: FloatArray) -> FloatArray:
        """Share of buyers who come to talk, by the log of the ask over what they would pay; same shape."""
        steep = -2 * math.log1p(-self.lost_percent / 100) / TEN_PERCENT
        room = -math.log1p(-self.room_percent / 100)
        return np.asarray(1 / (1 + np.exp(np.minimum(steep * (under_ask - room), 700.0))))


@dataclass(frozen=True, slots=True)
class Callers:
    """What the buyers who could come would pay: log-normal.

    Parameters
    ----------
    centre, scatter : float
        Mean and standard deviation of the log.
    floor : float
        Log of the least that is taken.
    """

    centre: float
    scatter: float
    floor: float

    def outcome(self, asks: FloatArray, manner: Manner) -> tuple[FloatArray, FloatArray]:
        """Share of buyers with whom talks end in a sale, and the gain over the floor for each buyer, in money.

        Parameters
        ----------
        asks : ndarray, shape (a,)
            Logs.
        manner : Manner
        """
        paid = self.centre + self.scatter * SCORES
        weight = np.exp(-(SCORES**2) / 2)
        weight = weight / weight.sum()
        sold = np.where(paid >= self.floor, manner.come(asks[:, None] - paid) * weight, 0.0)
        gain = np.exp(np.minimum(paid, asks[:, None])) - math.exp(self.floor)
        return sold.sum(axis=1), (sold * gain).sum(axis=1)


def best_ask(callers: Callers, manner: Manner, target: float) -> float:
    """The ask that gains the most over the floor for each buyer who could come.

    Parameters
    ----------
    callers : Callers
    manner : Manner
    target : float
        Price that is expected, money: no ask lies under it.

    Returns
    -------
    float
        Money.
    """
    asks = math.log(target) + np.arange(LOWEST, HIGHEST, STEP)
    _, gain = callers.outcome(asks, manner)
    top = int(np.argmax(gain))
    if 0 < top < len(asks) - 1:
        before, at, after = gain[top - 1 : top + 2]
        bend = before - 2 * at + after
        return math.exp(float(asks[top] + (STEP * (before - after) / (2 * bend) if bend < 0 else 0.0)))
    return math.exp(float(asks[top]))


def ask_table(callers: Callers, manner: Manner, ask: float, target: float, weeks: float) -> tuple[AskOutcome, ...]:
    """What asks around the best one lead to: from a tenth under it (not under the floor) to a fifth over it.

    Parameters
    ----------
    callers : Callers
    manner : Manner
    ask, target : float
        The best ask and what it leads to, money.
    weeks : float
        Expected at that ask.
    """
    prices = np.array(sorted({max(ask * share, math.exp(callers.floor)) for share in (0.9, 0.95, 1.0, 1.05, 1.1, 1.2)}))
    sold, gain = callers.outcome(np.log(np.append(prices, ask)), manner)
    with np.errstate(divide="ignore", invalid="ignore"):
        price, slower = math.exp(callers.floor) + gain / sold, sold[-1] / sold
    found = []
    for i, one in enumerate(prices.tolist()):
        takes = weeks * float(slower[i]) if sold[i] > 0 else math.inf
        expected = min(target * float(price[i] / price[-1]), one) if sold[i] > 0 and sold[-1] > 0 else one
        found.append(AskOutcome(one, expected, takes if takes <= HARDLY_WEEKS else None))
    return tuple(found)
