"""Averaging over what the variances might be, instead of trusting the most probable ones.

With 25 sales the variances themselves are uncertain, and an interval that ignores this is too narrow. The log standard
deviations are laid on a small deterministic lattice around their mode (Laplace's approximation, points re-weighted by
the exact density: importance sampling on a quasi-random design). The average of the coefficients is again one set of
coefficients, so every effect stays one percentage.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from valuation.regression.cells import FloatArray
from valuation.regression.mixed import Posterior, Sums, VariancePriors, objective, solve

LATTICE_POINTS = 24
"""Sets of variances averaged over; chosen on the work tables, see benchmarks/accuracy/TRIED.md."""

LARGE_TABLE = 1000
"""From this many sales the variances are known well enough for their mode alone."""

_LEAST_CURVATURE = 0.3
"""Curvature below which a direction counts as flat: the lattice is then 1 / sqrt(0.3) = 1.8 wide at most."""

_STEP = 1e-3
"""Of the finite differences: a thousandth of the scale on which the density changes."""
_LIMIT = 4.0
"""Prior standard deviations that a point of the lattice may lie from the prior mean."""


@dataclass(frozen=True)
class Mixture:
    """Posteriors at several sets of variances.

    Attributes
    ----------
    weight : ndarray, shape (k,)
        Posterior weight of each set; sums to 1.
    log_sd : ndarray, shape (k, blocks + 1)
        Log standard deviations of the noise and the blocks.
    parts : tuple of Posterior
        Coefficients given each set.
    """

    weight: FloatArray
    log_sd: FloatArray
    parts: tuple[Posterior, ...]

    def mean(self) -> FloatArray:
        """Average coefficients (deviations from the prior means), shape (p,)."""
        return np.asarray(self.weight @ np.array([part.mean for part in self.parts]))

    def covariance(self) -> FloatArray:
        """Covariance of the coefficients, the uncertainty of the variances included, shape (p, p)."""
        total = sum(w * part.covariance for w, part in zip(self.weight, self.parts, strict=True))
        off = np.array([part.mean for part in self.parts]) - self.mean()
        covariance = np.asarray(total + (off * self.weight[:, None]).T @ off)
        # Symmetric to the last bit, so that the half that a model file holds restores it.
        return np.asarray((covariance + covariance.T) / 2)

    def noise(self) -> float:
        """Average noise variance, log units squared."""
        return float(self.weight @ np.array([part.noise for part in self.parts]))

    def block_variances(self) -> FloatArray:
        """Average prior variance of each block, shape (blocks,)."""
        return np.asarray(self.weight @ np.exp(2 * self.log_sd[:, 1:]))


def mix(sums: Sums, priors: VariancePriors, mode: FloatArray, points: int) -> Mixture:
    """Posteriors on a lattice of ``points`` sets of variances around the mode; the mode alone when ``points`` is 1.

    Parameters
    ----------
    sums : Sums
        The data.
    priors : VariancePriors
        Of the standard deviations.
    mode : ndarray, shape (blocks + 1,)
        The most probable log standard deviations.
    points : int
        Sets of variances; at least 1.
    """
    free = priors.log_sd > 0
    if points == 1 or not free.any():
        return Mixture(np.ones(1), mode[None, :], (solve(sums, mode)[2],))
    log_sd, log_weight, parts, _ = _on_lattice(sums, priors, mode, points)
    weight = np.exp(log_weight - log_weight.max())
    # No point may carry the average alone (truncated importance sampling, Ionides 2008).
    weight = np.minimum(weight, weight.mean() * np.sqrt(points))
    return Mixture(weight / weight.sum(), log_sd, parts)


def log_evidence(sums: Sums, priors: VariancePriors, mode: FloatArray) -> float:
    """Log of the marginal likelihood of the table, all that is not known averaged out, up to a constant of the table.

    Parameters
    ----------
    sums : Sums
        The data.
    priors : VariancePriors
        Of the standard deviations.
    mode : ndarray, shape (blocks + 1,)
        The most probable log standard deviations.
    """
    _, log_weight, _, log_volume = _on_lattice(sums, priors, mode, LATTICE_POINTS)
    most = log_weight.max()
    average = float(np.log(np.exp(log_weight - most).mean()) + most)
    return average + log_volume - float(np.log(priors.log_sd[priors.log_sd > 0]).sum())


def _on_lattice(
    sums: Sums, priors: VariancePriors, mode: FloatArray, points: int
) -> tuple[FloatArray, FloatArray, tuple[Posterior, ...], float]:
    """Sets of variances, the log of each one's weight, what each gives, and the log volume of the lattice's unit."""
    free = priors.log_sd > 0
    roots = _spread_roots(sums, priors, mode)
    z = lattice_scores(points, int(free.sum()))
    x = mode[free] + z @ roots.T
    widest = _LIMIT * priors.log_sd[free]
    x = np.clip(x, priors.log_mean[free] - widest, priors.log_mean[free] + widest)
    log_sd = np.repeat(priors.log_mean[None, :], points, axis=0)
    log_sd[:, free] = x
    solved = [solve(sums, row) for row in log_sd]
    off = (x - priors.log_mean[free]) / priors.log_sd[free]
    log_weight = 0.5 * ((z**2).sum(axis=1) - (off**2).sum(axis=1) - np.array([value for value, _, _ in solved]))
    volume = float(np.linalg.slogdet(roots)[1])
    return log_sd, log_weight, tuple(posterior for _, _, posterior in solved), volume


def _spread_roots(sums: Sums, priors: VariancePriors, mode: FloatArray) -> FloatArray:
    """Matrix R with R R' about the covariance of the free log standard deviations: inverse curvature at the mode."""
    density = objective(sums, priors)
    x = mode[priors.log_sd > 0]
    here = density(x)[1]
    hessian = np.array([density(x + step)[1] - here for step in _STEP * np.eye(len(x))]) / _STEP
    values, vectors = np.linalg.eigh((hessian + hessian.T) / 2)
    # A direction and its opposite are the same; without a rule the lattice would depend on the order of the columns.
    vectors *= np.sign(vectors[np.abs(vectors).argmax(axis=0), np.arange(len(x))])
    return np.asarray(vectors / np.sqrt(np.maximum(values, _LEAST_CURVATURE)))


def lattice_scores(points: int, dimensions: int) -> FloatArray:
    """Centred standard-normal scores of a Kronecker lattice on the generalised golden ratio, shape (points, d).

    Parameters
    ----------
    points, dimensions : int
        Rows and columns; at least 1.
    """
    ratio = 2.0
    for _ in range(40):
        ratio = (1 + ratio) ** (1 / (dimensions + 1))
    steps = ratio ** -np.arange(1, dimensions + 1)
    z = ndtri((0.5 + np.arange(1, points + 1)[:, None] * steps) % 1.0)
    return np.asarray(z - z.mean(axis=0))
