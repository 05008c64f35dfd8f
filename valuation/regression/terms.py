"""Terms: how one attribute becomes columns, learned once from the table and then frozen.

Each term turns a column of raw cells into centred columns scaled to about unit variance, so that one standard
deviation of a block's coefficients reads as log price per typical difference. A cell that tells nothing (missing, or a
level never seen) becomes a row of zeros: the table's average, with an interval wider by what the attribute is worth.
Where the table has empty cells, that a cell is empty has an effect of its own beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import pandas as pd

from valuation.errors import RegressionError, shortlist
from valuation.regression.cells import BoolArray, Cells, FloatArray, level_codes, standard_numbers

LINE_ALLOWANCE = 0.5
"""The line of a plain number, and drift, is followed past the table's range for this share of it, then held level;
smooths are held level at the range's ends."""

DRIFT_YEARS = 2.0
"""Drift is followed no longer than this past the newest sale."""


@dataclass(frozen=True, slots=True)
class Encoded:
    """Columns of one term for m rows.

    Attributes
    ----------
    matrix : ndarray, shape (m, p)
        The columns.
    missing : ndarray of bool, shape (m,)
        The cell was empty.
    unseen : ndarray of bool, shape (m,)
        The cell held a level that the table does not.
    beyond : ndarray, shape (m,)
        How far outside the table's range the cell lies, in standard deviations of the column; 0 inside.
    coordinates : ndarray, shape (m, c)
        Where the row stands on the term, for the interaction block; bounded.
    """

    matrix: FloatArray
    missing: BoolArray
    unseen: BoolArray
    beyond: FloatArray
    coordinates: FloatArray

    def __getitem__(self, kept: BoolArray) -> Encoded:
        """Some of the rows."""
        return Encoded(*(getattr(self, name)[kept] for name in self.__slots__))


class Term(Protocol):
    """What the design asks of a term."""

    @property
    def attribute(self) -> str:
        """Name of the attribute."""

    @property
    def kinds(self) -> tuple[tuple[str, int], ...]:
        """Blocks in order: kind and number of columns of each."""

    def encode(self, column: Cells) -> Encoded:
        """Columns for the given cells; never fails on a missing cell."""


def _with_missing(matrix: FloatArray, missing: BoolArray, share: float) -> FloatArray:
    """Add the column that marks a missing cell, where the table had some."""
    if share == 0.0:
        return matrix
    return np.column_stack([matrix, missing - share])


@dataclass(frozen=True)
class NumberTerm:
    """A number, year, count or date: a straight line and a bend shrunk towards it.

    The bend is a low-rank cubic smoothing spline (Ruppert, Wand and Carroll, *Semiparametric Regression*, 2003, ch. 5)
    with the straight line projected out, so that line and bend share nothing.
    """

    attribute: str
    line_kind: str
    is_date: bool
    logged: bool
    centre: float
    scale: float
    low: float
    high: float
    allowance: float
    knots: FloatArray
    bend_map: FloatArray
    projection: FloatArray
    missing_share: float

    @property
    def kinds(self) -> tuple[tuple[str, int], ...]:
        """Line, bend where there are knots enough, and missing where the table had empty cells."""
        found: list[tuple[str, int]] = [(self.line_kind, 1)]
        if self.bend_map.size:
            found.append((self.line_kind + "_bend", self.bend_map.shape[1]))
        if self.missing_share:
            found.append(("missing", 1))
        return tuple(found)

    def encode(self, column: Cells) -> Encoded:
        """Columns for the given cells."""
        x = standard_numbers(column, self.attribute, self.is_date)
        missing = np.isnan(x)
        if self.logged:
            with np.errstate(divide="ignore"):
                x = np.log(np.maximum(x, np.exp(self.low * self.scale + self.centre) / 10))
        s = np.where(missing, 0.0, (x - self.centre) / self.scale)
        inside = np.clip(s, self.low, self.high)
        line = np.clip(s, self.low - self.allowance, self.high + self.allowance)
        parts = [np.where(missing, 0.0, line)[:, None]]
        if self.bend_map.size:
            bend = spline_kernel(inside, self.knots) @ self.bend_map
            bend -= np.column_stack([np.ones_like(inside), inside]) @ self.projection
            parts.append(np.where(missing[:, None], 0.0, bend))
        matrix = _with_missing(np.column_stack(parts), missing, self.missing_share)
        beyond = np.where(missing, 0.0, np.abs(s - inside))
        coordinates = np.where(missing, 0.0, np.clip(inside, -2.5, 2.5))[:, None]
        return Encoded(matrix, missing, np.zeros(len(s), dtype=bool), beyond, coordinates)


