"""A fitted core: everything that an estimate needs, and nothing of the sales."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from valuation.regression.cells import CellTable, FloatArray
from valuation.regression.design import Block, Design
from valuation.regression.distribution import PriceDistribution, ScatterMix
from valuation.regression.heteroscedasticity import HOMOSCEDASTIC, Heteroscedasticity
from valuation.regression.interaction import INTERACTION, Interaction
from valuation.regression.joint import JointPrices
from valuation.regression.normal import ndtri
from valuation.regression.terms import Encoded, NumberTerm

_MOST_BEYOND = 5.0
"""Standard deviations outside the range past which an interval grows no more, so that a misprint stays finite."""


@dataclass(frozen=True)
class Rows:
    """Vehicles encoded through a frozen design.

    Attributes
    ----------
    matrix : ndarray, shape (m, p)
        Columns, the interaction's among them.
    encoded : mapping of str to Encoded
        Per attribute.
    """

    matrix: FloatArray
    encoded: Mapping[str, Encoded]


@dataclass(frozen=True)
class Core:
    """The frozen result of a fit. Log units throughout; money appears in ``distribution`` only.

    Attributes
    ----------
    design : Design
        The terms.
    interaction : Interaction or None
        The interaction block.
    blocks : tuple of Block
        All blocks, the interaction's last.
    centre : float
        Taken off the log prices before the fit.
    coefficients, prior_mean : ndarray, shape (p,)
        Posterior and prior means.
    covariance : ndarray, shape (p, p)
        Posterior covariance, the uncertainty of the variances included.
    noise : float
        Variance of one sale around its median, in the middle of the table.
    block_variance : ndarray, shape (blocks,)
        Prior variance of each block, averaged over what the table leaves open.
    stretch : ndarray, shape (p,)
        What multiplies the prior standard deviation of its block for each coefficient; 1 but for a level that a model
        leaned on does not know.
    term_variance : mapping of str to float
        What not knowing each attribute adds to the variance, see ``unknown_effect_variance``.
    mix : ScatterMix
        How sales scatter.
    degrees_of_freedom : float or None
        Degrees of freedom of the tails; None for normal tails.
    heteroscedasticity : Heteroscedasticity
        How the scatter of one sale changes with the estimate and with ordered attributes.
    """

    design: Design
    interaction: Interaction | None
    blocks: tuple[Block, ...]
    centre: float
    coefficients: FloatArray
    prior_mean: FloatArray
    covariance: FloatArray
    noise: float
    block_variance: FloatArray
    stretch: FloatArray
    term_variance: Mapping[str, float]
    mix: ScatterMix
    degrees_of_freedom: float | None
    heteroscedasticity: Heteroscedasticity = HOMOSCEDASTIC

    def rows(self, X: CellTable) -> Rows:
        """Encode vehicles through the frozen design."""
        return encode_rows(self.design, self.interaction, X)

    def scatter(self, rows: Rows) -> FloatArray:
        """Standard deviation of one such sale around its median, shape (m,)."""
        estimate = self.location(rows) - self.centre
        return np.asarray(np.sqrt(self.noise) * self.heteroscedasticity.factor(estimate, rows.encoded))

    def location(self, rows: Rows) -> FloatArray:
        """Log of the median price, shape (m,)."""
        return np.asarray(self.centre + rows.matrix @ self.coefficients)

    def unknown_variance(self, rows: Rows) -> dict[str, FloatArray]:
        """What each attribute adds to the variance because a cell is empty, unseen or outside the table's range."""
        added: dict[str, FloatArray] = {}
        for term in self.design.terms:
            cells = rows.encoded[term.attribute]
            if not (cells.missing.any() or cells.unseen.any() or cells.beyond.any()):
                continue
            extra = np.asarray(cells.missing * self.term_variance[term.attribute], dtype=float)
            for block, variance in zip(self.blocks, self.block_variance, strict=True):
                if block.attribute != term.attribute:
                    continue
                if block.kind == "levels":
                    extra = extra + cells.unseen * variance
                elif isinstance(term, NumberTerm) and block.kind == term.line_kind + "_bend":
                    extra = extra + np.minimum(cells.beyond, _MOST_BEYOND) ** 2 * variance
                elif isinstance(term, NumberTerm) and block.kind == term.line_kind:
                    held = np.maximum(cells.beyond - term.allowance, 0.0)
                    slope = self.coefficients[block.start] ** 2
                    extra = extra + np.minimum(held, _MOST_BEYOND) ** 2 * slope
            if extra.any():
                added[term.attribute] = extra
        return added

    def distribution(self, rows: Rows) -> PriceDistribution:
        """Predictive distributions of the prices of m vehicles."""
        return self.around(self.location(rows), self.doubt(rows), self.scatter(rows))

    def around(self, location: FloatArray, doubt: FloatArray, scatter: FloatArray) -> PriceDistribution:
        """Predictive distributions from log medians, how well they are known, and the scatter of one sale.

        Parameters
        ----------
        location : ndarray of float, shape (m,)
            Log medians.
        doubt : ndarray of float, shape (m,)
            Their standard deviations, in logs.
        scatter : ndarray of float, shape (m,)
            Standard deviation of one sale, in logs.
        """
        return PriceDistribution(location, self.mix.spread(doubt, scatter), self.mix.weight)

    def doubt(self, rows: Rows) -> FloatArray:
        """Standard deviation of what is not known of the log median, empty and strange cells included, shape (m,)."""
        variance = self.fitted_variance(rows)
        for extra in self.unknown_variance(rows).values():
            variance = variance + extra
        return np.sqrt(np.maximum(variance, 1e-16))

    def mean_distribution(self, rows: Rows) -> PriceDistribution:
        """Distributions of the median price itself: what the average of many such sales would settle."""
        return PriceDistribution.log_normal(self.location(rows), self.mix.caution * self.doubt(rows))

    def half_width(self, coverage: float) -> float:
        """Half width of the interval of an effect, in standard deviations."""
        return float(self.mix.caution * ndtri(0.5 + coverage / 2))

    def fitted_variance(self, rows: Rows) -> FloatArray:
        """Variance of the fitted log median, shape (m,)."""
        return np.asarray(np.einsum("ij,ij->i", rows.matrix @ self.covariance, rows.matrix))

    def joint(self, rows: Rows) -> JointPrices:
        """The m rows as states of one vehicle."""
        covariance = rows.matrix @ self.covariance @ rows.matrix.T
        for extra in self.unknown_variance(rows).values():
            root = np.sqrt(extra)
            covariance = covariance + np.outer(root, root)
        return JointPrices(self.location(rows), covariance, self.scatter(rows), self.mix)

    def parts(self) -> dict[str, slice]:
        """Columns of each line of the estimate: every attribute, then the interaction where there is one."""
        found = {term.attribute: self.design.columns_of(term.attribute) for term in self.design.terms}
        if self.interaction is not None:
            found[INTERACTION] = slice(self.blocks[-1].start, self.blocks[-1].stop)
        return found

    def prior_variance(self) -> FloatArray:
        """Prior variance of each coefficient; infinite for the intercept, shape (p,)."""
        variance = np.full(len(self.coefficients), np.inf)
        for block, value in zip(self.blocks, self.block_variance, strict=True):
            variance[block.start : block.stop] = value
        return variance * self.stretch**2


