"""What is expected of each kind of block before the table speaks.

Standard deviations are stated as shares of the spread of log prices in the table. The means and spreads below were read
off the fitted variances of an open collection of priced goods that is kept apart from the one on which accuracy is
reported (``benchmarks/accuracy/development.py``); shrinking towards one mean for each kind of block is what makes 25
sales enough for a usable interval.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from valuation.regression.cells import FloatArray
from valuation.regression.design import Block, Design
from valuation.regression.interaction import INTERACTION
from valuation.regression.mixed import VariancePriors
from valuation.regression.terms import FlagTerm, NumberTerm, OrdinalTerm
from valuation.schema.attributes import Attribute, Role

NOISE = "noise"

KIND_PRIORS: dict[str, tuple[float, float]] = {
    NOISE: (0.38, 0.7),
    "line": (0.17, 0.9),
    "line_bend": (0.055, 0.7),
    "curve": (0.14, 0.7),
    "curve_bend": (0.09, 0.8),
    "drift": (0.08, 0.8),
    "drift_bend": (0.04, 0.8),
    "trend": (0.17, 0.7),
    "steps": (0.05, 0.7),
    "levels": (0.16, 0.9),
    "flag": (0.10, 0.7),
    "missing": (0.10, 0.7),
    INTERACTION: (0.09, 0.7),
}
"""For each kind of block: the median of its standard deviation as a share of the table's spread, and how far (one
standard deviation of the log) it may lie from that."""

LEVELS_DIFFER: dict[str, tuple[float, float]] = {"much": (0.4, 0.7), "little": (0.08, 0.7)}
"""The same for the levels of an attribute that the schema expects to lie far apart, or close together."""


@dataclass(frozen=True, slots=True)
class CoefficientPrior:
    """Prior of the coefficients: their means, and the prior of the standard deviation of each block.

    Attributes
    ----------
    mean : ndarray, shape (p,)
        Prior mean of each coefficient, log units.
    variances : VariancePriors
        Of the noise and of each block.
    stretch : ndarray, shape (p,)
        What multiplies its block's standard deviation for each coefficient; 1 but for what stands apart in its block.
    """

    mean: FloatArray
    variances: VariancePriors
    stretch: FloatArray


def coefficient_prior(
    design: Design,
    blocks: tuple[Block, ...],
    attributes: Mapping[str, Attribute],
    log_price_sd: float,
) -> CoefficientPrior:
    """Prior for a design.

    Parameters
    ----------
    design : Design
        The frozen terms.
    blocks : tuple of Block
        The design's blocks, and the interaction's where there is one.
    attributes : mapping of str to Attribute
        By name; their expected effects set the mean and the width of the block they belong to.
    log_price_sd : float
        Standard deviation of the log prices, log units; > 0.
    """
    columns = blocks[-1].stop if blocks else 1
    mean = np.zeros(columns)
    log_mean = [np.log(KIND_PRIORS[NOISE][0] * log_price_sd)]
    log_sd = [KIND_PRIORS[NOISE][1]]
    terms = {term.attribute: term for term in design.terms}
    for block in blocks:
        attribute = attributes.get(block.attribute)
        share, width = _share(block, attribute)
        told = _expected(attribute, terms.get(block.attribute), block)
        if told is not None:
            mean[block.start], sd = told
            log_mean.append(np.log(sd))
            log_sd.append(0.0)
        else:
            log_mean.append(np.log(share * log_price_sd))
            log_sd.append(width)
    return CoefficientPrior(mean, VariancePriors(np.array(log_mean), np.array(log_sd)), np.ones(columns))


def held_where_idle(prior: CoefficientPrior, blocks: tuple[Block, ...], matrix: FloatArray) -> CoefficientPrior:
    """The prior with the standard deviation held of each block whose columns, shape (n, p), are nothing in every sale.

    The table cannot tell it, and left free it would still shift the lattice of variances, and with it every estimate.

    Parameters
    ----------
    prior : CoefficientPrior
    blocks : tuple of Block
    matrix : ndarray of float, shape (n, p)
        The design's columns for the sales.
    """
    idle = np.array([False, *(not matrix[:, block.start : block.stop].any() for block in blocks)])
    variances = VariancePriors(prior.variances.log_mean, np.where(idle, 0.0, prior.variances.log_sd))
    return CoefficientPrior(prior.mean, variances, prior.stretch)


def _share(block: Block, attribute: Attribute | None) -> tuple[float, float]:
    """Median and width of the prior of a block's standard deviation, as a share of the table's spread."""
    if block.kind == "levels" and attribute is not None and attribute.levels_differ:
        return LEVELS_DIFFER[attribute.levels_differ]
    return KIND_PRIORS[block.kind]


def _expected(attribute: Attribute | None, term: object, block: Block) -> tuple[float, float] | None:
    """Prior mean and standard deviation of a line's, trend's or flag's coefficient from the schema's expectation."""
    if attribute is None or attribute.expected is None or attribute.role in (Role.NOMINAL, Role.DATE):
        return None
    expected = attribute.expected
    if (isinstance(term, OrdinalTerm) and block.kind == "trend") or (
        isinstance(term, FlagTerm) and block.kind == "flag"
    ):
        unit = term.scale
    elif isinstance(term, NumberTerm) and block.kind == term.line_kind:
        unit = term.scale / expected.per
    else:
        return None
    growth = 1 + expected.percent / 100
    return float(np.log(growth) * unit), float(expected.give_or_take / 100 / growth * unit)
