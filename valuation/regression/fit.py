"""Fitting: from sales and attributes to a frozen core, step by step.

1. Learn the terms; a skewed number enters as its log where the marginal likelihood prefers that.
2. Choose the variances; pseudo-observations for censored rows and weights of sales with empty cells are renewed until
   they no longer move.
3. Learn the interaction block from that fit and choose the variances anew.
4. Try Student-t weights and keep them if the left-out sales say so.
5. Average over the variances, keep the expected directions, leave each sale out, learn the shape of the error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.regression.cells import FloatArray
from valuation.regression.censored import pseudo_observations
from valuation.regression.core import Core, Rows, encode_rows
from valuation.regression.design import Block, Design, learn_term
from valuation.regression.empty_cells import has_empty_cells, unknown_effects
from valuation.regression.heteroscedasticity import learn_heteroscedasticity
from valuation.regression.interaction import INTERACTION, Interaction, learn_interaction
from valuation.regression.leave_one_out import LeftOut, leave_one_out
from valuation.regression.mixed import Posterior, Sums, choose_variances, solve
from valuation.regression.mixture import LARGE_TABLE, LATTICE_POINTS, Mixture, mix
from valuation.regression.order import direction_rows, keep_direction
from valuation.regression.priors import CoefficientPrior, coefficient_prior
from valuation.regression.shape import learn_curve
from valuation.regression.tails import log_density, tail_weights
from valuation.regression.terms import Term
from valuation.schema.attributes import Attribute, Role

TAIL_DEGREES_OF_FREEDOM, TAIL_GAIN = 8.0, 0.0
"""Of Student-t weights, and what they must gain in leave-one-out log score to be kept; benchmarks/accuracy/TRIED.md."""

LEAST_LOG_PRICE_SD = 0.02
"""Least standard deviation of log prices that priors are scaled by: prices that are all equal must not make them 0."""

STRUCTURE_ROWS = 2000
"""Rows on which the structure (logs) is chosen in a larger table."""

_SKEW_RATIO = 3.0
"""Largest over smallest value from which the log of a number is tried; a choice, the likelihood decides."""

_ROUNDS = 25
_SETTLED = 1e-7
_WEIGHTS_SETTLED = 1e-4
"""Largest change of a fitted log price at which pseudo-observations, and tail weights, count as settled."""


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
    """

    interaction: bool = True
    tails: bool = True
    lattice_points: int = LATTICE_POINTS