def unknown_effect_variance(columns: FloatArray, coefficients: FloatArray, covariance: FloatArray) -> float:
    """What not knowing an attribute adds to the variance, from its columns for the table's sales, shape (n, k).

    The spread of its contribution over the sales and the average uncertainty of the contribution itself (the law of
    total variance): without the second part an empty cell would narrow the interval of an attribute worth little.

    Parameters
    ----------
    columns : ndarray, shape (n, k)
        The attribute's columns for the table's sales.
    coefficients : ndarray, shape (k,)
        Posterior means, log units.
    covariance : ndarray, shape (k, k)
        Their covariance, log units squared.
    """
    uncertain = float(np.einsum("ij,ij->i", columns @ covariance, columns).mean())
    return float((columns @ coefficients).var()) + uncertain


def encode_rows(design: Design, interaction: Interaction | None, X: CellTable) -> Rows:
    """Encode rows, a table or plain arrays by attribute, through the terms and the interaction where there is one.

    Parameters
    ----------
    design : Design
        The frozen terms.
    interaction : Interaction or None
        The interaction block.
    X : DataFrame or mapping of str to array, m rows
        Raw cells by attribute.
    """
    encoded = design.encode(X)
    rows = len(X) if isinstance(X, pd.DataFrame) else max((len(cells) for cells in X.values()), default=0)
    matrix = design.matrix(encoded, rows)
    if interaction is not None:
        matrix = np.hstack([matrix, interaction.columns(design, encoded, matrix)])
    return Rows(matrix, encoded)
