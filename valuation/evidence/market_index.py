"""Indices made from sales themselves: repeat sales (geometric, arithmetic) and time dummies."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.errors import EvidenceError, TooFewSalesError, shortlist
from valuation.evidence.intervals import check_share
from valuation.notes import Note

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class MarketIndex:
    """A price index estimated from sales, 100 in the first period.

    Attributes
    ----------
    method : str
        Name of the method.
    periods : tuple
        The periods in rising order, as they were given (years, months, ...).
    values : tuple of float
        Index, 100 in the first period.
    low, high : tuple of float, or None
        Interval of each value (100 to 100 in the first period); infinitely wide when the sales leave no degree of
        freedom; ``None`` for a method without one.
    n : int
        Pairs of sales of one item, or sales, that carry the index.
    notes : tuple of Note
    """

    method: str
    periods: tuple[Hashable, ...]
    values: tuple[float, ...]
    low: tuple[float, ...] | None
    high: tuple[float, ...] | None
    n: int
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class _Pairs:
    """Consecutive sales of the same item: period positions and prices of both."""

    periods: list[Any]
    first: npt.NDArray[np.int64]
    second: npt.NDArray[np.int64]
    first_price: Array
    second_price: Array

    def dummies(self) -> Array:
        """-1 in the period of the first sale, +1 in that of the second; the base period has no column."""
        columns = np.zeros((len(self.first), len(self.periods)))
        rows = np.arange(len(self.first))
        columns[rows, self.first] -= 1
        columns[rows, self.second] += 1
        return columns[:, 1:]


def geometric_repeat_sales(
    items: Sequence[Hashable], periods: Sequence[Any], prices: npt.ArrayLike, confidence: float = 0.95
) -> MarketIndex:
    """Repeat-sales index by regression of the log price relatives of items sold more than once.

    Parameters
    ----------
    items : sequence, shape (n_sales,)
        Which item (vehicle) each sale was of.
    periods : sequence, shape (n_sales,)
        Period of each sale; any values that can be put in order. At most one sale of an item in a period.
    prices : array_like of float, shape (n_sales,)
        Finite and > 0, one currency.
    confidence : float
        Coverage of the intervals, by the t law of the regression.

    Returns
    -------
    MarketIndex

    Raises
    ------
    TooFewSalesError
        If no item was sold twice.
    EvidenceError
        If lengths differ, a price is not positive, an item was sold twice within a period, or some periods are
        not linked to the first by any chain of repeat sales; they are named.

    Notes
    -----
    log(p2 / p1) = g[t2] - g[t1] + error, by least squares, index = 100 exp(g), g = 0 in the first period. It takes
    each item as unchanged between its sales, which a restored vehicle is not: leave those pairs out.

    References
    ----------
    .. [1] M. J. Bailey, R. F. Muth and H. O. Nourse (1963), "A regression method for real estate price index
       construction", Journal of the American Statistical Association 58, 933-942.

    Examples
    --------
    >>> index = geometric_repeat_sales(["a", "a", "a", "b", "b"], [1, 2, 3, 1, 3], [1, 3, 2, 1, 1])
    >>> [round(value, 4) for value in index.values]
    [100.0, 238.1102, 125.9921]
    """
    check_share("the confidence of an interval", confidence)
    pairs = _repeat_pairs(items, periods, prices)
    design = pairs.dummies()
    _check_linked(design, pairs.periods)
    log_index, error = _least_squares(design, np.log(pairs.second_price / pairs.first_price))
    reach = _reach(error, len(design) - design.shape[1], confidence)
    return MarketIndex(
        "geometric repeat sales (Bailey, Muth and Nourse 1963)",
        tuple(pairs.periods),
        _hundred(log_index),
        _hundred(log_index - reach),
        _hundred(log_index + reach),
        len(design),
        (_unchanged(len(design)),),
    )


def arithmetic_repeat_sales(items: Sequence[Hashable], periods: Sequence[Any], prices: npt.ArrayLike) -> MarketIndex:
    """Repeat-sales index that follows the value of the items together, each weighing by its price.

    Parameters
    ----------
    items, periods, prices
        As for `geometric_repeat_sales`.

    Returns
    -------
    MarketIndex
        Without intervals.

    Raises
    ------
    TooFewSalesError, EvidenceError
        As for `geometric_repeat_sales`.

    Notes
    -----
    Instrumental variables: the columns hold the prices themselves, the instruments are the signed dummies of the
    geometric method, the coefficients are reciprocals of the index.

    References
    ----------
    .. [1] R. J. Shiller (1991), "Arithmetic repeat sales price estimators", Journal of Housing Economics 1, 110-126.

    Examples
    --------
    >>> index = arithmetic_repeat_sales(["a", "a", "a", "b", "b"], [1, 2, 3, 1, 3], [1, 3, 2, 1, 1])
    >>> [round(value, 4) for value in index.values]
    [100.0, 240.0, 133.3333]
    """
    pairs = _repeat_pairs(items, periods, prices)
    signs = pairs.dummies()
    _check_linked(signs, pairs.periods)
    amounts = np.zeros((len(signs), len(pairs.periods)))
    rows = np.arange(len(signs))
    amounts[rows, pairs.first] -= pairs.first_price
    amounts[rows, pairs.second] += pairs.second_price
    # The level of the first period is 1, so its column stands on the other side of the equation.
    # The matrix has a positive diagonal, nothing positive beside it and columns that sum to no less than 0: when all
    # periods are linked it has a positive inverse, so every level comes out positive.
    reciprocal = np.linalg.solve(signs.T @ amounts[:, 1:], signs.T @ -amounts[:, 0])
    return MarketIndex(
        "arithmetic repeat sales (Shiller 1991)",
        tuple(pairs.periods),
        (100.0, *(float(100 / value) for value in reciprocal)),
        None,
        None,
        len(signs),
        (_unchanged(len(signs)),),
    )


def time_dummy_index(
    prices: npt.ArrayLike,
    periods: Sequence[Any],
    controls: npt.ArrayLike | None = None,
    confidence: float = 0.95,
) -> MarketIndex:
    """Index from one regression of log price on a dummy for each period, and on attributes held constant.

    Parameters
    ----------
    prices : array_like of float, shape (n_sales,)
        Finite and > 0, one currency.
    periods : sequence, shape (n_sales,)
        Period of each sale; any values that can be put in order.
    controls : array_like of float, shape (n_sales, n_controls), optional
        Attributes held constant, already coded as numbers. Without them the index is the ratio of the geometric
        mean prices, which mixes price change with a change in what was sold; a note says so.
    confidence : float
        Coverage of the intervals, by the t law of the regression.

    Returns
    -------
    MarketIndex

    Raises
    ------
    TooFewSalesError
        If there are fewer than two periods, or fewer sales than coefficients.
    EvidenceError
        If lengths differ, a price is not positive, or the controls determine the period.

    References
    ----------
    .. [1] Eurostat and others, Handbook on Residential Property Prices Indices, 2013, chapter 5 (time dummy variable
       method).

    Examples
    --------
    >>> index = time_dummy_index([100, 400, 220, 440], [2020, 2020, 2021, 2021])
    >>> [round(value, 2) for value in index.values]
    [100.0, 155.56]
    """
    check_share("the confidence of an interval", confidence)
    price = _positive(prices)
    labels, position = _periods(periods, price.size)
    design = (position[:, None] == np.arange(1, len(labels))).astype(float)
    if len(labels) < 2:
        raise TooFewSalesError(f"Cannot find an index: sales of {len(labels)} period found, 2 needed. Add older sales.")
    n_time = design.shape[1]
    design = np.column_stack([design, np.ones(price.size)])
    notes: tuple[Note, ...] = ()
    if controls is None:
        text = "Nothing is held constant: this index also moves when better or worse vehicles happened to be sold."
        notes = (Note("index_mix", text),)
    else:
        held = np.asarray(controls, dtype=float)
        if held.shape[0] != price.size or not np.isfinite(held).all():
            raise EvidenceError(
                f"Cannot hold these attributes constant: shape {held.shape} for {price.size} sales, or a cell is not "
                "finite. One finite number for each sale and attribute is needed. Code or leave out missing cells."
            )
        design = np.column_stack([design, held.reshape(price.size, -1)])
    if len(design) < design.shape[1]:
        raise TooFewSalesError(
            f"Cannot find an index: {len(design)} sales found, {design.shape[1]} needed for {len(labels)} periods and "
            "their controls. Use longer periods or fewer controls."
        )
    if np.linalg.matrix_rank(design) < design.shape[1]:
        raise EvidenceError(
            f"Cannot tell {len(labels)} periods apart from the controls: some columns repeat each other. "
            "Leave out controls that follow from the period or from one another."
        )
    coefficients, error = _least_squares(design, np.log(price))
    reach = _reach(error[:n_time], len(design) - design.shape[1], confidence)
    log_index = coefficients[:n_time]
    return MarketIndex(
        "time dummies",
        tuple(labels),
        _hundred(log_index),
        _hundred(log_index - reach),
        _hundred(log_index + reach),
        len(design),
        notes,
    )


def _repeat_pairs(items: Sequence[Hashable], periods: Sequence[Any], prices: npt.ArrayLike) -> _Pairs:
    price = _positive(prices)
    items = list(items)
    if len(items) != price.size:
        raise EvidenceError(
            f"Cannot find a repeat-sales index: {len(items)} items and {price.size} prices found. One of each is "
            "needed for every sale. Check that both come from the same sales."
        )
    labels, position = _periods(periods, price.size)
    sales: dict[Hashable, list[int]] = {}
    for row in np.argsort(position, kind="stable"):
        sales.setdefault(items[row], []).append(int(row))
    pairs = [(a, b) for rows in sales.values() for a, b in pairwise(rows)]
    twice = [str(items[a]) for a, b in pairs if position[a] == position[b]]
    if twice:
        raise EvidenceError(
            f"Cannot find a repeat-sales index: {shortlist(twice)} sold twice within a period. One sale of an item in "
            "a period is needed. Use shorter periods, or keep one of the two."
        )
    if not pairs:
        raise TooFewSalesError(
            f"Cannot find a repeat-sales index: {price.size} sales found, none of an item sold before. At least one "
            "item sold twice is needed. Use time dummies instead."
        )
    # Only periods in which a paired sale fell can have a level.
    used = sorted({int(position[row]) for pair in pairs for row in pair})
    place = {old: new for new, old in enumerate(used)}
    first, second = (np.array([place[int(position[pair[side]])] for pair in pairs]) for side in (0, 1))
    one, two = (price[[pair[side] for pair in pairs]] for side in (0, 1))
    return _Pairs([labels[i] for i in used], first, second, one, two)


def _positive(prices: npt.ArrayLike) -> Array:
    price = np.asarray(prices, dtype=float).ravel()
    bad = [f"row {i + 1}: {price[i]!r}" for i in np.flatnonzero(~(np.isfinite(price) & (price > 0)))]
    if bad:
        raise EvidenceError(
            f"Cannot find an index from these prices: {shortlist(bad)}. Prices must be finite amounts above 0. "
            "Mend or leave out these rows."
        )
    return price


def _periods(periods: Sequence[Any], n: int) -> tuple[list[Any], npt.NDArray[np.int64]]:
    """The distinct periods in rising order, and each sale's place among them."""
    given = list(periods)
    if len(given) != n:
        raise EvidenceError(
            f"Cannot find an index: {len(given)} periods and {n} prices found. One period for each price is needed. "
            "Check that both come from the same sales."
        )
    missing = [f"row {i + 1}" for i, period in enumerate(given) if pd.isna(period)]
    if missing:
        raise EvidenceError(
            f"Cannot find an index: {shortlist(missing)} without a period. Every sale needs one. Leave these rows out."
        )
    labels = sorted(set(given))
    place = {label: i for i, label in enumerate(labels)}
    return labels, np.array([place[label] for label in given], dtype=np.int64)


