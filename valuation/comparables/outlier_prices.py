"""Outlier prices: those about ten times, or a tenth of, what their neighbours suggest."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.cells import ObjectArray
from valuation.schema.attributes import Role
from valuation.schema.schema import Schema

_ENOUGH_ROWS = 12
"""Rows below which nothing is judged: as many as a fit needs (``regression.regressor.LEAST_SALES``)."""

_GROUP = 4
"""Rows that a group needs before its middle says something: one wild price among four does not move it far."""

_SWEEPS = 5
"""Rounds of polishing; chosen."""

_FAR_APART = math.log(2)
"""Where kinds lie further apart than a factor of two, a price of a rare kind is not judged; chosen."""

_LEAST_SCALE = 0.15
"""Scatter in logs that is assumed at least, so that a table of near-equal prices raises no alarm; chosen."""

_SCALES = 5.5
"""How many standard deviations off a price must lie: beyond any honest price, heavy tails included.

Chosen, not derived: on 100 simulated tables each of 20 and of 60 sales (scatter of 0.3 in logs, t with 4 degrees of
freedom) 4.5 and 5.5 found the same planted digits and raised the same false alarms; at 20 sales 6.5 missed two more.
"""

_MAD_TO_DEVIATION = 1.4826
"""From the median absolute deviation to the standard deviation of a normal law: 1 / Phi^-1(3/4)."""

_WINDOW = 0.45
"""How far from a power of ten, in logs (a factor of 1.6), the price may lie.

A compromise: at 60 sales of the same simulation 0.3, 0.45 and 0.6 found 56, 78 and 89 of 100 planted digits, and raised
8, 9 and 11 false alarms in 100 tables without any.
"""

_STANDS_OUT = 1.3
"""How many times as far off as any other price of the table a price must lie to be plainly a slip; else the row counts.