@dataclass(frozen=True)
class Observations:
    """Responses as the Gaussian core sees them: log prices, or pseudo-observations for censored rows.

    Attributes
    ----------
    low, high : ndarray, shape (n,)
        Log prices less the centre; infinite on an open side.
    exact : ndarray of bool, shape (n,)
        Sold rows.
    response, weight : ndarray, shape (n,)
        What enters the sums.
    noise_shift : float
        See ``censored.PseudoObservations``.
    """

    low: FloatArray
    high: FloatArray
    exact: npt.NDArray[np.bool_]
    response: FloatArray
    weight: FloatArray
    noise_shift: float = 0.0


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
    """

    core: Core
    rows: Rows
    response: FloatArray
    weight: FloatArray
    exact: npt.NDArray[np.bool_]
    left_out: LeftOut
    mixture: Mixture
    held: tuple[str, ...]


@dataclass(frozen=True)
class _Structure:
    """A design with its columns for the sales and its prior."""

    design: Design
    interaction: Interaction | None
    blocks: tuple[Block, ...]
    rows: Rows
    prior: CoefficientPrior

    @property
    def block_of_column(self) -> npt.NDArray[np.int64]:
        places = np.full(self.rows.matrix.shape[1], -1, dtype=np.int64)
        for place, block in enumerate(self.blocks):
            places[block.start : block.stop] = place
        return places


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
    structure = _structure(_choose_terms(X, observations, attributes, log_price_sd), None, X, named, log_price_sd)
    structure, observations, log_sd = _with_interaction(structure, observations, named, log_price_sd, options)
    degrees_of_freedom = None
    if options.tails:
        observations, log_sd, degrees_of_freedom = _heavier_tails(structure, observations, log_sd)
    return _finish(structure, observations, log_sd, degrees_of_freedom, centre, named, options)


def _with_interaction(
    structure: _Structure,
    observations: Observations,
    named: Mapping[str, Attribute],
    log_price_sd: float,
    options: Options,
) -> tuple[_Structure, Observations, FloatArray]:
    """Choose the variances, then again with the interaction block where it has something to hold."""
    observations, log_sd, posterior = _settle(structure, observations, None)
    if not options.interaction:
        return structure, observations, log_sd
    coefficients = posterior.mean + structure.prior.mean
    interaction = learn_interaction(
        structure.design,
        structure.rows.encoded,
        structure.rows.matrix,
        coefficients,
        log_price_sd,
        [attribute.name for attribute in named.values() if attribute.direction is not None],
    )
    if interaction is None:
        return structure, observations, log_sd
    columns = interaction.columns(structure.design, structure.rows.encoded, structure.rows.matrix)
    start = structure.rows.matrix.shape[1]
    blocks = (*structure.blocks, Block(INTERACTION, INTERACTION, start, start + columns.shape[1]))
    rows = Rows(np.hstack([structure.rows.matrix, columns]), structure.rows.encoded)
    prior = coefficient_prior(structure.design, blocks, named, log_price_sd)
    structure = _Structure(structure.design, interaction, blocks, rows, prior)
    begin = np.append(log_sd, prior.variances.log_mean[-1])
    observations, log_sd, _ = _settle(structure, observations, begin)
    return structure, observations, log_sd


def _choose_terms(
    X: pd.DataFrame, observations: Observations, attributes: tuple[Attribute, ...], log_price_sd: float
) -> tuple[Term, ...]:
    """Learn the terms, with the log of a skewed number where the marginal likelihood prefers it."""
    terms = {a.name: learn_term(X[a.name], a) for a in attributes}
    candidates = [a for a in attributes if _may_be_logged(X[a.name], a)]
    if not candidates:
        return tuple(terms.values())
    rows = np.flatnonzero(observations.exact)
    if len(rows) > STRUCTURE_ROWS:
        rows = rows[np.linspace(0, len(rows) - 1, STRUCTURE_ROWS).astype(int)]
    cells, response = X.iloc[rows], observations.response[rows]
    sample = replace(observations, response=response, weight=np.ones(len(rows)))
    named = {a.name: a for a in attributes}

    def badness(trial: Mapping[str, Term]) -> float:
        structure = _structure(tuple(trial.values()), None, cells, named, log_price_sd)
        return choose_variances(_sums(structure, sample), structure.prior.variances)[1]

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


def _structure(
    terms: tuple[Term, ...],
    interaction: Interaction | None,
    X: pd.DataFrame,
    named: Mapping[str, Attribute],
    log_price_sd: float,
) -> _Structure:
    design = Design.of(terms)
    rows = encode_rows(design, interaction, X)
    return _Structure(
        design, interaction, design.blocks, rows, coefficient_prior(design, design.blocks, named, log_price_sd)
    )


def _sums(structure: _Structure, observations: Observations) -> Sums:
    """Sufficient statistics of the present responses and weights."""
    matrix, weight = structure.rows.matrix, observations.weight
    response = observations.response - matrix @ structure.prior.mean
    plain = bool(np.all(weight == 1.0))
    weighted = matrix if plain else matrix * weight[:, None]
    return Sums(
        gram=matrix.T @ weighted,
        cross=weighted.T @ response,
        square=float(response @ (weight * response)),
        log_weight=0.0 if plain else float(np.log(weight).sum()),
        n=len(response),
        block=structure.block_of_column,
        noise_shift=observations.noise_shift,
    )


def _settle(
    structure: _Structure, observations: Observations, start: FloatArray | None, degrees_of_freedom: float | None = None
) -> tuple[Observations, FloatArray, Posterior]:
    """Choose the variances; renew pseudo-observations and tail weights until the fitted values no longer move."""
    sums = _sums(structure, observations)
    log_sd, _ = choose_variances(sums, structure.prior.variances, start)
    posterior = solve(sums, log_sd)[2]
    gaps = has_empty_cells(structure.rows)
    if observations.exact.all() and degrees_of_freedom is None and not gaps:
        return observations, log_sd, posterior
    before = None
    settled = _SETTLED if degrees_of_freedom is None and not gaps else _WEIGHTS_SETTLED
    for _ in range(_ROUNDS):
        fitted = structure.rows.matrix @ (posterior.mean + structure.prior.mean)
        if before is not None and np.max(np.abs(fitted - before)) < settled:
            break
        before = fitted
        observations = _renew(structure, observations, fitted, posterior, degrees_of_freedom)
        sums = _sums(structure, observations)
        log_sd, _ = choose_variances(sums, structure.prior.variances, log_sd)
        posterior = solve(sums, log_sd)[2]
    return observations, log_sd, posterior


def _renew(
    structure: _Structure,
    observations: Observations,
    fitted: FloatArray,
    posterior: Posterior,
    degrees_of_freedom: float | None,
) -> Observations:
    """Pseudo-observations and weights around the present fit."""
    response, weight = observations.response.copy(), observations.weight.copy()
    exact = observations.exact
    shift = 0.0
    coefficients = posterior.mean + structure.prior.mean
    _, unknown = unknown_effects(structure.design, structure.rows, coefficients, posterior.covariance)
    share = posterior.noise / (posterior.noise + unknown)
    weight[exact] = share[exact]
    if not exact.all():
        scatter = np.sqrt(posterior.noise / share[~exact])
        pseudo = pseudo_observations(observations.low[~exact], observations.high[~exact], fitted[~exact], scatter)
        response[~exact], weight[~exact], shift = pseudo.response, pseudo.weight * share[~exact], pseudo.noise_shift
    if degrees_of_freedom is not None:
        matrix = structure.rows.matrix[exact]
        around = np.einsum("ij,ij->i", matrix @ posterior.covariance, matrix)
        squares = share[exact] * ((response[exact] - fitted[exact]) ** 2 + around)
        weight[exact] *= tail_weights(squares, posterior.noise, degrees_of_freedom)
    return replace(observations, response=response, weight=weight, noise_shift=shift)


def _finish(
    structure: _Structure,
    observations: Observations,
    log_sd: FloatArray,
    degrees_of_freedom: float | None,
    centre: float,
    named: Mapping[str, Attribute],
    options: Options,
) -> Fit:
    """Average over the variances, keep the directions, leave each sale out and learn the shape of the error."""
    sums = _sums(structure, observations)
    points = options.lattice_points if sums.n <= LARGE_TABLE else 1
    mixture = mix(sums, structure.prior.variances, log_sd, points)
    matrix, prior_mean = structure.rows.matrix, structure.prior.mean
    directions, owners = direction_rows(structure.design, named, matrix.shape[1])
    mixture, held = keep_direction(mixture, prior_mean, directions)
    left = leave_one_out(matrix, observations.response - matrix @ prior_mean, observations.weight, mixture)
    coefficients = mixture.mean() + prior_mean
    covariance = mixture.covariance()
    term_variance, unknown = unknown_effects(structure.design, structure.rows, coefficients, covariance)
    left = replace(left, mean=left.mean + matrix @ prior_mean, scale=np.sqrt(left.scale**2 + unknown))
    exact = observations.exact
    errors = observations.response[exact] - left.mean[exact]
    heteroscedasticity = learn_heteroscedasticity(errors / left.scale[exact], left.mean[exact])
    uneven = mixture.noise() * (heteroscedasticity.factor(left.mean) ** 2 - 1)
    left = replace(left, scale=np.sqrt(np.maximum(left.scale**2 + uneven, 1e-16)))
    scores = errors / left.scale[exact]
    spent = float((covariance * sums.gram).sum()) / mixture.noise()
    curve = learn_curve(scores, degrees_of_freedom if degrees_of_freedom is not None else float(exact.sum()) - spent)
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
        term_variance,
        curve,
        degrees_of_freedom,
        heteroscedasticity,
    )
    attributes_held = tuple(dict.fromkeys(owners[i] for i in held))
    left = replace(left, mean=left.mean + centre)
    response = observations.response + centre
    return Fit(core, structure.rows, response, observations.weight, exact, left, mixture, attributes_held)


def _heavier_tails(
    structure: _Structure, observations: Observations, log_sd: FloatArray
) -> tuple[Observations, FloatArray, float | None]:
    """Student-t weights and their variances where left-out sales are more probable by ``TAIL_GAIN``, else no change."""
    weighted, weighted_log_sd, _ = _settle(structure, observations, log_sd, TAIL_DEGREES_OF_FREEDOM)
    heavy = _left_out_log_score(structure, weighted, weighted_log_sd, TAIL_DEGREES_OF_FREEDOM)
    if heavy - _left_out_log_score(structure, observations, log_sd, None) > TAIL_GAIN:
        return weighted, weighted_log_sd, TAIL_DEGREES_OF_FREEDOM
    return observations, log_sd, None


def _left_out_log_score(
    structure: _Structure, observations: Observations, log_sd: FloatArray, degrees_of_freedom: float | None
) -> float:
    """Log density that the fit without each sold row gives it, summed, at the most probable variances."""
    matrix, exact = structure.rows.matrix, observations.exact
    response = observations.response - matrix @ structure.prior.mean
    mode = mix(_sums(structure, observations), structure.prior.variances, log_sd, 1)
    left = leave_one_out(matrix, response, observations.weight, mode)
    standard = (response - left.mean)[exact] / left.scale[exact]
    return float((log_density(standard, degrees_of_freedom) - np.log(left.scale[exact])).sum())
