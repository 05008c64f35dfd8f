"""What is believed before the table speaks: the usual size of effects, the schema's expectations, another shop's model.

A saved model holds no sales and can be handed on. Leaned on, its effects become the prior means of the effects here,
matched by attribute and level; how far they may be off is what the model itself leaves open and, on top, how far shops
differ, which is learned from the own table's likelihood like every variance. What does not match stays as free as it
would be without the model. A model whose expectations do not make the own table far more probable than having none
does is left aside (``fit.LEAN_EVIDENCE``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from valuation.regression.cells import FloatArray
from valuation.regression.core import Core
from valuation.regression.design import Block, Design
from valuation.regression.mixed import VariancePriors
from valuation.regression.priors import CoefficientPrior, coefficient_prior, held_where_idle
from valuation.regression.terms import FlagTerm, NominalTerm, NumberTerm, OrdinalTerm, Term
from valuation.schema.attributes import Attribute
from valuation.year import DAYS_PER_YEAR

SHOPS_DIFFER, SHOPS_WIDTH = 0.4, 1.4
"""Effects of two shops are expected to differ by this share of the usual size of such effects; and the standard
deviation of the log of that, wide enough for shops that have nothing in common."""

NOISE_WIDTH = 0.5
"""Standard deviation of the log of how far the scatter of sales differs between shops."""

_PLACES = 25
"""Places along an attribute at which a belief taken from another table is said."""
_LEAST_SINGULAR = 1e-6
"""Singular values below this share of the largest are taken for nought in the pseudo-inverse."""


@dataclass(frozen=True)
class Beliefs:
    """Beliefs about a table.

    Attributes
    ----------
    attributes : mapping of str to Attribute
        By name, with the schema's expectations.
    log_price_sd : float
        Standard deviation of the table's log prices, log units; > 0.
    lean_on : Core or None
        Another table's fit.
    """

    attributes: Mapping[str, Attribute]
    log_price_sd: float
    lean_on: Core | None = None

    def prior(self, design: Design, blocks: tuple[Block, ...], matrix: FloatArray) -> CoefficientPrior:
        """Prior of the coefficients.

        Parameters
        ----------
        design : Design
            The terms.
        blocks : tuple of Block
            The design's, and the interaction's where there is one.
        matrix : ndarray, shape (n, p)
            Columns for the sales.
        """
        usual = coefficient_prior(design, blocks, self.attributes, self.log_price_sd)
        prior = usual if self.lean_on is None else _leaned(usual, design, blocks, self.lean_on)
        return held_where_idle(prior, blocks, matrix)


def known_levels(source: Core | None, attribute: str) -> tuple[str, ...]:
    """Levels that the model leaned on knows of an unordered attribute.

    Parameters
    ----------
    source : Core or None
        Its fit.
    attribute : str
        Name of the attribute.
    """
    term = _term(source.design, attribute) if source is not None else None
    return term.levels if isinstance(term, NominalTerm) else ()


def _leaned(usual: CoefficientPrior, design: Design, blocks: tuple[Block, ...], source: Core) -> CoefficientPrior:
    """The usual prior with means and widths from another fit where attributes and levels match."""
    mean, stretch = usual.mean.copy(), usual.stretch.copy()
    log_mean, log_sd = usual.variances.log_mean.copy(), usual.variances.log_sd.copy()
    log_mean[0], log_sd[0] = 0.5 * np.log(source.noise), NOISE_WIDTH
    for term in design.terms:
        other = _term(source.design, term.attribute)
        places = _places(term, other)
        if other is None or not places:
            continue
        own = [(k, block) for k, block in enumerate(blocks) if block.attribute == term.attribute]
        own = [(k, block) for k, block in own if block.kind != "missing"]
        columns = slice(own[0][1].start, own[-1][1].stop)
        effect, variance = _carried(term, other, source, places, columns.stop - columns.start)
        mean[columns] = effect
        for k, block in own:
            here = slice(block.start - columns.start, block.stop - columns.start)
            matched = variance[here] > 0
            if not matched.any():
                continue
            free = float(np.exp(usual.variances.log_mean[1 + k]))
            sd = float(np.sqrt(variance[here][matched].mean() + (SHOPS_DIFFER * free) ** 2))
            log_mean[1 + k], log_sd[1 + k] = np.log(sd), SHOPS_WIDTH
            stretch[block.start : block.stop] = np.where(matched, 1.0, max(free / sd, 1.0))
    return replace(usual, mean=mean, variances=VariancePriors(log_mean, log_sd), stretch=stretch)


def _carried(term: Term, other: Term, source: Core, places: list[Any], width: int) -> tuple[FloatArray, FloatArray]:
    """The other fit's effect as coefficients of the own columns, and their variances; 0 for a column without a match.

    Both contributions are taken at the same places, around their own average; the own coefficients are the shortest
    that reproduce the other's.
    """
    cells = pd.Series(places, dtype=object if isinstance(places[0], str) else None)
    own = term.encode(cells).matrix[:, :width]
    theirs = other.encode(cells).matrix
    own, theirs = own - own.mean(axis=0), theirs - theirs.mean(axis=0)
    at = source.design.columns_of(other.attribute)
    back = np.linalg.pinv(own, rcond=_LEAST_SINGULAR)
    to_own = back @ theirs
    variance = np.einsum("ij,jk,ik->i", to_own, source.covariance[at, at], to_own)
    if isinstance(term, NominalTerm):
        matched = np.isin(term.levels, places)
        back_only = np.where(matched, to_own @ source.coefficients[at], 0.0)
        return back_only, np.where(matched, np.maximum(variance, 1e-12), 0.0)
    return to_own @ source.coefficients[at], np.maximum(variance, 1e-12)


def _places(term: Term, other: Term | None) -> list[Any]:
    """Cells that both fits know: levels in common, no and yes, or places over the common range of a number."""
    if other is None or type(term) is not type(other):
        return []
    if isinstance(term, NominalTerm | OrdinalTerm) and isinstance(other, NominalTerm | OrdinalTerm):
        common = [level for level in term.levels if level in other.levels]
        return common if len(common) > 1 else []
    if isinstance(term, FlagTerm):
        return [0.0, 1.0]
    if isinstance(term, NumberTerm) and isinstance(other, NumberTerm):
        ends = [_ends(one) for one in (term, other)]
        low, high = max(ends[0][0], ends[1][0]), min(ends[0][1], ends[1][1])
        if not low < high:
            return []
        values = np.linspace(low, high, _PLACES)
        if term.is_date:
            return [pd.Timestamp("2000-01-01") + pd.Timedelta(days=DAYS_PER_YEAR * value) for value in values.tolist()]
        return list(values.tolist())
    return []


def _ends(term: NumberTerm) -> tuple[float, float]:
    """Smallest and largest number of the table that a term was learned from; years since 2000 for a date."""
    low, high = (end * term.scale + term.centre for end in (term.low, term.high))
    return (float(np.exp(low)), float(np.exp(high))) if term.logged else (low, high)


def _term(design: Design, attribute: str) -> Term | None:
    return next((term for term in design.terms if term.attribute == attribute), None)
