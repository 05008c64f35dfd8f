"""Fitting: from sales and attributes to a frozen core, step by step.

1. Learn the terms; a skewed number enters as its log where the marginal likelihood prefers that.
2. Choose the variances; pseudo-observations for censored rows and weights of sales with empty cells are renewed until
   they no longer move.
3. Learn the interaction block from that fit and choose the variances again.
4. Try Student-t weights and keep them if the left-out sales say so.
5. Average over the variances, keep the expected directions, leave each sale out, learn the shape of the error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.regression.beliefs import Beliefs, known_levels
from valuation.regression.cells import FloatArray
from valuation.regression.core import Core, Rows
from valuation.regression.design import Block, learn_term
from valuation.regression.distribution import PriceDistribution
from valuation.regression.empty_cells import unknown_effects
from valuation.regression.heteroscedasticity import learn_heteroscedasticity
from valuation.regression.interaction import INTERACTION, learn_interaction
from valuation.regression.leave_one_out import LeftOut, leave_one_out
from valuation.regression.mixed import Posterior, choose_variances
from valuation.regression.mixture import LARGE_TABLE, LATTICE_POINTS, Mixture, mix
from valuation.regression.order import direction_rows, keep_direction
from valuation.regression.settle import (
    Observations,
    Structure,
    left_out_at_mode,
    settle,
    settle_ranges,
    structure_of,
    sums_of,
)
from valuation.regression.shape import learn_mix
from valuation.regression.tails import log_density
from valuation.regression.terms import OrdinalTerm, Term
from valuation.regression.unsold import UnsoldRanges
from valuation.schema.attributes import Attribute, Role

TAIL_DEGREES_OF_FREEDOM, TAIL_GAIN = 8.0, 0.0
"""Of Student-t weights, and what they must gain in leave-one-out log score to be kept; benchmarks/accuracy/TRIED.md."""

LEAN_GAIN = 1.0
"""Gain in leave-one-out log score that a model leaned on must bring; chosen on simulated shops, see TRIED.md."""

LEAST_LOG_PRICE_SD = 0.02
"""Least standard deviation of log prices that priors are scaled by: prices that are all equal must not make them 0."""

STRUCTURE_ROWS = 2000
"""Rows on which the structure (logs) is chosen in a larger table."""

_SKEW_RATIO = 3.0
"""Largest over smallest value from which the log of a number is tried; a choice, the likelihood decides."""


@dataclass(frozen=True)
class Options:
    """What a fit may use.

    Parameters
    ----------
    interaction : bool
        Whether the interaction block is tried.
    tails : bool
        Whether Student-t weights are tried.
    lattice_points : int
        Sets of variances averaged over.
    ranges : bool
        Whether the open side of an unsold bid or an asking price is closed by a range learned from the table.
    lean_on : Core or None
        Another table's fit, whose effects are expected here.
    """

    interaction: bool = True
    tails: bool = True
    lattice_points: int = LATTICE_POINTS
    ranges: bool = True
    lean_on: Core | None = None


@dataclass(frozen=True)
class Fit:
    """A core and how the sales stand to it.

    Attributes
    ----------
    core : Core
        The frozen result.
    rows : Rows
        The sales, encoded.
    response, weight : ndarray, shape (n,)
        Log prices (pseudo-observations for censored rows) and weights at the end of the fit.
    exact : ndarray of bool, shape (n,)
        Sold rows.
    left_out : LeftOut
        Each row as the others see it; ``mean`` is the log median price without the row.
    mixture : Mixture
        Posteriors given each set of variances.
    held : tuple of str
        Attributes on which a step was held level to keep the expected direction.
    ranges : UnsoldRanges or None
        How far unsold bids and asking prices were taken to lie from the price; None where they count as bare bounds.
    leaned : bool
        Whether the effects of another table's model are expected.
    """

    core: Core
    rows: Rows
    response: FloatArray
    weight: FloatArray
    exact: npt.NDArray[np.bool_]
    left_out: LeftOut
    mixture: Mixture
    held: tuple[str, ...]
    ranges: UnsoldRanges | None = None
    leaned: bool = False

    def left_out_prices(self, rows: npt.NDArray[Any]) -> PriceDistribution:
        """Predictive distributions of some rows' prices, each as the other rows see it."""
        left = self.left_out
        return self.core.around(left.mean[rows], left.doubt[rows], left.scatter[rows])