def _check_linked(design: Array, periods: list[Any]) -> None:
    """Refuse when some periods hang together but not with the first one."""
    touching = np.abs(design).T @ np.abs(design) > 0
    linked = np.abs(design).sum(axis=1) == 1  # pairs with one end in the base period
    reached = np.abs(design[linked]).sum(axis=0) > 0
    for _ in periods:
        reached = reached | (touching[reached].any(axis=0) if reached.any() else reached)
    if not reached.all():
        cut_off = [str(period) for period, ok in zip(periods[1:], reached, strict=True) if not ok]
        raise EvidenceError(
            f"Cannot set {shortlist(cut_off)} against {periods[0]}: no chain of repeat sales links them. Every period "
            "must be linked to the first. Use longer periods, or leave these sales out."
        )


def _least_squares(design: Array, response: Array) -> tuple[Array, Array]:
    """Coefficients and standard errors (infinite without a degree of freedom), by QR and never by normal equations."""
    q, r = np.linalg.qr(design)
    inverse = np.linalg.inv(r)
    coefficients = inverse @ (q.T @ response)
    df = len(design) - design.shape[1]
    if df == 0:
        return coefficients, np.full(design.shape[1], np.inf)
    rest = response - design @ coefficients
    return coefficients, np.sqrt(rest @ rest / df * (inverse**2).sum(axis=1))


def _reach(error: Array, df: int, confidence: float) -> Array:
    from scipy.special import stdtrit

    return error * float(stdtrit(df, (1 + confidence) / 2)) if df > 0 else error


def _hundred(log_index: Array) -> tuple[float, ...]:
    with np.errstate(over="ignore"):  # an interval too wide for a number is infinite
        return (100.0, *(float(value) for value in 100 * np.exp(log_index)))


def _unchanged(n_pairs: int) -> Note:
    return Note(
        "repeat_sales_unchanged",
        f"Rests on {n_pairs} pairs of sales of the same item and takes each item as unchanged between its two sales; "
        "a vehicle restored or let go in between makes the index wrong.",
    )
