"""The newest sales against the trend: a market that turned is seen late, since a bend of the drift is expected small.

The newest sales get a level of their own beside the fit: one more column, whose coefficient nothing draws towards
nought. The variances stay those of the fit, but the bend of the drift counts for no more than was expected of it before
the table spoke: a market that turned would else have taught the older sales that markets turn.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from valuation.notes import Note
from valuation.regression.cells import BoolArray
from valuation.regression.mixed import solve
from valuation.regression.settle import sums_of
from valuation.regression.terms import NumberTerm
from valuation.text.spelling import counted
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.regression.fit import Basis, Fit

NEWEST_YEARS = 0.5
"""How far back from the newest sale sales count as the newest; a choice."""

LEAST_NEWEST = 4
"""Fewer are one buyer's luck."""

LEAST_LEFT = 0.01
"""Log units by which estimates must still lie off the newest sales; else they follow them and nothing is to be done."""

STANDARD_ERRORS = 1.64
"""From which a shift is named: of flat markets one in thirty is, by chance; see benchmarks/accuracy/TRIED.md."""


@dataclass(frozen=True, slots=True)
class NewestSales:
    """How the newest sales lie to what the older ones lead to expect.

    Attributes
    ----------
    sales : int
        How many there are.
    since : Timestamp
        Day of the first of them.
    shift, error : float
        How far they lie over what the others lead to expect, and its standard error, log units.
    left : float
        How far they lie over the estimates as these stand, which follow them in part, log units.
    """

    sales: int
    since: pd.Timestamp
    shift: float
    error: float
    left: float


def newest_sales(fit: Fit) -> NewestSales | None:
    """The newest sales of a fit; None without dates, or where there are few, or more than all others."""
    core = fit.core
    term = next((term for term in core.design.terms if isinstance(term, NumberTerm) and term.is_date), None)
    if term is None:
        return None
    years = fit.rows.matrix[:, core.design.columns_of(term.attribute).start] * term.scale + term.centre
    dated = fit.exact & ~fit.rows.encoded[term.attribute].missing
    if not dated.any():
        return None
    newest = dated & (years > years[dated].max() - NEWEST_YEARS)
    many = int(newest.sum())
    if many < LEAST_NEWEST or 2 * many > int(dated.sum()):
        return None
    own_level, error = _own_level(fit.basis, newest)
    matrix, weight = fit.rows.matrix[newest], fit.weight[newest]
    over = fit.response[newest] - core.centre - matrix @ core.coefficients
    since = pd.Timestamp("2000-01-01") + pd.Timedelta(days=round(DAYS_PER_YEAR * float(years[newest].min())))
    return NewestSales(many, since, own_level, error, float(weight @ over / weight.sum()))


def _own_level(basis: Basis, newest: BoolArray) -> tuple[float, float]:
    """Coefficient of a column that is 1 for the newest sales and 0 for all others, and its standard error."""
    structure = basis.structure
    prior = structure.prior
    wider = replace(
        structure,
        rows=replace(structure.rows, matrix=np.column_stack([newest.astype(float), structure.rows.matrix])),
        blocks=tuple(replace(block, start=block.start + 1, stop=block.stop + 1) for block in structure.blocks),
        prior=replace(prior, mean=np.append(0.0, prior.mean), stretch=np.append(1.0, prior.stretch)),
    )
    bends = np.array([False, *(block.kind == "drift_bend" for block in structure.blocks)])
    log_sd = np.where(bends, np.minimum(basis.log_sd, prior.variances.log_mean), basis.log_sd)
    posterior = solve(sums_of(wider, basis.observations), log_sd)[2]
    return float(posterior.mean[0]), float(np.sqrt(posterior.covariance[0, 0]))


def newest_sales_notes(fit: Fit) -> list[Note]:
    """A note where the newest sales lie away from the trend by more than chance would have it, and from estimates."""
    found = newest_sales(fit)
    if found is None or abs(found.shift) < STANDARD_ERRORS * found.error:
        return []
    if np.sign(found.shift) * found.left < LEAST_LEFT:
        return []
    side, other, way = (
        ("under", "above", "take that much off") if found.shift < 0 else ("over", "below", "add that much")
    )
    shift, left = (f"{abs(100 * np.expm1(value)):.0f} %" for value in (found.shift, found.left))
    return [
        Note(
            "newest_sales_apart",
            f"The newest {counted(found.sales, 'sale')} (from {found.since:%Y-%m-%d} on) lie {shift} {side} what the "
            f"older ones lead one to expect. The estimate follows them in part and still lies {left} {other} them. "
            f"If the market has moved, {way}; if they are chance, leave it. Newer sales will tell.",
        )
    ]