@dataclass(frozen=True)
class OrdinalTerm:
    """Ordered levels: a straight trend over the scale and shrunken steps around it."""

    attribute: str
    levels: tuple[str, ...]
    centre: float
    scale: float
    step_shares: FloatArray
    step_scale: float
    missing_share: float
    missing_is_lowest: bool
    seen: tuple[str, ...] = field(default=())

    @property
    def kinds(self) -> tuple[tuple[str, int], ...]:
        """Trend, steps where there are three levels or more, and missing."""
        found: list[tuple[str, int]] = [("trend", 1)]
        if len(self.levels) > 2:
            found.append(("steps", len(self.levels) - 1))
        if self.missing_share:
            found.append(("missing", 1))
        return tuple(found)

    def encode(self, column: Cells) -> Encoded:
        """Columns for the given cells; an unknown level is refused by name."""
        codes = level_codes(column, self.levels)
        unknown = codes == -2
        if unknown.any():
            names = sorted({repr(v) for v in column[unknown].tolist()})
            raise RegressionError(
                f"Cannot place {shortlist(names)} on the scale of {self.attribute!r}. "
                f"Its levels are {', '.join(self.levels)}. Use one of them or leave the cell empty."
            )
        missing = codes == -1
        if self.missing_is_lowest:
            codes = np.where(missing, 0, codes)
            missing = np.zeros(len(codes), dtype=bool)
        trend = np.where(missing, 0.0, (codes - self.centre) / self.scale)
        parts = [trend[:, None]]
        if len(self.levels) > 2:
            steps = (codes[:, None] >= np.arange(1, len(self.levels))) - self.step_shares
            parts.append(np.where(missing[:, None], 0.0, steps / self.step_scale))
        matrix = _with_missing(np.column_stack(parts), missing, self.missing_share)
        seen = np.array([level in self.seen for level in self.levels])
        unseen = ~seen[codes] & ~missing
        zeros = np.zeros(len(codes))
        return Encoded(matrix, missing, unseen, zeros, np.clip(trend, -2.5, 2.5)[:, None])


@dataclass(frozen=True)
class NominalTerm:
    """Unordered levels, each an effect shrunk towards the average level."""

    attribute: str
    levels: tuple[str, ...]
    shares: FloatArray
    missing_share: float

    @property
    def kinds(self) -> tuple[tuple[str, int], ...]:
        """One block of levels, and missing."""
        found: list[tuple[str, int]] = [("levels", len(self.levels))]
        if self.missing_share:
            found.append(("missing", 1))
        return tuple(found)

    def encode(self, column: Cells) -> Encoded:
        """Columns for the given cells; a level never seen becomes the average level."""
        codes = level_codes(column, self.levels)
        known = codes >= 0
        hot = (codes[:, None] == np.arange(len(self.levels))).astype(float)
        centred = np.where(known[:, None], hot - self.shares, 0.0)
        missing = codes == -1
        matrix = _with_missing(centred, missing, self.missing_share)
        return Encoded(matrix, missing, codes == -2, np.zeros(len(codes)), centred)


@dataclass(frozen=True)
class FlagTerm:
    """Yes or no."""

    attribute: str
    share: float
    scale: float
    missing_share: float

    @property
    def kinds(self) -> tuple[tuple[str, int], ...]:
        """One column, and missing."""
        return (("flag", 1), ("missing", 1)) if self.missing_share else (("flag", 1),)

    def encode(self, column: Cells) -> Encoded:
        """Columns for the given cells."""
        x = standard_numbers(column, self.attribute, is_date=False)
        missing = np.isnan(x)
        centred = np.where(missing, 0.0, (x - self.share) / self.scale)
        matrix = _with_missing(centred[:, None], missing, self.missing_share)
        zeros = np.zeros(len(x))
        return Encoded(matrix, missing, np.zeros(len(x), dtype=bool), zeros, np.clip(centred, -2.5, 2.5)[:, None])


def spline_kernel(s: FloatArray, knots: FloatArray) -> FloatArray:
    """Covariance of the cubic smoothing spline (integrated Brownian motion) between points and knots.

    Both on the standardised axis, shifted so that the lowest knot is the origin; shape (len(s), len(knots)).
    Source: Wahba, *Spline Models for Observational Data*, 1990, section 1.2.

    Parameters
    ----------
    s : ndarray, shape (m,)
        Points.
    knots : ndarray, shape (k,)
        Rising.
    """
    a = np.maximum(s - knots[0], 0.0)[:, None]
    b = (knots - knots[0])[None, :]
    low, high = np.minimum(a, b), np.maximum(a, b)
    return np.asarray(low**2 * (3 * high - low) / 6)


