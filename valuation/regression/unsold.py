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

from dataclasses import dataclass

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

_GRID = USUAL * np.exp(np.linspace(-2.5, 2.5, 101))
"""From a fiftieth over the bid to six times the bid."""


@dataclass(frozen=True, slots=True)
class UnsoldRanges:
    """Widths of the ranges, log units.

    Attributes
    ----------
    bid : float
        The price of a vehicle bid for in vain lies at most this far above the bid.
    asking : float
        The price of a vehicle offered lies at most this far below the asking price.
    """

    bid: float = USUAL
    asking: float = USUAL

    def bounds(self, low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Both ends of each row's price, log units, the open ones closed.

        Parameters
        ----------
        low : ndarray of float, shape (n,)
            Log units; minus infinity where open.
        high : ndarray of float, shape (n,)
            Log units; infinity where open.
        """
        return (
            np.where(np.isneginf(low), high - self.asking, low),
            np.where(np.isposinf(high), low + self.bid, high),
        )


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


def learn_ranges(low: FloatArray, high: FloatArray, mean: FloatArray, spread: FloatArray) -> UnsoldRanges:
    """Ranges from the rows with an open side.

    Parameters
    ----------
    low, high : ndarray, shape (m,)
        Log prices, infinite on the open side.
    mean, spread : ndarray, shape (m,)
        Log price that the other rows would have for each, and its standard deviation.
    """
    bids, asks = np.isposinf(high), np.isneginf(low)
    return UnsoldRanges(
        _width((low - mean)[bids] / spread[bids], spread[bids]),
        _width((mean - high)[asks] / spread[asks], spread[asks]),
    )


def _width(place: FloatArray, spread: FloatArray) -> float:
    """Width, averaged on the log over its posterior; ``place`` is the bid's, in standard deviations."""
    inside = ndtr(place[:, None] + _GRID / spread[:, None]) - ndtr(place)[:, None]
    log_density = np.log(np.maximum(inside, 1e-300) / _GRID).sum(axis=0)
    log_posterior = log_density - 0.5 * (np.log(_GRID / USUAL) / PRIOR_WIDTH) ** 2
    weight = np.exp(log_posterior - log_posterior.max())
    return float(np.exp((weight * np.log(_GRID)).sum() / weight.sum()))
