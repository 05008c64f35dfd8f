"""Keeping the expected direction: a better grade is never worth less.

The coefficients fitted with each set of variances are projected, in the metric of their own posterior, onto the set
where every step runs the expected way; this is the optimum of the same penalised fit under those inequalities. Steps
that would have run the other way become level, and the posterior is conditioned on that, so the closed forms go on
holding.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from valuation.regression.cells import FloatArray
from valuation.regression.design import Design
from valuation.regression.mixed import Posterior
from valuation.regression.mixture import Mixture
from valuation.regression.terms import FlagTerm, NumberTerm, OrdinalTerm
from valuation.schema.attributes import Attribute
from valuation.year import DAYS_PER_YEAR

_TOLERANCE = 1e-9
"""Log price by which an order may be missed through rounding alone."""

_PIECES = 24
"""Pieces of a number's range over which its curve is kept from running the other way."""


def direction_rows(design: Design, attributes: Mapping[str, Attribute], columns: int) -> tuple[FloatArray, list[str]]:
    """Rows c with c'b >= 0 wherever the direction is kept, shape (m, columns), and the attribute of each.

    Parameters
    ----------
    design : Design
        The terms.
    attributes : mapping of str to Attribute
        By name; their direction is read.
    columns : int
        Columns of the whole fit, the interaction's among them.
    """
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
                row[start] = sign / term.scale
                if len(term.levels) > 2:
                    row[start + 1 + step] = sign / term.step_scale
                rows.append(row)
                owners.append(term.attribute)
        elif isinstance(term, FlagTerm):
            row = np.zeros(columns)
            row[start] = sign / term.scale
            rows.append(row)
            owners.append(term.attribute)
        elif isinstance(term, NumberTerm):
            slopes = _slopes(term)
            row_block = np.zeros((len(slopes), columns))
            row_block[:, start : start + slopes.shape[1]] = sign * slopes / term.scale
            rows.extend(row_block)
            owners += [term.attribute] * len(slopes)
    return (np.array(rows) if rows else np.zeros((0, columns))), owners


def _slopes(term: NumberTerm) -> FloatArray:
    """Slope of the term's columns over pieces of the table's range, and past its end, per standardised unit."""
    beyond = np.zeros((1, sum(width for _, width in term.kinds)))
    beyond[0, 0] = 1.0
    if not term.bend_map.size:
        return beyond
    places = np.linspace(term.low, term.high, _PIECES + 1)
    steps = np.diff(term.encode(_cells_at(term, places)).matrix, axis=0) / np.diff(places)[:, None]
    return np.vstack([steps, beyond]) if term.allowance else steps


def _cells_at(term: NumberTerm, places: FloatArray) -> pd.Series:
    """Raw cells that stand at the given places on the term's standardised axis."""
    x = places * term.scale + term.centre
    if term.is_date:
        return pd.Series(pd.Timestamp("2000-01-01") + pd.to_timedelta(x * DAYS_PER_YEAR, unit="D"))
    return pd.Series(np.exp(x) if term.logged else x)


def keep_direction(mixture: Mixture, prior_mean: FloatArray, rows: FloatArray) -> tuple[Mixture, list[int]]:
    """Condition each part of a mixture on the steps that have to be held level.

    Every part keeps the direction by itself, so their average does too.

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
        Rows held level in parts that together weigh half or more.
    """
    held = [_binding(part, prior_mean, rows) for part in mixture.parts]
    if not any(held):
        return mixture, []
    parts = tuple(
        _condition(part, prior_mean, rows[mine]) if mine else part
        for part, mine in zip(mixture.parts, held, strict=True)
    )
    share = np.zeros(len(rows))
    for weight, mine in zip(mixture.weight, held, strict=True):
        share[mine] += weight
    return Mixture(mixture.weight, mixture.log_sd, parts), np.flatnonzero(share >= 0.5).tolist()


def _binding(part: Posterior, prior_mean: FloatArray, rows: FloatArray) -> list[int]:
    """Inequalities that bind at the projection of one part, none where it keeps the direction already.

    Least distance programming by non-negative least squares (Lawson and Hanson 1974, *Solving Least Squares Problems*,
    ch. 23), on coefficients made independent by the root of their covariance.
    """
    from scipy.optimize import nnls

    steps = rows @ (part.mean + prior_mean)
    worst = -float(steps.min()) if len(steps) else 0.0
    if worst < _TOLERANCE:
        return []
    # In units of the worst step, and of each row's own length, so that no row is lost in rounding.
    inner = rows @ np.linalg.cholesky(part.covariance)
    length = np.maximum(np.sqrt((inner**2).sum(axis=1)), 1e-12)
    system = np.vstack([(inner / length[:, None]).T, -steps / length / np.max(-steps / length)])
    multipliers, _ = nnls(system, np.append(np.zeros(len(system) - 1), 1.0), maxiter=30 * len(rows))
    return [int(i) for i in np.flatnonzero(multipliers > 0)]


def _condition(part: Posterior, prior_mean: FloatArray, rows: FloatArray) -> Posterior:
    """Posterior given that the steps in ``rows`` are level."""
    cross = part.covariance @ rows.T
    scatter = rows @ cross
    scatter[np.diag_indices_from(scatter)] += 1e-12 * np.trace(scatter)
    gain = np.linalg.solve(scatter, cross.T).T
    mean = part.mean - gain @ (rows @ (part.mean + prior_mean))
    covariance = part.covariance - gain @ cross.T
    return Posterior(mean, (covariance + covariance.T) / 2, part.noise)