On 216 simulated honest tables of 25 to 80 sales, and the same with a digit planted, 1, 1.3 and 1.5 set 16, 8 and 8
honest prices aside, 27, 3 and 2 beside a planted one, and found 224, 206 and 188 of 432 planted ones.
"""

Codes = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]


def find_outlier_prices(
    log_prices: Floats, attributes: dict[str, ObjectArray], years: Floats, schema: Schema
) -> tuple[npt.NDArray[np.int_], npt.NDArray[np.bool_], Floats]:
    """Prices that lie about a power of ten off what their neighbours suggest.

    Parameters
    ----------
    log_prices : array, shape (n_rows,)
        Natural log of prices on one basis.
    attributes : dict of str to array, shape (n_rows,)
        Values by attribute.
    years : array, shape (n_rows,)
        Year of the sale, NaN when unknown.
    schema : Schema
        Roles and order of levels.

    Returns
    -------
    digits_off : array of int, shape (n_rows,)
        How many digits a price has too many (1, 2, 3) or too few (-1, -2, -3); 0 for one that fits, that stands too
        alone to be judged, or in a table of fewer than 12 rows.
    plain : array of bool, shape (n_rows,)
        Whether no other price of the table lies nearly as far off, so that wide scatter is no explanation.
    expected : array of float, shape (n_rows,)
        Natural log of the price that the neighbours suggest.

    Notes
    -----
    Median polish over the attributes (J. W. Tukey, *Exploratory Data Analysis*, 1977, ch. 10 and 11), numbers and
    ordered levels in groups of neighbours: medians are hardly moved by the very prices that are looked for. Prices far
    off are then left out and the rest polished again, so that none is judged by itself. A price is an outlier when it
    lies at least 5.5 robust standard deviations off (from the median absolute deviation, raised for the effects
    taken out) and within a factor of e^0.45 (about 1.6) of a power of ten off.
    """
    if len(log_prices) < _ENOUGH_ROWS:
        return np.zeros(len(log_prices), dtype=int), np.zeros(len(log_prices), dtype=bool), log_prices
    factors = [
        _groups(values, schema.attribute(name).role, schema.attribute(name).level_names)
        for name, values in attributes.items()
    ]
    factors.append(_number_groups(years))
    everyone = np.ones(len(log_prices), dtype=bool)
    first, _, scale = _polish(log_prices, factors, everyone)
    near = np.abs(log_prices - first) < max(1.0, 4 * scale)
    expected, judged, scale = _polish(log_prices, factors, near)
    residual = log_prices - expected
    digits = np.rint(residual / math.log(10)).astype(int)
    off = np.abs(residual - digits * math.log(10))
    found = judged & (digits != 0) & (np.abs(digits) <= 3) & (off <= _WINDOW)
    found &= np.abs(residual) >= _SCALES * max(scale, _LEAST_SCALE)
    size = np.abs(residual)
    second, largest = np.sort(size)[-2:]
    plain = size >= _STANDS_OUT * np.where(size == largest, second, largest)
    return np.where(found, digits, 0), plain, expected


def _polish(
    log_prices: Floats, factors: list[Codes], used: npt.NDArray[np.bool_]
) -> tuple[Floats, npt.NDArray[np.bool_], float]:
    """Expected log prices by median polish over the rows that are used, which rows can be judged, and the scale.

    A row cannot be judged when its own kind is too rare to have a middle, and kinds lie far apart.
    """
    residual = log_prices - np.median(log_prices[used])
    effects = [np.zeros(int(codes.max(initial=0)) + 1) for codes in factors]
    members = [np.bincount(codes[used], minlength=len(effect)) for codes, effect in zip(factors, effects, strict=True)]
    for _ in range(_SWEEPS):
        for codes, effect, size in zip(factors, effects, members, strict=True):
            middle = pd.Series(residual[used]).groupby(codes[used]).median()
            step = np.zeros_like(effect)
            step[middle.index] = middle
            step[size < _GROUP] = 0.0
            effect += step
            residual = residual - step[codes]
    judged = np.ones(len(log_prices), dtype=bool)
    taken_out = 1
    for codes, effect, size in zip(factors, effects, members, strict=True):
        common = effect[size >= _GROUP]
        taken_out += max(0, len(common) - 1)
        if np.ptp(common) > _FAR_APART if len(common) > 1 else len(effect) > 1:
            judged &= size[codes] >= _GROUP
    deviation = _MAD_TO_DEVIATION * float(np.median(np.abs(residual[used] - np.median(residual[used]))))
    count = int(used.sum())
    return log_prices - residual, judged, deviation * math.sqrt(count / max(count - taken_out, count / 4))


def _groups(values: ObjectArray, role: Role, levels: tuple[str, ...]) -> Codes:
    if role in (Role.NUMBER, Role.SMOOTH, Role.COUNT):
        return _number_groups(np.asarray([np.nan if value is None else float(value) for value in values]))
    if role is Role.DATE:
        return _number_groups(np.asarray([np.nan if value is None else float(value.year) for value in values]))
    if role is Role.ORDINAL:
        position = {level: number for number, level in enumerate(levels)}
        return _pooled(np.asarray([-1 if value is None else position[value] for value in values]))
    return np.asarray(pd.factorize(values, use_na_sentinel=False)[0], dtype=np.intp)


def _number_groups(numbers: Floats) -> Codes:
    """Groups of about equal size, up to eight, by rank; equal numbers share a group; missing is group 0."""
    known = ~np.isnan(numbers)
    codes = np.zeros(len(numbers), dtype=np.intp)
    ranks = pd.Series(numbers[known]).rank(method="min").to_numpy() - 1
    groups = max(1, min(8, int(known.sum()) // 6))
    codes[known] = 1 + np.floor(ranks * groups / max(1, int(known.sum()))).astype(np.intp)
    return codes


def _pooled(positions: npt.NDArray[np.int_]) -> Codes:
    """Ordered levels, rare ones joined to the next lower one (the lowest to the next higher); missing is group 0."""
    counts = np.bincount(positions[positions >= 0], minlength=1)
    group, groups, size = 0, np.zeros(len(counts), dtype=np.intp), 0
    for level, count in enumerate(counts):
        if count >= _GROUP and size >= _GROUP:
            group, size = group + 1, 0
        groups[level] = group
        size += int(count)
    return np.where(positions >= 0, 1 + groups[np.maximum(positions, 0)], 0).astype(np.intp)
