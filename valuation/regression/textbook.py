"""The textbook fit as a core: the design's independent columns, penalties off, t intervals."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.regression.core import Core, encode_rows, unknown_effect_variance
from valuation.regression.design import Design, learn_term
from valuation.regression.fit import Fit
from valuation.regression.leave_one_out import leave_one_out
from valuation.regression.mixed import Posterior
from valuation.regression.mixture import Mixture
from valuation.regression.plain_fit import fit_plain
from valuation.regression.shape import student_curve
from valuation.regression.terms import FloatArray
from valuation.schema.attributes import Attribute


def fit_textbook(X: pd.DataFrame, low: FloatArray, high: FloatArray, attributes: tuple[Attribute, ...]) -> Fit:
    """Fit log prices on straight lines, steps and levels without penalties.

    Parameters
    ----------
    X : DataFrame, shape (n, attributes)
        Raw cells.
    low, high : ndarray, shape (n,)
        Log prices; equal where sold, infinite on an open side.
    attributes : tuple of Attribute
        One for each column of ``X``.

    Raises
    ------
    RegressionError
        If columns repeat each other or outnumber the sales.
    """
    exact = low == high
    centre = float(np.median(low[exact]))
    design = Design.of(tuple(learn_term(X[attribute.name], attribute) for attribute in attributes))
    rows = encode_rows(design, None, X)
    kept = independent_columns(design, rows.matrix)
    plain, _ = fit_plain(rows.matrix[:, kept], low - centre, high - centre)
    p = design.n_columns
    coefficients, covariance = np.zeros(p), np.zeros((p, p))
    coefficients[kept] = plain.coefficients
    covariance[np.ix_(kept, kept)] = plain.covariance
    mixture = Mixture(np.ones(1), np.zeros((1, 1)), (Posterior(coefficients, covariance, plain.noise),))
    response = np.where(exact, low, centre + rows.matrix @ coefficients)
    weight = np.where(exact, 1.0, 1e-9)
    left = leave_one_out(rows.matrix, response - centre, weight, mixture)
    variances = {
        t.attribute: unknown_effect_variance(rows.matrix[:, s], coefficients[s], covariance[s, s])
        for t in design.terms
        for s in [design.columns_of(t.attribute)]
    }
    core = Core(
        design=design,
        combination=None,
        blocks=design.blocks,
        centre=centre,
        coefficients=coefficients,
        prior_mean=np.zeros(p),
        covariance=covariance,
        noise=plain.noise,
        block_variance=np.array([variances[block.attribute] for block in design.blocks]),
        term_variance=variances,
        curve=student_curve(plain.freedom),
        freedom=None,
    )
    left = type(left)(left.mean + centre, left.scale, left.log_density, left.leverage)
    return Fit(core, rows, response, weight, exact, left, mixture, ())


def independent_columns(design: Design, matrix: FloatArray) -> npt.NDArray[np.int64]:
    """The intercept, lines without bends, steps without trend, levels but the first; none constant."""
    kept = [0]
    for block in design.blocks:
        columns = range(block.start, block.stop)
        if block.kind.endswith("_bend") or (block.kind == "trend" and _has_steps(design, block.attribute)):
            continue
        kept += [c for c in (columns[1:] if block.kind == "levels" else columns) if np.ptp(matrix[:, c]) > 0]
    return np.array(kept, dtype=np.int64)


def _has_steps(design: Design, attribute: str) -> bool:
    return any(block.attribute == attribute and block.kind == "steps" for block in design.blocks)
