"""Diagnostics of a fitted regression, and what each finding means for the prediction interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.collinearity import (
    BlockCollinearity,
    block_collinearity,
    collinearity_notes,
    condition_number,
)
from valuation.evidence.residual_checks import (
    Humps,
    SpreadTest,
    Tails,
    breusch_pagan,
    humps,
    tails,
    white_special,
)
from valuation.evidence.unusual import UnusualSale, unusual_note, unusual_sales
from valuation.notes import Note

Array = npt.NDArray[np.float64]
LEAST_SALES = 8
"""Fewer residuals than this say nothing about their own shape."""
CHANCE = 0.05
"""A finding is said when chance alone would bring it this seldom; shared by the two tests of the spread."""


@dataclass(frozen=True)
class Diagnostics:
    """Findings about a fitted regression.

    Attributes
    ----------
    n : int
        Sales.
    breusch_pagan, white : SpreadTest or None
        Whether the spread changes with the fitted price; ``None`` when fitted prices or residuals do not vary.
    typical_miss : tuple of float, or None
        Median miss in percent among the cheapest, middle and most expensive third by fitted price.
    tails : Tails or None
        Skewness, kurtosis, normality.
    humps : Humps or None
        Whether the misses fall into two groups.
    collinearity : tuple of BlockCollinearity
        For each attribute.
    condition_number : float
        Of the scaled design; above about 30 is called harmful for a fit without a penalty.
    unusual : tuple of UnusualSale
        Empty when no leverages were given.
    notes : tuple of Note
        What was found, and what it means for the interval; one quiet note when nothing was.
    """

    n: int
    breusch_pagan: SpreadTest | None
    white: SpreadTest | None
    typical_miss: tuple[float, float, float] | None
    tails: Tails | None
    humps: Humps | None
    collinearity: tuple[BlockCollinearity, ...]
    condition_number: float
    unusual: tuple[UnusualSale, ...]
    notes: tuple[Note, ...]


def diagnose(
    design: npt.ArrayLike,
    log_residuals: npt.ArrayLike,
    log_fitted: npt.ArrayLike,
    blocks: Sequence[str],
    *,
    leverage: npt.ArrayLike | None = None,
    names: Sequence[str] | None = None,
) -> Diagnostics:
    """Check a fitted log-price regression from plain arrays.

    Parameters
    ----------
    design : array_like or DataFrame of float, shape (n_sales, n_columns)
        Coded attributes without an intercept.
    log_residuals, log_fitted : array_like of float, shape (n_sales,)
        Log price less fitted log price, and the fitted log price, of the sold rows.
    blocks : sequence of str, shape (n_columns,)
        Attribute of each column, as people should read it.
    leverage : array_like of float, shape (n_sales,), optional
        Diagonal of the hat matrix; with it unusual sales are named.
    names : sequence of str, optional
        Name of each sale; ``row 1`` and so on when left out.

    Returns
    -------
    Diagnostics

    Raises
    ------
    TooFewSalesError
        If there are fewer than 8 sales.
    EvidenceError
        If shapes do not fit or a cell is not finite.

    Notes
    -----
    The spread is tested against the fitted price alone (Cook and Weisberg's score test with one variable, in Koenker's
    form), which also works with more columns than sales, and by the special form of White's test.

    References
    ----------
    .. [1] R. D. Cook and S. Weisberg (1983), "Diagnostics for heteroscedasticity in regression", Biometrika 70, 1-10.

    Examples
    --------
    >>> years = np.arange(24.0)
    >>> residuals = 0.02 * years * np.resize([1, -1, 0.5, -0.5], 24)
    >>> found = diagnose(years[:, None], residuals, 9 + 0.05 * years, ["model year"])
    >>> [note.code for note in found.notes]
    ['spread_grows']
    """
    residual, fitted, columns = _checked(design, log_residuals, log_fitted)
    n = residual.size
    even = float(np.ptp(residual)) <= 1e-9
    flat = float(np.ptp(fitted)) <= 1e-9
    collinear = block_collinearity(columns, blocks)
    score = white = miss = shape = two = None
    if not even and not flat:
        score, white, miss = breusch_pagan(residual, fitted), white_special(residual, fitted), _thirds(residual, fitted)
    if not even:
        shape, two = tails(residual), humps(residual)
    unusual: tuple[UnusualSale, ...] = ()
    if leverage is not None and not even:
        hat = np.asarray(leverage, dtype=float)
        unusual = unusual_sales(residual, hat, float(hat.sum()), names or [f"row {i + 1}" for i in range(n)])
    notes = [
        *([_no_misses()] if even else []),
        *_spread_notes(score, white, miss),
        *_shape_notes(shape, two),
        *collinearity_notes(collinear, n),
    ]
    stray = unusual_note(unusual)
    notes += [stray] if stray else []
    return Diagnostics(
        n=n,
        breusch_pagan=score,
        white=white,
        typical_miss=miss,
        tails=shape,
        humps=two,
        collinearity=collinear,
        condition_number=condition_number(columns),
        unusual=unusual,
        notes=tuple(notes) or (_quiet(n),),
    )


def _checked(
    design: npt.ArrayLike, log_residuals: npt.ArrayLike, log_fitted: npt.ArrayLike
) -> tuple[Array, Array, Array]:
    residual, fitted = (np.asarray(side, dtype=float).ravel() for side in (log_residuals, log_fitted))
    columns = np.asarray(design, dtype=float)
    if residual.size < LEAST_SALES:
        raise TooFewSalesError(
            f"Cannot check the fit: {residual.size} sold rows found, {LEAST_SALES} needed. Add sales."
        )
    if fitted.size != residual.size or columns.ndim != 2 or len(columns) != residual.size:
        raise EvidenceError(
            f"Cannot check the fit: {residual.size} residuals, {fitted.size} fitted values and a design of shape "
            f"{columns.shape} found. One row of each for every sale is needed. Hand over the same rows three times."
        )
    if not (np.isfinite(residual).all() and np.isfinite(fitted).all()):
        raise EvidenceError(
            "Cannot check the fit: a residual or a fitted value is not finite. Finite log prices are needed. Leave out "
            "unsold bids and asking prices."
        )
    return residual, fitted, columns


def _thirds(residual: Array, fitted: Array) -> tuple[float, float, float]:
    """Median absolute miss in percent by thirds of the fitted price."""
    order = np.argsort(fitted, kind="stable")
    low, middle, high = (float(100 * np.expm1(np.median(np.abs(residual[rows])))) for rows in np.array_split(order, 3))
    return low, middle, high


def _spread_notes(
    score: SpreadTest | None, white: SpreadTest | None, miss: tuple[float, float, float] | None
) -> list[Note]:
    if score is None or white is None or miss is None:
        return []
    if min(score.probability, white.probability) >= CHANCE / 2:
        return []
    cheap, middle, dear = miss
    seen = (
        f"Half of the misses are above {cheap:.0f} % among the cheapest third, {middle:.0f} % in the middle and "
        f"{dear:.0f} % among the most expensive."
    )
    # The middle third must not stand clearly outside the two ends, or the change has no one direction.
    one_way = cheap != dear and 0.8 * min(cheap, dear) <= middle <= 1.25 * max(cheap, dear)
    if score.probability >= CHANCE / 2 or not one_way:
        return [
            Note(
                "spread_uneven",
                f"The spread changes along the price range, but not in one direction. {seen} An interval of one width "
                "for all is too wide for some vehicles and too narrow for others.",
            )
        ]
    if dear > cheap:
        return [
            Note(
                "spread_grows",
                f"The spread grows with the price: an interval of one width for all is too wide for cheap and too "
                f"narrow for expensive vehicles. {seen}",
            )
        ]
    return [
        Note(
            "spread_shrinks",
            f"The spread shrinks as the price rises: an interval of one width for all is too narrow for cheap and too "
            f"wide for expensive vehicles. {seen}",
        )
    ]


def _shape_notes(shape: Tails | None, two: Humps | None) -> list[Note]:
    notes = []
    if two is not None and two.two:
        lower, upper = (100 * np.expm1(centre) for centre in two.centres)
        notes.append(
            Note(
                "two_humps",
                f"The misses fall into two groups, one around {lower:+.0f} % ({100 * two.shares[0]:.0f} % of the "
                f"sales) and one around {upper:+.0f} %: something that parts the vehicles is not in the table. The "
                "interval spans both groups and its middle is a price that few vehicles bring; look at which sales "
                "are high and add what they share as an attribute.",
            )
        )
    elif shape is not None and shape.probability < CHANCE:
        if shape.excess_kurtosis > 0:
            notes.append(
                Note(
                    "heavy_tails",
                    f"More sales lie far from their estimate than a bell curve would have (excess kurtosis "
                    f"{shape.excess_kurtosis:.1f}): most prices fall closer to the estimate than the interval "
                    "suggests, and the few that fall outside can miss by a lot.",
                )
            )
        if abs(shape.skewness) > 0.5:
            side, other = ("above", "below") if shape.skewness > 0 else ("below", "above")
            notes.append(
                Note(
                    "skewed",
                    f"Large misses lie mostly {side} the estimate (skewness {shape.skewness:+.1f}): prices can run "
                    f"farther {side} the interval than {other} it.",
                )
            )
    return notes


def _no_misses() -> Note:
    return Note(
        "no_misses",
        "Every sale is met exactly, so the misses have no shape to check: prices that are all equal or a table with as "
        "many attributes as sales tell nothing about the interval.",
    )


def _quiet(n: int) -> Note:
    limit = " A table of this size shows only strong departures." if n < 100 else ""
    return Note(
        "diagnostics_quiet",
        f"Nothing out of the ordinary was found in {n} sales: the spread does not change with the price, the misses "
        f"form one group, and no attributes stand in for each other.{limit}",
    )
