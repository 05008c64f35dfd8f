"""Sales that the fit itself finds doubtful, and what may be wrong with each.

Each sale is held against the price that the others suggest for it, with the tails that the others have: a sale far out
lends weight to the wide scales of the mixture, and that weight is taken off before it is judged. How seldom so far a
price comes about by chance, times the number of sales (Bonferroni), decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from valuation.notes import Note
from valuation.regression.cells import FloatArray
from valuation.regression.normal import ndtr
from valuation.regression.shape import OWN_SHAPE_SALES
from valuation.regression.terms import OrdinalTerm
from valuation.schema.attributes import Attribute
from valuation.view import amount_text

if TYPE_CHECKING:
    from valuation.regression.fit import Fit

CHANCE = 0.02
"""Share of tables without any mistake in which a sale may be named, were the scatter as the fit has it; a choice."""

MOST_NAMED = 2
"""More than these in one table are a pattern that single rows do not explain."""

_FITS = 1.5
"""Standard deviations within which a price counts as explained by a mended digit or grade."""

_MOST_DIGITS = 3
"""Digits too many or too few that a slip of typing explains."""


@dataclass(frozen=True, slots=True)
class DoubtfulSale:
    """A sale whose price the others do not explain.

    Attributes
    ----------
    place : int
        Of the sale among the rows of the fit.
    price, expected : float
        Money: as paid, and as the other sales suggest.
    reason : str
        What may be wrong, as a sentence.
    """

    place: int
    price: float
    expected: float
    reason: str


def doubtful_sales(fit: Fit, attributes: Mapping[str, Attribute]) -> tuple[DoubtfulSale, ...]:
    """The one or two most doubtful sales, the least likely first; none where all prices are likely enough.

    Parameters
    ----------
    fit : Fit
        The fit.
    attributes : mapping of str to Attribute
        By name.
    """
    sold = np.flatnonzero(fit.exact)
    error = (fit.response - fit.left_out.mean)[sold]
    odds = _odds(fit, sold, error)
    order = sold[np.argsort(odds, kind="stable")][:MOST_NAMED]
    named = [int(row) for row in order if odds[np.searchsorted(sold, row)] * len(sold) < CHANCE]
    return tuple(
        DoubtfulSale(
            row,
            float(np.exp(fit.response[row])),
            float(np.exp(fit.left_out.mean[row])),
            _reason(fit, row, attributes),
        )
        for row in named
    )


def _odds(fit: Fit, sold: npt.NDArray[np.intp], error: FloatArray) -> FloatArray:
    """Chance of a price as far out as each sale's, by the mixture that the other sales have, shape (sold,)."""
    mix = fit.core.mix
    spread = mix.spread(fit.left_out.doubt[sold], fit.left_out.scatter[sold])
    standard = error[:, None] / spread
    density = np.exp(-np.minimum(standard**2, 1e3) / 2) / spread * mix.weight
    share = density / density.sum(axis=1, keepdims=True)
    sales = OWN_SHAPE_SALES + len(sold)
    others = np.maximum(sales * mix.weight - share, 0.0)
    others /= others.sum(axis=1, keepdims=True)
    return np.asarray(2 * (others * ndtr(-np.abs(standard))).sum(axis=1))


def _reason(fit: Fit, row: int, attributes: Mapping[str, Attribute]) -> str:
    """What may be wrong: a digit, a grade, or something that the table does not hold."""
    error = float(fit.response[row] - fit.left_out.mean[row])
    scale = float(fit.left_out.scale[row])
    digits = round(error / math.log(10))
    if 0 < abs(digits) <= _MOST_DIGITS and abs(error - digits * math.log(10)) < _FITS * scale:
        mended = amount_text(float(np.exp(fit.response[row])) / 10.0**digits)
        return f"A digit may have slipped: {mended} would fit."
    graded = _grade(fit, row, error, scale)
    if graded is None:
        return "Nothing in its row explains that: a slip of the pen, something not written down, or an unusual day."
    attribute, level, high = graded
    side = "high" if high else "low"
    return f"It looks graded too {side}: with {attributes[attribute].title.lower()} {level} the price would fit."


def _grade(fit: Fit, row: int, error: float, scale: float) -> tuple[str, str, bool] | None:
    """The attribute, the nearest level that would explain the price, and whether the sale's own lies above it."""
    found: list[tuple[int, float, str, str, bool]] = []
    for term in fit.core.design.terms:
        cells = fit.rows.encoded[term.attribute]
        if not isinstance(term, OrdinalTerm) or cells.missing[row]:
            continue
        columns = fit.core.design.columns_of(term.attribute)
        worth = term.encode(np.array(term.levels, dtype=object)).matrix @ fit.core.coefficients[columns]
        own = int(np.argmin(np.abs(worth - fit.rows.matrix[row, columns] @ fit.core.coefficients[columns])))
        for place, level in enumerate(term.levels):
            left = abs(error - (worth[place] - worth[own]))
            if place != own and left < _FITS * scale:
                found.append((abs(place - own), left, term.attribute, level, own > place))
    return min(found)[2:] if found else None


def doubtful_notes(found: Sequence[DoubtfulSale], names: Sequence[str]) -> tuple[Note, ...]:
    """One note for each doubtful sale.

    Parameters
    ----------
    found : sequence of DoubtfulSale
        The sales.
    names : sequence of str, shape (n,)
        Name of every row of the fit.
    """
    return tuple(
        Note(
            "sale_doubtful",
            f"{names[one.place]}: paid {amount_text(one.price)}, where the other sales suggest about "
            f"{amount_text(float(f'{one.expected:.2g}'))}. {one.reason} Look at this row first; it counts in the "
            "estimate as it stands.",
        )
        for one in found
    )
