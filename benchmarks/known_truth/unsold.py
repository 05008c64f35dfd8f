"""Unsold bids that come about in three ways, and what each does to the estimate.

Each table has the wanted share of unsold bids; sales scatter around the true median by a normal of ``SCATTER``.

- ``short``: on some days, whatever the vehicle, bidding stops short of the price by an exponential gap.
- ``limit``: bidding ends at a limit that has nothing to do with the day's luck (a ceiling of the room, a last offer by
  telephone); where the vehicle would have made more, the limit is what stands in the table.
- ``auction``: the highest bid is all but the price, and the vehicle stays unsold because the day was a bad one: the
  price fell below a reserve set on the median with an error of its own. What was sold is then the luckier part.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np

from benchmarks.known_truth.simulate import Table, World, with_gaps

Mechanism = Literal["short", "limit", "auction"]
MECHANISMS: tuple[Mechanism, ...] = get_args(Mechanism)
SCATTER = 0.25
SHORT = 0.25
"""Mean of the exponential gap of ``short``."""

LIMIT_ERROR, RESERVE_ERROR, BELOW = 0.25, 0.08, 0.03
"""Deviations of a limit and of a reserve from the median, and how far a bid lies under the price at auction."""


def draw(rng: np.random.Generator, world: World, n: int, mechanism: Mechanism, share: float) -> Table:
    """A table of n rows of which about ``share`` are unsold bids."""
    cells = world.vehicles(rng, rng.choice(list(world.families), n))
    median = world.median(cells)
    luck = SCATTER * rng.standard_normal(n)
    price = median + luck
    if mechanism == "short":
        unmet, bid = rng.uniform(size=n) < share, price - rng.exponential(SHORT, n)
    elif mechanism == "limit":
        own = LIMIT_ERROR * rng.standard_normal(n)
        stop = np.quantile(luck - own, 1 - share)
        bid = median + own + stop
        unmet = bid < price
    else:
        own = luck - RESERVE_ERROR * rng.standard_normal(n)
        unmet, bid = own < np.quantile(own, share), price - BELOW
    seen = np.where(unmet, bid, price)
    return Table(with_gaps(rng, cells), seen, np.where(unmet, np.inf, seen), seen, median)
