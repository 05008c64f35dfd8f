"""Keeping the expected direction: a better grade is never worth less.

The fitted coefficients are projected, in the metric of their own posterior, onto the set where every step runs the
expected way; this is the optimum of the same penalised fit under those inequalities. Steps that would have run the
other way become level, and the posterior is conditioned on that, so the closed forms go on holding.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.linalg import solve_triangular

from valuation.regression.design import Design
from valuation.regression.mixed import FloatArray, Posterior
from valuation.regression.mixture import Mixture
from valuation.regression.terms import FlagTerm, NumberTerm, OrdinalTerm
from valuation.schema.attributes import Attribute

_TOLERANCE = 1e-9


def direction_rows(design: Design, attributes: Mapping[str, Attribute], columns: int) -> tuple[FloatArray, list[str]]:
    """Rows c with c'b >= 0 wherever the direction is kept, shape (m, columns), and the attribute of each."""
    rows: list[FloatArray] = []
    owners: list[str] = []
    for term in design.terms:
        direction = attributes[term.attribute].direction
        if direction is None:
            continue
        sign = 1.0 if direction == "up" else -1.0
        start = design.columns_of(term.attribute).start
        if isinstance(term, OrdinalTerm):
            for step in range(len(term.levels) - 1):
                row = np.zeros(columns)
                row[start] = sign / term.spread
                if len(term.levels) > 2:
                    row[start + 1 + step] = sign / term.step_scale
                rows.append(row)
                owners.append(term.attribute)
        elif isinstance(term, FlagTerm | NumberTerm):
            row = np.zeros(columns)
            row[start] = sign / term.spread
            rows.append(row)
            owners.append(term.attribute)
    return (np.array(rows) if rows else np.zeros((0, columns))), owners


def keep_direction(mixture: Mixture, prior_mean: FloatArray, rows: FloatArray) -> tuple[Mixture, list[int]]:
    """Condition a mixture on the steps that have to be held level.

    Parameters
    ----------
    mixture : Mixture
        The free fit.
    prior_mean : ndarray, shape (p,)
        Prior means that the mixture's coefficients deviate from.
    rows : ndarray, shape (m, p)
        Directions, from ``direction_rows``.

    Returns
    -------
    Mixture
        The conditioned fit; the same object when nothing is held.
    list of int
        Rows held level.
    """
    held: list[int] = []
    current = mixture
    for _ in range(len(rows) + 1):
        steps = rows @ (current.mean() + prior_mean)
        violated = [i for i in np.flatnonzero(steps < -_TOLERANCE).tolist() if i not in held]
        if not violated:
            break
        held = _binding(mixture, prior_mean, rows) if not held else held + violated
        parts = tuple(_condition(part, prior_mean, rows[held]) for part in mixture.parts)
        current = Mixture(mixture.weight, mixture.log_sd, parts)
    return current, sorted(held)


def _binding(mixture: Mixture, prior_mean: FloatArray, rows: FloatArray) -> list[int]:
    """Inequalities that bind at the projection: the support of the dual, a non-negative least squares problem."""
    from scipy.optimize import nnls

    scatter = rows @ mixture.covariance() @ rows.T
    scatter[np.diag_indices_from(scatter)] += 1e-10 * np.trace(scatter)
    root = np.linalg.cholesky(scatter)
    gap = solve_triangular(root, -(rows @ (mixture.mean() + prior_mean)), lower=True)
    multipliers, _ = nnls(root.T, gap)
    return [int(i) for i in np.flatnonzero(multipliers > 0)]


def _condition(part: Posterior, prior_mean: FloatArray, rows: FloatArray) -> Posterior:
    """Posterior given that the steps in ``rows`` are level."""
    reach = part.covariance @ rows.T
    scatter = rows @ reach
    scatter[np.diag_indices_from(scatter)] += 1e-12 * np.trace(scatter)
    gain = np.linalg.solve(scatter, reach.T).T
    mean = part.mean - gain @ (rows @ (part.mean + prior_mean))
    covariance = part.covariance - gain @ reach.T
    return Posterior(mean, (covariance + covariance.T) / 2, part.noise)
