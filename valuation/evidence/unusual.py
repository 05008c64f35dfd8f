"""Unusual sales: those that the fit explains badly, or that pull it more than others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError, shortlist
from valuation.notes import Note

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class InfluenceFigures:
    """Figures of each sale from its residual and its leverage.

    Attributes
    ----------
    internal : ndarray of float, shape (n_sales,)
        Residual over its standard error, with the error variance from all sales.
    external : ndarray of float, shape (n_sales,)
        The same with the error variance from the other sales; ``inf`` (signed) where those leave no error at all.
    cook : ndarray of float, shape (n_sales,)
        Cook's distance: how far all fitted values move when the sale is left out.
    """

    internal: Array
    external: Array
    cook: Array


@dataclass(frozen=True, slots=True)
class UnusualSale:
    """A sale that lies farther from its fitted price than chance explains.

    Attributes
    ----------
    name : str
        Name of the sale.
    times_expected : float
        Price over fitted price.
    studentised : float
        Its externally studentised residual.
    probability : float
        Chance of a sale this far out among all of them, if errors were normal (Bonferroni).
    """

    name: str
    times_expected: float
    studentised: float
    probability: float


def influence_figures(residuals: npt.ArrayLike, leverage: npt.ArrayLike, parameters: float) -> InfluenceFigures:
    """Studentised residuals and Cook's distance of every sale, without refitting.

    Parameters
    ----------
    residuals, leverage : array_like of float, shape (n_sales,)
        Log residuals and the diagonal of the hat matrix, each in [0, 1).
    parameters : float
        Coefficients of the fit, or its effective number (the sum of the leverages) when penalised; below n_sales - 1.

    Returns
    -------
    InfluenceFigures

    Raises
    ------
    EvidenceError
        If lengths differ, a leverage lies outside [0, 1), or no degree of freedom is left.

    References
    ----------
    .. [1] R. D. Cook (1977), "Detection of influential observation in linear regression", Technometrics 19, 15-18.
    .. [2] D. A. Belsley, E. Kuh and R. E. Welsch, Regression Diagnostics, 1980, chapter 2.

    Examples
    --------
    >>> figures = influence_figures([1.0, -1.0, 0.0], [1 / 3] * 3, parameters=1)
    >>> figures.cook.round(3).tolist()
    [0.75, 0.75, 0.0]
    """
    residual, hat = np.asarray(residuals, dtype=float).ravel(), np.asarray(leverage, dtype=float).ravel()
    n = residual.size
    if hat.size != n or not np.isfinite(residual).all() or not ((hat >= 0) & (hat < 1)).all():
        raise EvidenceError(
            f"Cannot measure influence: {n} residuals and {hat.size} leverages found, or a leverage outside 0 to 1. "
            "One leverage below 1 for each finite residual is needed. Leave out a sale that the fit reproduces exactly."
        )
    if not 0 < parameters < n - 1:
        raise EvidenceError(
            f"Cannot measure influence: {parameters:g} coefficients against {n} sales leave no degree of freedom. "
            "More sales or fewer attributes are needed."
        )
    df = n - parameters
    variance = float(residual @ residual) / df
    if variance == 0:
        return InfluenceFigures(np.zeros(n), np.zeros(n), np.zeros(n))
    internal = residual / np.sqrt(variance * (1 - hat))
    others = np.maximum(df - internal**2, 0.0) / (df - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        external = np.where(internal == 0, 0.0, internal / np.sqrt(others))
    return InfluenceFigures(internal, external, internal**2 * hat / (1 - hat) / parameters)


def unusual_sales(
    residuals: npt.ArrayLike,
    leverage: npt.ArrayLike,
    parameters: float,
    names: Sequence[str],
    chance: float = 0.05,
) -> tuple[UnusualSale, ...]:
    """Sales farther from their fitted price than the most unusual of as many normal ones would be.

    Parameters
    ----------
    residuals, leverage, parameters
        As for `influence_figures`; log residuals are log price less fitted log price.
    names : sequence of str, shape (n_sales,)
        Name of each sale.
    chance : float
        Largest chance, among all sales together, at which a sale is named.

    Returns
    -------
    tuple of UnusualSale
        Least likely first.

    Raises
    ------
    EvidenceError
        As for `influence_figures`, or when the names do not fit.

    Notes
    -----
    The outlier test by the largest externally studentised residual against a t law with Bonferroni's correction.

    References
    ----------
    .. [1] S. Weisberg, Applied Linear Regression, 3rd ed., 2005, section 9.1.

    Examples
    --------
    >>> residuals = [0.1, -0.1, 0.12, -0.08, 0.05, -0.11, 0.09, -0.07, 1.0, -0.9]
    >>> unusual_sales(residuals, [0.2] * 10, 2, [f"sale {i}" for i in range(10)])
    ()
    """
    from scipy.special import stdtr

    figures = influence_figures(residuals, leverage, parameters)
    residual = np.asarray(residuals, dtype=float).ravel()
    n = residual.size
    if len(names) != n:
        raise EvidenceError(
            f"Cannot name unusual sales: {len(names)} names for {n} sales. One name for each sale is needed."
        )
    single = 2 * stdtr(n - parameters - 1, -np.abs(figures.external))
    together = np.minimum(1.0, n * single)
    found = [i for i in np.argsort(together, kind="stable") if together[i] < chance]
    return tuple(
        UnusualSale(str(names[i]), float(np.exp(residual[i])), float(figures.external[i]), float(together[i]))
        for i in found
    )


def unusual_note(found: tuple[UnusualSale, ...]) -> Note | None:
    """Name the unusual sales in words; ``None`` when there is none."""
    if not found:
        return None
    named = shortlist([f"{sale.name} ({sale.times_expected:.2f} times what the table explains)" for sale in found])
    return Note(
        "unusual_sales",
        f"Not explained by the table: {named}. Look at them first: an entry mistake, something that the table does not "
        "record, or a wild day at auction.",
    )