def fit_core(
    X: pd.DataFrame, low: FloatArray, high: FloatArray, attributes: tuple[Attribute, ...], options: Options
) -> Fit:
    """Fit sales.

    Parameters
    ----------
    X : DataFrame, shape (n, attributes)
        Raw cells.
    low, high : ndarray, shape (n,)
        Log prices; equal where sold, infinite on an open side. At least one row is sold.
    attributes : tuple of Attribute
        One for each column of ``X``.
    options : Options
        What may be used.
    """
    exact = low == high
    centre = float(np.median(low[exact]))
    log_price_sd = max(float(low[exact].std()), LEAST_LOG_PRICE_SD)
    observations = Observations(
        low - centre, high - centre, exact, np.where(exact, low - centre, 0.0), np.where(exact, 1.0, 1e-9)
    )
    named = {attribute.name: attribute for attribute in attributes}
    settled = _settled(X, observations, Beliefs(named, log_price_sd, None), options)
    structure, observations, log_sd = settled.structure, settled.observations, settled.log_sd
    if options.interaction:
        structure, observations, log_sd = _with_interaction(settled)
    degrees_of_freedom = None
    if options.tails:
        observations, log_sd, degrees_of_freedom = _heavier_tails(structure, observations, log_sd)
    fit = _finish(structure, observations, log_sd, degrees_of_freedom, centre, named, options)
    return replace(fit, ranges=settled.ranges, leaned=settled.beliefs.lean_on is not None)


@dataclass(frozen=True)
class _Settled:
    """Beliefs about a table and the variances settled with them."""

    beliefs: Beliefs
    structure: Structure
    observations: Observations
    log_sd: FloatArray
    posterior: Posterior
    ranges: UnsoldRanges | None

    def log_score(self) -> float:
        """Log density that the fit without each sold row gives it, summed."""
        return _left_out_log_score(self.structure, self.observations, self.log_sd, None)


def _settled(X: pd.DataFrame, observations: Observations, own: Beliefs, options: Options) -> _Settled:
    """Settle with the beliefs of the schema alone, or with the model leaned on if left-out sales say so."""

    def settled_with(beliefs: Beliefs) -> _Settled:
        structure = structure_of(_choose_terms(X, observations, beliefs), None, X, beliefs)
        return _Settled(beliefs, structure, *settle_ranges(structure, observations, options.ranges))

    alone = settled_with(own)
    if options.lean_on is None:
        return alone
    leaned = settled_with(replace(own, lean_on=options.lean_on))
    return leaned if leaned.log_score() - alone.log_score() > LEAN_GAIN else alone


def _with_interaction(settled: _Settled) -> tuple[Structure, Observations, FloatArray]:
    """Choose the variances again with the interaction block, where it has something to hold."""
    beliefs, structure = settled.beliefs, settled.structure
    observations, log_sd = settled.observations, settled.log_sd
    interaction = learn_interaction(
        structure.design,
        structure.rows.encoded,
        structure.rows.matrix,
        settled.posterior.mean + structure.prior.mean,
        beliefs.log_price_sd,
        [attribute.name for attribute in beliefs.attributes.values() if attribute.direction is not None],
    )
    if interaction is None:
        return structure, observations, log_sd
    columns = interaction.columns(structure.design, structure.rows.encoded, structure.rows.matrix)
    start = structure.rows.matrix.shape[1]
    blocks = (*structure.blocks, Block(INTERACTION, INTERACTION, start, start + columns.shape[1]))
    rows = Rows(np.hstack([structure.rows.matrix, columns]), structure.rows.encoded)
    prior = beliefs.prior(structure.design, blocks, rows.matrix)
    structure = Structure(structure.design, interaction, blocks, rows, prior)
    begin = np.append(log_sd, prior.variances.log_mean[-1])
    observations, log_sd, _ = settle(structure, observations, begin)
    return structure, observations, log_sd


def _choose_terms(X: pd.DataFrame, observations: Observations, beliefs: Beliefs) -> tuple[Term, ...]:
    """Learn the terms, with the log of a skewed number where the marginal likelihood prefers it."""
    attributes = tuple(beliefs.attributes.values())
    terms = {a.name: learn_term(X[a.name], a, more=known_levels(beliefs.lean_on, a.name)) for a in attributes}
    candidates = [a for a in attributes if _may_be_logged(X[a.name], a)]
    if not candidates:
        return tuple(terms.values())
    rows = np.flatnonzero(observations.exact)
    if len(rows) > STRUCTURE_ROWS:
        rows = rows[np.linspace(0, len(rows) - 1, STRUCTURE_ROWS).astype(int)]
    cells, response = X.iloc[rows], observations.response[rows]
    sample = replace(observations, response=response, weight=np.ones(len(rows)))

    def badness(trial: Mapping[str, Term]) -> float:
        structure = structure_of(tuple(trial.values()), None, cells, beliefs)
        return choose_variances(sums_of(structure, sample), structure.prior.variances)[1]

    least = badness(terms)
    for attribute in candidates:
        trial = {**terms, attribute.name: learn_term(X[attribute.name], attribute, logged=True)}
        found = badness(trial)
        if found < least:
            terms, least = trial, found
    return tuple(terms.values())


