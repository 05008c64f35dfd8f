"""Effects that stand apart: one big step among small ones, one expensive family among plain ones.

One variance for a whole block draws what stands apart towards the rest. The coefficients of steps and levels are taken
to follow Student's t instead of a normal, by the same weights as heavy-tailed errors (Lange, Little and Taylor 1989,
*JASA* 84, 881-896; as a prior: West 1984, *JRSS B* 46, 431-439): the prior standard deviation of one that is known
to lie far out is stretched, and the variances are settled anew, until neither moves.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from valuation.regression.cells import FloatArray
from valuation.regression.mixed import solve
from valuation.regression.mixture import LARGE_TABLE
from valuation.regression.settle import Observations, Structure, settle, sums_of
from valuation.regression.tails import tail_weights

DEGREES_OF_FREEDOM = 4.0
"""Of the prior of steps and levels; chosen on the work tables, see benchmarks/accuracy/TRIED.md."""

KINDS = ("steps", "levels")
_LEAST_COLUMNS = 3
"""Of two nobody can say which stands apart."""

_ROUNDS = 6
"""Most rounds; it stops sooner once settled."""
_SETTLED = 0.01
"""Largest change of the log of a stretch at which they count as settled: a hundredth moves no effect that matters."""


def with_heavy_effects(
    structure: Structure, observations: Observations, log_sd: FloatArray
) -> tuple[Structure, Observations, FloatArray]:
    """The structure with its prior stretched where an effect stands apart, and what is settled with it.

    Parameters
    ----------
    structure : Structure
        The design and its prior.
    observations : Observations
        Responses and weights.
    log_sd : ndarray, shape (blocks + 1,)
        The most probable log standard deviations.
    """
    block = structure.block_of_column
    meant = [k for k, b in enumerate(structure.blocks) if b.kind in KINDS and b.stop - b.start >= _LEAST_COLUMNS]
    columns = np.isin(block, meant)
    # A large table knows its effects well enough.
    if not columns.any() or len(observations.exact) > LARGE_TABLE:
        return structure, observations, log_sd
    usual = structure.prior.stretch
    for _ in range(_ROUNDS):
        posterior = solve(sums_of(structure, observations), log_sd)[2]
        square = (posterior.mean**2 + posterior.covariance.diagonal())[columns] / usual[columns] ** 2
        prior = np.exp(2 * log_sd[1 + block[columns]])
        stretch = usual.copy()
        stretch[columns] /= np.sqrt(tail_weights(square / prior, 1.0, DEGREES_OF_FREEDOM))
        moved = float(np.abs(np.log(stretch / structure.prior.stretch)).max())
        if moved < _SETTLED:
            break
        structure = replace(structure, prior=replace(structure.prior, stretch=stretch))
        observations, log_sd, _ = settle(structure, observations, log_sd)
    return structure, observations, log_sd
