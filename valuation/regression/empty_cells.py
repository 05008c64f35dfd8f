"""Empty cells in the table: a sale of which something is not known scatters more around its estimate.

A row of zeros stands for an empty cell, so what the attribute is worth lands in that sale's error. Such a sale gets the
weight s^2 / (s^2 + u), with u the variance of what is not known (weighted least squares for errors of unequal, known
variance ratios: Aitken 1936, *Proceedings of the Royal Society of Edinburgh* 55, 42-48); otherwise it would pass for
scatter of every sale, and the intervals of vehicles that are fully known would be too wide.
"""

from __future__ import annotations

import numpy as np

from valuation.regression.cells import FloatArray
from valuation.regression.core import Rows, unknown_effect_variance
from valuation.regression.design import Design


def has_empty_cells(rows: Rows) -> bool:
    """Whether any sale has one."""
    return any(bool(cells.missing.any()) for cells in rows.encoded.values())


def unknown_effects(
    design: Design, rows: Rows, coefficients: FloatArray, covariance: FloatArray
) -> tuple[dict[str, float], FloatArray]:
    """What not knowing each attribute adds to the variance, and what each sale's empty cells add to it.

    Parameters
    ----------
    design : Design
        The terms.
    rows : Rows
        The sales, encoded.
    coefficients, covariance : ndarray, shapes (p,) and (p, p)
        Of the present fit.

    Returns
    -------
    dict of str to float
        By attribute, from the sales that tell it; log units squared.
    ndarray, shape (n,)
        Sum over the empty cells of each sale; log units squared.
    """
    by_attribute: dict[str, float] = {}
    by_sale = np.zeros(len(rows.matrix))
    for term in design.terms:
        columns = design.columns_of(term.attribute)
        empty = rows.encoded[term.attribute].missing
        known = rows.matrix[~empty, columns] if empty.any() and not empty.all() else rows.matrix[:, columns]
        variance = unknown_effect_variance(known, coefficients[columns], covariance[columns, columns])
        by_attribute[term.attribute] = variance
        by_sale += empty * variance
    return by_attribute, by_sale