def _may_be_logged(column: pd.Series, attribute: Attribute) -> bool:
    """A positive number spread over several fold, with no expectation stated per unit."""
    if attribute.role is not Role.NUMBER or attribute.expected is not None:
        return False
    x = column.dropna().to_numpy(dtype=float)
    return bool(len(x)) and x.min() > 0 and x.max() > _SKEW_RATIO * x.min()


def _finish(
    structure: Structure,
    observations: Observations,
    log_sd: FloatArray,
    degrees_of_freedom: float | None,
    centre: float,
    named: Mapping[str, Attribute],
    options: Options,
) -> Fit:
    """Average over the variances, keep the directions, leave each sale out and learn the shape of the error."""
    sums = sums_of(structure, observations)
    points = options.lattice_points if sums.n <= LARGE_TABLE else 1
    mixture = mix(sums, structure.prior.variances, log_sd, points)
    matrix, prior_mean = structure.rows.matrix, structure.prior.mean
    directions, owners = direction_rows(structure.design, named, matrix.shape[1])
    mixture, held = keep_direction(mixture, prior_mean, directions)
    left = leave_one_out(matrix, observations.response - matrix @ prior_mean, observations.weight, mixture)
    coefficients = mixture.mean() + prior_mean
    covariance = mixture.covariance()
    term_variance, unknown = unknown_effects(structure.design, structure.rows, coefficients, covariance)
    left = replace(left, mean=left.mean + matrix @ prior_mean, doubt=np.sqrt(left.doubt**2 + unknown))
    exact = observations.exact
    errors = observations.response[exact] - left.mean[exact]
    heteroscedasticity = learn_heteroscedasticity(
        errors, left.doubt[exact], float(np.sqrt(mixture.noise())), left.mean[exact], _places(structure, exact)
    )
    left = replace(left, scatter=left.scatter * heteroscedasticity.factor(left.mean, structure.rows.encoded))
    spent = float((covariance * sums.gram).sum()) / mixture.noise()
    nu = degrees_of_freedom if degrees_of_freedom is not None else float(exact.sum()) - spent
    scatter_mix = learn_mix(errors, left.doubt[exact], left.scatter[exact], nu)
    core = Core(
        structure.design,
        structure.interaction,
        structure.blocks,
        centre,
        coefficients,
        prior_mean,
        covariance,
        mixture.noise(),
        mixture.block_variances(),
        structure.prior.stretch,
        term_variance,
        scatter_mix,
        degrees_of_freedom,
        heteroscedasticity,
    )
    attributes_held = tuple(dict.fromkeys(owners[i] for i in held))
    left = replace(left, mean=left.mean + centre)
    response = observations.response + centre
    return Fit(core, structure.rows, response, observations.weight, exact, left, mixture, attributes_held)


def _places(structure: Structure, rows: npt.NDArray[np.bool_]) -> dict[str, FloatArray]:
    """Standardised places of some rows on each ordered scale."""
    ordered = [term.attribute for term in structure.design.terms if isinstance(term, OrdinalTerm)]
    return {name: structure.rows.encoded[name].coordinates[rows, 0] for name in ordered}


def _heavier_tails(
    structure: Structure, observations: Observations, log_sd: FloatArray
) -> tuple[Observations, FloatArray, float | None]:
    """Student-t weights and their variances where left-out sales are more probable by ``TAIL_GAIN``, else no change."""
    weighted, weighted_log_sd, _ = settle(structure, observations, log_sd, TAIL_DEGREES_OF_FREEDOM)
    heavy = _left_out_log_score(structure, weighted, weighted_log_sd, TAIL_DEGREES_OF_FREEDOM)
    if heavy - _left_out_log_score(structure, observations, log_sd, None) > TAIL_GAIN:
        return weighted, weighted_log_sd, TAIL_DEGREES_OF_FREEDOM
    return observations, log_sd, None


def _left_out_log_score(
    structure: Structure, observations: Observations, log_sd: FloatArray, degrees_of_freedom: float | None
) -> float:
    """Log density that the fit without each sold row gives it, summed, at the most probable variances."""
    exact = observations.exact
    left = left_out_at_mode(structure, observations, log_sd)
    response = observations.response - structure.rows.matrix @ structure.prior.mean
    standard = (response - left.mean)[exact] / left.scale[exact]
    return float((log_density(standard, degrees_of_freedom) - np.log(left.scale[exact])).sum())