def number_term(
    column: pd.Series,
    attribute: str,
    line_kind: str,
    *,
    is_date: bool = False,
    logged: bool = False,
    max_knots: int = 8,
) -> NumberTerm:
    """Learn a number's centre, scale, range and bend from the table's cells.

    Parameters
    ----------
    column : Series, shape (n,)
        Raw cells.
    attribute, line_kind : str
        Name of the attribute; kind of its block: ``line``, ``curve`` or ``drift``.
    is_date, logged : bool
        Whether the cells are dates; whether the number enters as its log.
    max_knots : int
        Of the bend.
    """
    x = standard_numbers(column, attribute, is_date)
    missing = np.isnan(x)
    x = x[~missing]
    if logged:
        x = np.log(x)
    centre, scale = (float(x.mean()), float(x.std())) if len(x) else (0.0, 1.0)
    if not scale > 1e-12 * max(1.0, abs(centre)):
        scale = 1.0
    s = (x - centre) / scale
    low, high = (float(s.min()), float(s.max())) if len(s) else (0.0, 0.0)
    knots, bend_map, projection = _bend(s, max_knots)
    share = float(missing.mean()) if len(missing) else 0.0
    allowance = LINE_ALLOWANCE * (high - low) if line_kind in ("line", "drift") else 0.0
    if is_date:
        allowance = min(allowance, DRIFT_YEARS / scale)
    return NumberTerm(
        attribute, line_kind, is_date, logged, centre, scale, low, high, allowance, knots, bend_map, projection, share
    )


def _bend(s: FloatArray, max_knots: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Knots, the map from kernel values to columns of about unit variance together, and the line taken out of them."""
    none = np.empty((0, 0))
    values = np.unique(s)
    if len(values) < 4:
        return np.empty(0), none, none
    if len(values) > max_knots + 1:
        values = np.unique(np.quantile(values, np.linspace(0, 1, max_knots + 1)))
    kernel = spline_kernel(values[1:], values)[:, 1:]
    eigenvalues, vectors = np.linalg.eigh(kernel)
    keep = eigenvalues > 1e-9 * eigenvalues[-1]
    bend_map = vectors[:, keep] / np.sqrt(eigenvalues[keep])
    bend_map = np.vstack([np.zeros(bend_map.shape[1]), bend_map])
    line = np.column_stack([np.ones_like(s), s])
    raw = spline_kernel(s, values) @ bend_map
    projection = np.linalg.lstsq(line, raw, rcond=None)[0]
    scale = np.sqrt(((raw - line @ projection) ** 2).sum(axis=1).mean())
    if not scale > 1e-9:
        return np.empty(0), none, none
    # Row by row in memory, as a loaded model has it: another layout would sum in another order.
    return values, np.ascontiguousarray(bend_map / scale), np.ascontiguousarray(projection / scale)


def ordinal_term(
    column: pd.Series, attribute: str, levels: tuple[str, ...], *, missing_is_lowest: bool = False
) -> OrdinalTerm:
    """Learn an ordered scale's centre and shares from the table's cells.

    Parameters
    ----------
    column : Series, shape (n,)
        Raw cells.
    attribute : str
        Its name.
    levels : tuple of str
        Rising.
    missing_is_lowest : bool
        Whether an empty cell stands for the lowest level.
    """
    codes = level_codes(column, levels)
    missing = codes == -1
    if missing_is_lowest:
        codes, missing = np.where(missing, 0, codes), np.zeros(len(codes), dtype=bool)
    known = codes[codes >= 0]
    centre, scale = (float(known.mean()), float(known.std())) if len(known) else (0.0, 1.0)
    scale = scale if scale > 0 else 1.0
    reached = known[:, None] >= np.arange(1, len(levels))
    shares = reached.mean(axis=0) if len(known) else np.zeros(len(levels) - 1)
    step_scale = float(np.sqrt((shares * (1 - shares)).sum()))
    seen = tuple(levels[code] for code in np.unique(known))
    share = float(missing.mean()) if len(missing) else 0.0
    return OrdinalTerm(attribute, levels, centre, scale, shares, step_scale or 1.0, share, missing_is_lowest, seen)


def nominal_term(column: pd.Series, attribute: str, more: tuple[str, ...] = ()) -> NominalTerm:
    """Learn an unordered attribute's levels and their shares from the table's cells.

    Parameters
    ----------
    column : Series, shape (n,)
        Raw cells.
    attribute : str
        Its name.
    more : tuple of str
        Levels that are known besides.
    """
    present = column.dropna().astype(str)
    levels = tuple(sorted({*present.unique(), *more}))
    shares = np.array([(present == level).mean() for level in levels], dtype=float)
    return NominalTerm(attribute, levels, shares, float(column.isna().mean()) if len(column) else 0.0)


def flag_term(column: pd.Series, attribute: str) -> FlagTerm:
    """Learn a flag's share of yes from the table's cells.

    Parameters
    ----------
    column : Series, shape (n,)
        Raw cells.
    attribute : str
        Its name.
    """
    x = standard_numbers(column, attribute, is_date=False)
    missing = np.isnan(x)
    share = float(x[~missing].mean()) if (~missing).any() else 0.0
    scale = float(np.sqrt(share * (1 - share))) if 0 < share < 1 else 1.0
    return FlagTerm(attribute, share, scale, float(missing.mean()) if len(missing) else 0.0)
