"""Settling: the variances of a design, with pseudo-observations and weights renewed until they no longer move."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.regression.beliefs import Beliefs
from valuation.regression.cells import FloatArray
from valuation.regression.censored import pseudo_observations
from valuation.regression.core import Rows, encode_rows
from valuation.regression.design import Block, Design
from valuation.regression.empty_cells import has_empty_cells, unknown_effects
from valuation.regression.interaction import Interaction
from valuation.regression.leave_one_out import LeftOut, leave_one_out
from valuation.regression.mixed import Posterior, Sums, choose_variances, solve
from valuation.regression.mixture import mix
from valuation.regression.priors import CoefficientPrior
from valuation.regression.tails import tail_weights
from valuation.regression.terms import Term
from valuation.regression.unsold import Names, UnsoldRanges, learn_ranges, plausible

_ROUNDS = 25
"""Most rounds; it stops sooner once settled."""
_SETTLED = 1e-7
"""Change of the estimates under which they are settled, in log price: far under a printed digit."""
_WEIGHTS_SETTLED = 1e-4
"""Largest change of a fitted log price at which pseudo-observations, and tail weights, count as settled."""


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

    def __getitem__(self, kept: npt.NDArray[np.bool_]) -> Observations:
        """Some of the rows; the shift is that of all until pseudo-observations are renewed."""
        exact, response, weight = self.exact[kept], self.response[kept], self.weight[kept]
        return Observations(self.low[kept], self.high[kept], exact, response, weight, self.noise_shift)


@dataclass(frozen=True)
class Structure:
    """A design with its columns for the sales and its prior."""

    design: Design
    interaction: Interaction | None
    blocks: tuple[Block, ...]
    rows: Rows
    prior: CoefficientPrior

    @property
    def block_of_column(self) -> npt.NDArray[np.int64]:
        """Block of each column, -1 for the intercept."""
        places = np.full(self.rows.matrix.shape[1], -1, dtype=np.int64)
        for place, block in enumerate(self.blocks):
            places[block.start : block.stop] = place
        return places


def structure_of(
    terms: tuple[Term, ...],
    interaction: Interaction | None,
    X: pd.DataFrame,
    beliefs: Beliefs,
) -> Structure:
    """Lay terms side by side, encode the sales through them and state their prior.

    Parameters
    ----------
    terms : tuple of Term
        One for each attribute.
    interaction : Interaction or None
        The block of two attributes together.
    X : DataFrame, shape (n, attributes)
        Raw cells.
    beliefs : Beliefs
        What is believed before the table speaks.
    """
    design = Design.of(terms)
    rows = encode_rows(design, interaction, X)
    return Structure(design, interaction, design.blocks, rows, beliefs.prior(design, design.blocks, rows.matrix))


def settle_ranges(
    structure: Structure, observations: Observations, closed_by_ranges: bool, venue: Names
) -> tuple[Observations, FloatArray, Posterior, UnsoldRanges | None]:
    """Choose the variances; close the open sides of unsold rows by ranges learned from the table.

    Parameters
    ----------
    structure : Structure
        The design and its prior.
    observations : Observations
        Prices with their open sides.
    closed_by_ranges : bool
        False leaves every open side open.
    venue : ndarray of str, shape (n,)
        Where each row is from; empty where unknown.
    """
    is_open = np.isinf(observations.low) | np.isinf(observations.high)
    if not closed_by_ranges or not is_open.any():
        return *settle(structure, observations, None), None
    matrix, prior_mean = structure.rows.matrix, structure.prior.mean
    # Before they are renewed, rows that were not sold weigh nothing; nor may they count as sales that fit perfectly.
    sums = replace(sums_of(structure, observations), noise_shift=-float((~observations.exact).sum()))
    log_sd, _ = choose_variances(sums, structure.prior.variances)
    sold = solve(sums, log_sd)[2]
    mean = matrix @ (sold.mean + prior_mean)
    spread = np.sqrt(sold.noise + np.einsum("ij,ij->i", matrix @ sold.covariance, matrix))
    near = plausible(observations.low, observations.high, mean, spread)
    closed, log_sd, _ = settle(structure, _closed(observations, UnsoldRanges(), near, venue), log_sd)
    left = left_out_at_mode(structure, closed, log_sd)
    told = is_open & near
    mean = left.mean[told] + matrix[told] @ prior_mean
    ranges = learn_ranges(observations.low[told], observations.high[told], mean, left.scale[told], venue[told])
    return *settle(structure, _closed(observations, ranges, near, venue), log_sd), ranges


def _closed(
    observations: Observations, ranges: UnsoldRanges, near: npt.NDArray[np.bool_], venue: Names
) -> Observations:
    low, high = ranges.bounds(observations.low, observations.high, venue)
    return replace(
        observations, low=np.where(near, low, observations.low), high=np.where(near, high, observations.high)
    )


def sums_of(structure: Structure, observations: Observations) -> Sums:
    """Sufficient statistics of the present responses and weights.

    Parameters
    ----------
    structure : Structure
        Columns and prior.
    observations : Observations
        Responses and weights.
    """
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
        stretch=structure.prior.stretch,
    )


def settle(
    structure: Structure, observations: Observations, start: FloatArray | None, degrees_of_freedom: float | None = None
) -> tuple[Observations, FloatArray, Posterior]:
    """Choose the variances; renew pseudo-observations and tail weights until the fitted values no longer move.

    Parameters
    ----------
    structure : Structure
        Columns and prior.
    observations : Observations
        Responses and weights to begin with.
    start : ndarray, shape (blocks + 1,), or None
        Log standard deviations to begin with; the prior means unless given.
    degrees_of_freedom : float, optional
        Of Student-t weights; none unless given.
    """
    sums = sums_of(structure, observations)
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
        sums = sums_of(structure, observations)
        log_sd, _ = choose_variances(sums, structure.prior.variances, log_sd)
        posterior = solve(sums, log_sd)[2]
    return observations, log_sd, posterior


def _renew(
    structure: Structure,
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


def left_out_at_mode(structure: Structure, observations: Observations, log_sd: FloatArray) -> LeftOut:
    """Each row as the others see it, less the prior means' part, at the most probable variances.

    Parameters
    ----------
    structure, observations
        As for ``settle``.
    log_sd : ndarray, shape (blocks + 1,)
        Log standard deviations.
    """
    matrix = structure.rows.matrix
    mode = mix(sums_of(structure, observations), structure.prior.variances, log_sd, 1)
    return leave_one_out(matrix, observations.response - matrix @ structure.prior.mean, observations.weight, mode)
