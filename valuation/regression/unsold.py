"""How far unsold bids lie under, and asking prices over, what the vehicles would have fetched.

A bid that was not met says "at least this", but not how much more; taken as a bare bound it leaves estimates high,
since many a vehicle stays unsold because the day was a bad one. So the price is taken to lie between the bid and so
much above it, and between an asking price and so much under it. How much is weighed on a grid: a figure is as probable
as the prior has it times the density that it gives the table's bids around what the other rows say of those vehicles,
the price lying anywhere in the range. At one end of the grid a bid counts nearly as a sale, at the other as a mere
bound. Few rows cannot tell a bid that stopped short from one that was all but the price on a bad day; the middle of the
prior is what is least wrong over the ways in which unsold bids come about (``benchmarks/known_truth``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from valuation.regression.cells import FloatArray
from valuation.regression.normal import ndtr

USUAL = float(np.log(1.22))
"""Middle of the prior: a price up to 22 % over the bid."""

PRIOR_WIDTH = 0.3
"""Standard deviation of the log of the range's width before the table speaks."""

_FAR = 2.5
"""Standard deviations between the end of the usual range and what the sales say past which a row stays open."""

LEAST_AT_VENUE = 8
"""Bids, or asking prices, from which a venue has a range of its own; fewer say little beside the others'. A choice."""

VENUES_DIFFER = 0.5
"""Standard deviation of the log of how far a venue's range may lie from that of all; a choice, wide on purpose."""

_GRID = np.exp(np.linspace(-2.5, 2.5, 101))
"""Times the middle of the prior: from a fiftieth over the bid to six times the bid for the usual range."""

Names = npt.NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class UnsoldRanges:
    """Widths of the ranges, log units.

    Attributes
    ----------
    bid : float
        The price of a vehicle bid for in vain lies at most this far above the bid.
    asking : float
        The price of a vehicle offered lies at most this far below the asking price.
    bid_at, asking_at : mapping of str to float
        The same at venues that have rows enough.
    """

    bid: float = USUAL
    asking: float = USUAL
    bid_at: Mapping[str, float] = field(default_factory=dict)
    asking_at: Mapping[str, float] = field(default_factory=dict)

    def bounds(self, low: FloatArray, high: FloatArray, venue: Names) -> tuple[FloatArray, FloatArray]:
        """Both ends of each row's price, log units, the open ones closed.

        Parameters
        ----------
        low, high : ndarray, shape (n,)
            Log prices, infinite on the open side.
        venue : ndarray of str, shape (n,)
            Where each row is from; empty where unknown.
        """
        bid = np.array([self.bid_at.get(name, self.bid) for name in venue])
        asking = np.array([self.asking_at.get(name, self.asking) for name in venue])
        return np.where(np.isneginf(low), high - asking, low), np.where(np.isposinf(high), low + bid, high)


def plausible(low: FloatArray, high: FloatArray, mean: FloatArray, spread: FloatArray) -> npt.NDArray[np.bool_]:
    """Which rows a range may close: not the bid that lies far below all that the sales say, such as an opening bid.

    Parameters
    ----------
    low, high : ndarray, shape (n,)
        Log prices, infinite on the open side.
    mean, spread : ndarray, shape (n,)
        Log price of each row as the sales have it, and its standard deviation.
    """
    below, above = mean - (low + USUAL), (high - USUAL) - mean
    far_bid, far_asking = np.isposinf(high) & (below > _FAR * spread), np.isneginf(low) & (above > _FAR * spread)
    return np.asarray(~(far_bid | far_asking))


def learn_ranges(low: FloatArray, high: FloatArray, mean: FloatArray, spread: FloatArray, venue: Names) -> UnsoldRanges:
    """Ranges from the rows with an open side: one for all, and those of venues drawn towards it.

    Parameters
    ----------
    low, high : ndarray, shape (m,)
        Log prices, infinite on the open side.
    mean, spread : ndarray, shape (m,)
        Log price that the other rows would have for each, and its standard deviation.
    venue : ndarray of str, shape (m,)
        Where each row is from; empty where unknown.
    """
    bids, asks = np.isposinf(high), np.isneginf(low)
    bid, bid_at = _widths(((low - mean) / spread)[bids], spread[bids], venue[bids])
    asking, asking_at = _widths(((mean - high) / spread)[asks], spread[asks], venue[asks])
    return UnsoldRanges(bid, asking, bid_at, asking_at)


def _widths(place: FloatArray, spread: FloatArray, venue: Names) -> tuple[float, dict[str, float]]:
    """Width for all rows of one kind, and for each venue that has enough of them."""
    common = _width(place, spread, USUAL, PRIOR_WIDTH)
    names = sorted({name for name in venue.tolist() if name and (venue == name).sum() >= LEAST_AT_VENUE})
    own = {name: _width(place[venue == name], spread[venue == name], common, VENUES_DIFFER) for name in names}
    return common, own if set(venue.tolist()) != set(names) or len(names) > 1 else {}


def _width(place: FloatArray, spread: FloatArray, middle: float, prior_width: float) -> float:
    """Width, averaged on the log over its posterior; ``place`` is the bid's, in standard deviations."""
    grid = middle * _GRID
    inside = ndtr(place[:, None] + grid / spread[:, None]) - ndtr(place)[:, None]
    log_density = np.log(np.maximum(inside, 1e-300) / grid).sum(axis=0)
    log_posterior = log_density - 0.5 * (np.log(_GRID) / prior_width) ** 2
    weight = np.exp(log_posterior - log_posterior.max())
    return float(middle * np.exp((weight * np.log(_GRID)).sum() / weight.sum()))
