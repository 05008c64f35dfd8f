"""Calibration: whether past prices fell inside the intervals stated for them as often as promised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError, TooFewSalesError, shortlist
from valuation.evidence.calibration_words import CoverageShare, ThirdOfPrice, calibration_notes
from valuation.evidence.intervals import Measure, check_share, median_interval, share_interval
from valuation.evidence.scores import interval_score
from valuation.notes import Note

Array = npt.NDArray[np.float64]
COVERAGES = (0.5, 0.8, 0.9)
"""Nominal shares at which intervals are held against what happened: one half, the usual one, and a wide one."""
SALES_PER_BAR = 5
"""Sales expected in one bar of the histogram at the least, so that its height is more than chance."""


@dataclass(frozen=True)
class Calibration:
    """How estimates made before the sales stand to the prices realised.

    Attributes
    ----------
    n : int
        Sales.
    shares : tuple of CoverageShare
        For each stated coverage, how many prices fell inside, with the exact interval of the true share.
    thirds : tuple of ThirdOfPrice
        The same for the cheapest, middle and most expensive third at the main coverage; empty below 9 sales.
    pit_counts : tuple of int
        Counts of the prices' places in their predictive distributions, in bars of equal width from 0 to 1; even when
        calibrated, high at both ends when intervals are too narrow. Empty when no places were given.
    median_miss_percent : float
        Half of the estimates miss the price by less than this, in percent of the price.
    bias_percent : Measure
        Median of estimate / price less 1, in percent, with its exact interval: above 0 when estimates run high.
    log_interval_score : float or None
        Mean interval score of the log price at the main coverage; ``None`` when only places were given.
    notes : tuple of Note
        The reading in plain words.
    """

    n: int
    shares: tuple[CoverageShare, ...]
    thirds: tuple[ThirdOfPrice, ...]
    pit_counts: tuple[int, ...]
    median_miss_percent: float
    bias_percent: Measure
    log_interval_score: float | None
    notes: tuple[Note, ...]


def calibration(
    prices: npt.ArrayLike,
    estimates: npt.ArrayLike,
    *,
    places: npt.ArrayLike | None = None,
    intervals: Mapping[float, tuple[npt.ArrayLike, npt.ArrayLike]] | None = None,
    coverages: tuple[float, ...] = COVERAGES,
    main_coverage: float = 0.8,
    confidence: float = 0.95,
    thirds_by: Literal["price", "estimate"] = "price",
) -> Calibration:
    """Set realised prices against the predictive distributions or intervals stated before the sales.

    Parameters
    ----------
    prices, estimates : array_like of float, shape (n_sales,)
        Realised buyer-pays prices and the estimates (medians) made without them, one currency, all > 0. Sold rows
        only: nobody paid an unsold bid or an asking price.
    places : array_like of float, shape (n_sales,), optional
        Each price's place in its predictive distribution: the distribution's cdf at the price, 0 to 1.
    intervals : mapping of float to (low, high), optional
        For each stated coverage, the ends of the intervals, shape (n_sales,) each. An end may be open (0 or inf).
        At least one of ``places`` and ``intervals`` is needed; where both give a coverage, the intervals count.
    coverages : tuple of float
        Central coverages that are read off the places.
    main_coverage : float
        Coverage of the thirds and of the score; it must be among those given.
    confidence : float
        Coverage of the intervals of shares and bias.
    thirds_by : {"price", "estimate"}
        What parts the sales into thirds. By price the outer thirds look worse than they are, since a sale lands
        there partly by the very miss that is counted; by estimate they do not.

    Returns
    -------
    Calibration

    Raises
    ------
    TooFewSalesError
        If there is no sale.
    EvidenceError
        If shapes do not fit, an amount is not positive, a place lies outside 0 to 1, an interval is crossed, or
        neither places nor intervals are given.

    References
    ----------
    .. [1] A. P. Dawid (1984), "Statistical theory: the prequential approach", JRSS A 147, 278-292 (places).
    .. [2] T. Gneiting, F. Balabdaoui and A. E. Raftery (2007), "Probabilistic forecasts, calibration and sharpness",
       JRSS B 69, 243-268 (histogram of places).

    Examples
    --------
    >>> places = (np.arange(40) + 0.5) / 40
    >>> found = calibration(np.full(40, 100.0), np.full(40, 100.0), places=places)
    >>> [(share.coverage, share.inside) for share in found.shares]
    [(0.5, 20), (0.8, 32), (0.9, 36)]
    >>> found.pit_counts
    (5, 5, 5, 5, 5, 5, 5, 5)
    """
    check_share("the confidence of an interval", confidence)
    price, estimate = _amounts(prices, estimates)
    n = price.size
    place = _checked_places(places, n)
    ends = {check_share("a coverage", c): _checked_ends(c, pair, n) for c, pair in (intervals or {}).items()}
    sides = {c: _sides_by_ends(price, *pair) for c, pair in ends.items()}
    if place is not None:
        for coverage in coverages:
            sides.setdefault(check_share("a coverage", coverage), _sides_by_place(place, coverage))
    if not sides:
        raise EvidenceError(
            "Cannot check calibration: neither places in the distribution nor intervals were given. Give at least one "
            "of 'places' and 'intervals'."
        )
    if main_coverage not in sides:
        raise EvidenceError(
            f"Cannot check calibration at {main_coverage!r}: only {shortlist([repr(c) for c in sorted(sides)])} were "
            "given. Choose one of these as the main coverage, or give its intervals."
        )
    shares = tuple(_share(coverage, sides[coverage], confidence) for coverage in sorted(sides))
    main = next(share for share in shares if share.coverage == main_coverage)
    thirds = _thirds(price if thirds_by == "price" else estimate, sides[main_coverage], confidence)
    counts = _histogram(place)
    ratio = median_interval(estimate / price, confidence)
    low, high = 100 * (max(0.0, ratio.low) - 1), 100 * (ratio.high - 1)
    bias = Measure(100 * (ratio.value - 1), low, high, ratio.coverage, ratio.method)
    miss = float(100 * np.median(np.abs(estimate / price - 1)))
    return Calibration(
        n=n,
        shares=shares,
        thirds=thirds,
        pit_counts=counts,
        median_miss_percent=miss,
        bias_percent=bias,
        log_interval_score=_log_score(price, ends.get(main_coverage), main_coverage),
        notes=calibration_notes(main, thirds, miss, bias, confidence),
    )


def _amounts(prices: npt.ArrayLike, estimates: npt.ArrayLike) -> tuple[Array, Array]:
    price, estimate = (np.asarray(side, dtype=float).ravel() for side in (prices, estimates))
    if price.size == 0:
        raise TooFewSalesError("Cannot check calibration: 0 realised sales found, 1 needed. Record a sale first.")
    if price.size != estimate.size:
        raise EvidenceError(
            f"Cannot check calibration: {price.size} prices and {estimate.size} estimates found. One estimate for each "
            "price is needed. Check that both come from the same sales."
        )
    good = np.isfinite(price) & np.isfinite(estimate) & (price > 0) & (estimate > 0)
    if not good.all():
        bad = [f"row {i + 1}: {price[i]!r} and {estimate[i]!r}" for i in np.flatnonzero(~good)]
        raise EvidenceError(
            f"Cannot check calibration: {shortlist(bad)}. Prices and estimates must be finite amounts above 0. Mend or "
            "leave out these rows."
        )
    return price, estimate


def _checked_places(places: npt.ArrayLike | None, n: int) -> Array | None:
    if places is None:
        return None
    place = np.asarray(places, dtype=float).ravel()
    if place.size != n or not ((place >= 0) & (place <= 1)).all():
        raise EvidenceError(
            f"Cannot check calibration: {place.size} places for {n} prices found, or one outside 0 to 1. One share "
            "between 0 and 1 for each price is needed. Give each distribution's cdf at its price."
        )
    return place


def _checked_ends(coverage: float, ends: tuple[npt.ArrayLike, npt.ArrayLike], n: int) -> tuple[Array, Array]:
    low, high = (np.asarray(end, dtype=float).ravel() for end in ends)
    if low.size != n or high.size != n or not (low <= high).all():
        raise EvidenceError(
            f"Cannot check the intervals stated at {100 * coverage:g} %: {low.size} low and {high.size} high ends for "
            f"{n} prices found, or one with low above high. One of each, low <= high, is needed for every price. Check "
            "which column is which."
        )
    return low, high


def _sides_by_ends(price: Array, low: Array, high: Array) -> npt.NDArray[np.int64]:
    """-1 for a price below its interval, 0 inside (the ends count as inside), 1 above."""
    return np.where(price < low, -1, np.where(price > high, 1, 0))


def _sides_by_place(place: Array, coverage: float) -> npt.NDArray[np.int64]:
    # A hair's breadth, so that 0.1 and (1 - 0.8) / 2 count as the same place.
    edge = (1 - coverage) / 2 - 1e-12
    return np.where(place < edge, -1, np.where(place > 1 - edge, 1, 0))


def _share(coverage: float, side: npt.NDArray[np.int64], confidence: float) -> CoverageShare:
    inside = int((side == 0).sum())
    low, high = share_interval(inside, side.size, confidence)
    return CoverageShare(coverage, side.size, inside, int((side < 0).sum()), int((side > 0).sum()), low, high)


def _thirds(size: Array, side: npt.NDArray[np.int64], confidence: float) -> tuple[ThirdOfPrice, ...]:
    if size.size < 9:
        return ()
    order = np.argsort(size, kind="stable")
    answer = []
    for name, rows in zip(("cheapest", "middle", "most expensive"), np.array_split(order, 3), strict=True):
        inside = int((side[rows] == 0).sum())
        low, high = share_interval(inside, rows.size, confidence)
        answer.append(ThirdOfPrice(name, float(size[rows[0]]), float(size[rows[-1]]), rows.size, inside, low, high))
    return tuple(answer)


def _histogram(place: Array | None) -> tuple[int, ...]:
    if place is None:
        return ()
    bars = int(np.clip(place.size // SALES_PER_BAR, 1, 20))
    return tuple(int(count) for count in np.histogram(place, bins=bars, range=(0, 1))[0])


def _log_score(price: Array, ends: tuple[Array, Array] | None, coverage: float) -> float | None:
    if ends is None:
        return None
    low, high = ends
    with np.errstate(divide="ignore"):  # an open low end is 0, its log minus infinity and the score infinite
        return float(interval_score(np.log(low), np.log(high), np.log(price), coverage).mean())
