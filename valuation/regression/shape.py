"""The shape of the scatter: a mixture of scales learned from left-out sales, shrunk towards Student's t.

Were the model right, a sale's error would follow a t distribution, which is a mixture of normals over scales. On a
fixed grid of scales that mixture has known weights; the table's own sales, each left out, correct them by the EM steps
of a mixture with known components (Dempster, Laird and Rubin 1977, *JRSS B* 39, 1-38), with the t distribution standing
for so many sales of a Dirichlet prior. What is not known of a sale's median lies inside each component and is not
mistaken for scatter.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.special import gammaincc

from valuation.regression.cells import FloatArray
from valuation.regression.distribution import ScatterMix

OWN_SHAPE_SALES = 80.0
"""Sales at which the table's own and the t distribution count alike; chosen on the work tables, see
benchmarks/accuracy/TRIED.md."""

OPTIMISM = 1.2
"""Own errors are raised by this over the root of the number of sales: the variances were chosen with the sale left out
still among the others, which makes errors a little too small (about a point of coverage on the development tables)."""

CAUTION = 0.4
"""What is not known of a median is raised by this over the root of the number of sales, for the same reason."""

SCALES = 2.0 ** (np.arange(-2, 5) / 2)
"""The grid, from half to four times the usual scatter."""

_LEAST_DEGREES_OF_FREEDOM = 4.0
"""With fewer the tails would be too heavy for a usual shape to start from."""
_ROUNDS = 500
"""Most EM steps, which are cheap and creep near the end; they stop sooner once settled."""
_SETTLED = 1e-9
"""Change of any weight under which they are settled."""


def learn_mix(
    errors: FloatArray,
    doubt: FloatArray,
    scatter: FloatArray,
    degrees_of_freedom: float,
    own_sales: float = OWN_SHAPE_SALES,
) -> ScatterMix:
    """Mixture of a fit.

    Parameters
    ----------
    errors : ndarray, shape (n,)
        Log price of each sold row less its median as the others see it; may be empty, then the t distribution stands
        alone.
    doubt, scatter : ndarray, shape (n,)
        Standard deviations of that median, and of one sale around it.
    degrees_of_freedom : float
        Degrees of freedom of the t distribution.
    own_sales : float
        Sales for which the t distribution stands; infinity leaves it alone.
    """
    base = grid_weights(max(degrees_of_freedom, _LEAST_DEGREES_OF_FREEDOM))
    n = len(errors)
    prior = ScatterMix(SCALES, base, caution=1 + CAUTION / np.sqrt(max(n, 1)))
    if not n or not np.isfinite(own_sales):
        return prior
    spread = prior.spread(doubt, scatter)
    standard = errors[:, None] * (1 + OPTIMISM / np.sqrt(n)) / spread
    density = np.exp(-np.minimum(standard**2, 1e3) / 2) / spread
    # A weight that starts at nothing stays there; else, since the likelihood is concave, the start does not matter.
    weight = 0.9 * base + 0.1 / len(base)
    for _ in range(_ROUNDS):
        renewed = (own_sales * base + weight * (density.T @ (1 / (density @ weight)))) / (own_sales + n)
        settled = np.abs(renewed - weight).max() < _SETTLED
        weight = renewed
        if settled:
            break
    return replace(prior, weight=weight / weight.sum())


def grid_weights(degrees_of_freedom: float) -> FloatArray:
    """Weights of Student's t on the grid: its scale is 1 / root of a chi-squared over its degrees of freedom."""
    between = np.sqrt(SCALES[:-1] * SCALES[1:])
    below = gammaincc(degrees_of_freedom / 2, degrees_of_freedom / 2 / between**2)
    return np.asarray(np.diff(np.concatenate([[0.0], below, [1.0]])))
