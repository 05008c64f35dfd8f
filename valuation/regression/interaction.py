"""The interaction block: a bounded allowance for attributes mattering together.

An old engine may cost one family more, in percent, than another. A smooth function of all coordinates at once, with
the straight lines taken out, has one small variance: a Gaussian process with a squared-exponential kernel on at most
``MOST_CENTRES`` rows of the table (Rasmussen and Williams, *Gaussian Processes for Machine Learning*, 2006, sections
4.2 and 8.3). Coordinates are weighted by how much each attribute matters on its own, as one that is weak alone is
seldom strong in company. Away from the table's rows the kernel fades, so the block cannot run away. In every list of
factors it is a line of its own.

Attributes with an expected direction stay out: else a better grade could be worth less in some company.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from valuation.regression.cells import FloatArray
from valuation.regression.design import Design
from valuation.regression.terms import Encoded

INTERACTION = "interaction"
"""Name of the block, as an attribute and as a kind."""

MOST_CENTRES = 60
"""More columns than this cost time without gain, see benchmarks/accuracy/TRIED.md (100 centres)."""

LENGTH = 0.4
"""Distance, in spreads of the table's log prices, over which vehicles are alike; chosen on the work tables, see
benchmarks/accuracy/TRIED.md."""

_STRAIGHT = ("line", "curve", "drift", "trend", "flag")
_LEAST_UNCERTAINTY = 1e-3
"""Share of the kernel's variance left open under which one more centre adds nothing."""
_LEAST_EIGENVALUE = 1e-4
"""Share of the largest eigenvalue under which a direction is rounding more than shape."""
_LEAST_SCALE = 0.02
"""Typical size under which nothing is left that straight lines do not say; the kernel's own is 1."""
_RIDGE = 1e-3
"""For each row: keeps the regression on straight columns solvable where two of them run together."""


@dataclass(frozen=True)
class Interaction:
    """Frozen kernel columns.

    Attributes
    ----------
    weight : ndarray, shape (c,)
        Multiplies the coordinates, counted over all terms; 0 for attributes that take no part.
    centres : ndarray, shape (k, c)
        Weighted coordinates of the rows that the kernel stands on.
    kernel_map : ndarray, shape (k, q)
        From kernel values to columns.
    straight : ndarray of int, shape (l,)
        Columns of the design whose part is taken out, the intercept first.
    straight_map : ndarray, shape (l, q)
        That part.
    """

    weight: FloatArray
    centres: FloatArray
    kernel_map: FloatArray
    straight: npt.NDArray[np.int64]
    straight_map: FloatArray

    def columns(self, design: Design, encoded: Mapping[str, Encoded], matrix: FloatArray) -> FloatArray:
        """Columns of the block, shape (m, q).

        Parameters
        ----------
        design : Design
            The terms.
        encoded : mapping of str to Encoded
            The rows by attribute.
        matrix : ndarray, shape (m, p)
            The design's columns for them.
        """
        values = _kernel(_coordinates(design, encoded) * self.weight, self.centres) @ self.kernel_map
        return np.asarray(values - matrix[:, self.straight] @ self.straight_map)

    def state(self) -> dict[str, Any]:
        """The block as plain data."""
        return {name: getattr(self, name).tolist() for name in self.__dataclass_fields__}

    @classmethod
    def from_state(cls, state: dict[str, Any]) -> Interaction:
        """The block that ``state`` wrote."""
        return cls(
            np.array(state["weight"], dtype=float),
            np.array(state["centres"], dtype=float),
            np.array(state["kernel_map"], dtype=float),
            np.array(state["straight"], dtype=np.int64),
            np.array(state["straight_map"], dtype=float),
        )


def learn_interaction(
    design: Design,
    encoded: Mapping[str, Encoded],
    matrix: FloatArray,
    coefficients: FloatArray,
    log_price_sd: float,
    directed: Collection[str] = (),
) -> Interaction | None:
    """Learn the block from a fit without it; None where there are no two attributes to combine.

    Parameters
    ----------
    design : Design
    encoded : mapping of str to Encoded
        The sales' encoded cells by attribute.
    matrix : ndarray, shape (n, p)
        The design's columns.
    coefficients : ndarray, shape (p,)
        Of the fit without interactions.
    log_price_sd : float
        Standard deviation of the log prices.
    directed : collection of str
        Attributes with an expected direction; they take no part.
    """
    parties = [
        term
        for term in design.terms
        if term.attribute not in directed and matrix[:, design.columns_of(term.attribute)].any()
    ]
    if len(parties) < 2:
        return None
    weight: list[float] = []
    for term in design.terms:
        columns = design.columns_of(term.attribute)
        share = float((matrix[:, columns] @ coefficients[columns]).std()) / log_price_sd if term in parties else 0.0
        weight += [share] * encoded[term.attribute].coordinates.shape[1]
    weights = np.array(weight)
    points = _coordinates(design, encoded) * weights
    centres = _spread_out(points)
    values, vectors = np.linalg.eigh(_kernel(centres, centres))
    keep = values > _LEAST_EIGENVALUE * values[-1]
    kernel_map = vectors[:, keep] / np.sqrt(values[keep])
    names = {term.attribute for term in parties}
    lines = [block.start for block in design.blocks if block.kind in _STRAIGHT and block.attribute in names]
    straight = np.array([0, *lines], dtype=np.int64)
    raw, line = _kernel(points, centres) @ kernel_map, matrix[:, straight]
    straight_map = np.linalg.solve(line.T @ line + _RIDGE * len(line) * np.eye(len(straight)), line.T @ raw)
    scale = float(np.sqrt(((raw - line @ straight_map) ** 2).sum(axis=1).mean()))
    if not scale > _LEAST_SCALE:
        return None
    # Row by row in memory, as a loaded model has it: another layout would sum in another order.
    maps = np.ascontiguousarray(kernel_map / scale), np.ascontiguousarray(straight_map / scale)
    return Interaction(weights, centres, maps[0], straight, maps[1])


def _coordinates(design: Design, encoded: Mapping[str, Encoded]) -> FloatArray:
    return np.hstack([encoded[term.attribute].coordinates for term in design.terms])


def _kernel(points: FloatArray, centres: FloatArray) -> FloatArray:
    """Squared-exponential covariance, shape (points, centres)."""
    square = (points**2).sum(axis=1)[:, None] + (centres**2).sum(axis=1) - 2 * points @ centres.T
    return np.asarray(np.exp(np.maximum(square, 0.0) / (-2 * LENGTH**2)))


def _spread_out(points: FloatArray) -> FloatArray:
    """Rows chosen one by one, each where those before leave most unexplained.

    Cholesky with pivots: Fine and Scheinberg 2001, *Journal of Machine Learning Research* 2, 243-264.
    """
    n = len(points)
    # Where two rows leave as much unexplained, their place and not their order in the table decides.
    points = points[np.lexsort(np.round(points, 9).T)]
    unexplained = np.ones(n)
    factor = np.zeros((n, min(MOST_CENTRES, n)))
    chosen: list[int] = []
    for step in range(factor.shape[1]):
        # The first is the most average one, so that the order of the rows does not matter.
        row = int(np.argmax(unexplained) if step else np.argmin((points**2).sum(axis=1)))
        if unexplained[row] < _LEAST_UNCERTAINTY:
            break
        column = _kernel(points, points[[row]])[:, 0] - factor[:, :step] @ factor[row, :step]
        factor[:, step] = column / np.sqrt(unexplained[row])
        unexplained = np.maximum(unexplained - factor[:, step] ** 2, 0.0)
        unexplained[row] = 0.0
        chosen.append(row)
    return points[chosen]
