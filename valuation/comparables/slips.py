"""Slipped digits: prices about ten times, or a tenth of, what their neighbours suggest."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.cells import ObjectArray
from valuation.schema.attributes import Role
from valuation.schema.schema import Schema

_ENOUGH_ROWS = 12
_GROUP = 4
"""Rows that a group needs before its middle says something: one wild price among four does not move it far."""

_SWEEPS = 5
_FAR_APART = math.log(3)

Codes = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]


def expected_prices(
    log_prices: Floats, attributes: dict[str, ObjectArray], years: Floats, schema: Schema
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """What each row's neighbours suggest for its price, and which rows can be judged at all.

    Parameters
    ----------
    log_prices : array, shape (n_rows,)
        Natural log of prices on one footing.
    attributes : dict of str to array, shape (n_rows,)
        Values by attribute.
    years : array, shape (n_rows,)
        Year of the sale, NaN when unknown.
    schema : Schema
        Roles and order of levels.

    Returns
    -------
    expected : array of float, shape (n_rows,)
        Natural log of the price.
    judged : array of bool, shape (n_rows,)
        False where a row's own kind is so rare, and kinds lie so far apart, that nothing can be said.

    Notes
    -----
    Median polish over the attributes (J. W. Tukey, *Exploratory Data Analysis*, 1977, ch. 10 and 11), numbers and
    ordered levels in groups of neighbours: medians are not moved by the very prices that are looked for.
    """
    residual = log_prices - np.median(log_prices)
    judged = np.ones(len(log_prices), dtype=bool)
    factors = [
        _groups(values, schema.attribute(name).role, schema.attribute(name).level_names)
        for name, values in attributes.items()
    ]
    factors.append(_number_groups(years))
    effects = [np.zeros(int(codes.max(initial=0)) + 1) for codes in factors]
    for _ in range(_SWEEPS):
        for codes, effect in zip(factors, effects, strict=True):
            grouped = pd.Series(residual).groupby(codes)
            middle, size = grouped.median(), grouped.size()
            step = np.zeros_like(effect)
            step[middle.index] = np.where(size >= _GROUP, middle, 0.0)
            effect += step
            residual = residual - step[codes]
    for codes, effect in zip(factors, effects, strict=True):
        members = np.bincount(codes, minlength=len(effect))
        common = effect[members >= _GROUP]
        if np.ptp(common) > _FAR_APART if len(common) else len(effect) > 1:
            judged &= members[codes] >= _GROUP
    return log_prices - residual, judged


def slipped(log_prices: Floats, expected: Floats, judged: npt.NDArray[np.bool_]) -> npt.NDArray[np.int_]:
    """How many digits each price has too many (1, 2, 3) or too few (-1, -2, -3); 0 for a price that fits.

    A price counts as slipped when it lies at least four robust standard deviations off (from the median absolute
    deviation) and, at the same time, close to a power of ten off.
    """
    slips = np.zeros(len(log_prices), dtype=int)
    if len(log_prices) < _ENOUGH_ROWS:
        return slips
    residual = log_prices - expected
    scale = max(0.1, 1.4826 * float(np.median(np.abs(residual - np.median(residual)))))
    digits = np.rint(residual / math.log(10)).astype(int)
    off = np.abs(residual - digits * math.log(10))
    found = judged & (digits != 0) & (np.abs(digits) <= 3)
    found &= (np.abs(residual) >= 4 * scale) & (off <= min(0.5, 2.5 * scale))
    slips[found] = digits[found]
    return slips


def _groups(values: ObjectArray, role: Role, levels: tuple[str, ...]) -> Codes:
    if role in (Role.NUMBER, Role.SMOOTH, Role.COUNT):
        return _number_groups(np.asarray([np.nan if value is None else float(value) for value in values]))
    if role is Role.DATE:
        return _number_groups(np.asarray([np.nan if value is None else float(value.year) for value in values]))
    if role is Role.ORDINAL:
        place = {level: number for number, level in enumerate(levels)}
        return _pooled(np.asarray([-1 if value is None else place[value] for value in values]))
    return np.asarray(pd.factorize(values, use_na_sentinel=False)[0], dtype=np.intp)


def _number_groups(numbers: Floats) -> Codes:
    """Groups of about equal size, up to eight, by rank; equal numbers share a group; missing is group 0."""
    known = ~np.isnan(numbers)
    codes = np.zeros(len(numbers), dtype=np.intp)
    ranks = pd.Series(numbers[known]).rank(method="min").to_numpy() - 1
    groups = max(1, min(8, int(known.sum()) // 6))
    codes[known] = 1 + np.floor(ranks * groups / max(1, int(known.sum()))).astype(np.intp)
    return codes


def _pooled(places: npt.NDArray[np.int_]) -> Codes:
    """Ordered levels, rare ones joined to the next lower one (the lowest to the next higher); missing is group 0."""
    counts = np.bincount(places[places >= 0], minlength=1)
    group, groups, size = 0, np.zeros(len(counts), dtype=np.intp), 0
    for level, count in enumerate(counts):
        if count >= _GROUP and size >= _GROUP:
            group, size = group + 1, 0
        groups[level] = group
        size += int(count)
    return np.where(places >= 0, 1 + groups[np.maximum(places, 0)], 0).astype(np.intp)
