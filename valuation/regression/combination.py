"""The combination block: a bounded allowance for two attributes mattering together.

A better grade may add more, in percent, to one family than to another. Products of the terms' coordinates, weighted by
how much each attribute matters on its own (an effect that is weak alone is seldom strong in company), share one small
variance. Coordinates are bounded, so the block cannot run away outside the table. In every list of factors it is a line
of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from valuation.regression.design import Design
from valuation.regression.terms import Encoded, FloatArray

MAX_PAIRS = 60
MAX_IMPORTANCE = 0.7
LEAST_WEIGHT = 1e-4


@dataclass(frozen=True)
class Combination:
    """Frozen products of coordinates.

    Attributes
    ----------
    first, second : ndarray of int, shape (k,)
        The two coordinates of each product, counted over all terms.
    mean, weight : ndarray, shape (k,)
        Taken off each product, then multiplied.
    """

    first: npt.NDArray[np.int64]
    second: npt.NDArray[np.int64]
    mean: FloatArray
    weight: FloatArray

    def columns(self, design: Design, encoded: Mapping[str, Encoded]) -> FloatArray:
        """Columns of the block for encoded rows, shape (m, k)."""
        q = np.hstack([encoded[term.attribute].coordinates for term in design.terms])
        return np.asarray((q[:, self.first] * q[:, self.second] - self.mean) * self.weight)

    def state(self) -> dict[str, Any]:
        """The block as plain data."""
        return {
            "first": self.first.tolist(),
            "second": self.second.tolist(),
            "mean": self.mean.tolist(),
            "weight": self.weight.tolist(),
        }

    @classmethod
    def from_state(cls, state: dict[str, Any]) -> Combination:
        """The block that ``state`` wrote."""
        return cls(
            np.array(state["first"], dtype=np.int64),
            np.array(state["second"], dtype=np.int64),
            np.array(state["mean"], dtype=float),
            np.array(state["weight"], dtype=float),
        )


def learn_combination(
    design: Design, encoded: Mapping[str, Encoded], matrix: FloatArray, coefficients: FloatArray, spread: float
) -> Combination | None:
    """Choose the products worth having from a fit without them; None where there are no two attributes to combine.

    Parameters
    ----------
    matrix : ndarray, shape (n, p)
        The design's columns.
    coefficients : ndarray, shape (p,)
        Of the fit without combinations.
    spread : float
        Standard deviation of the log prices.
    """
    importance = []
    owner: list[int] = []
    for place, term in enumerate(design.terms):
        columns = design.columns_of(term.attribute)
        importance.append(min(float((matrix[:, columns] @ coefficients[columns]).std()) / spread, MAX_IMPORTANCE))
        owner += [place] * encoded[term.attribute].coordinates.shape[1]
    first, second = np.triu_indices(len(owner), k=1)
    owners = np.array(owner)
    apart = owners[first] != owners[second]
    first, second = first[apart], second[apart]
    strength = np.array(importance)[owners]
    weight = strength[first] * strength[second]
    best = np.argsort(-weight, kind="stable")[:MAX_PAIRS]
    first, second, weight = first[best], second[best], weight[best]
    if len(weight) == 0 or weight[0] < LEAST_WEIGHT:
        return None
    q = np.hstack([encoded[term.attribute].coordinates for term in design.terms])
    products = q[:, first] * q[:, second]
    mean = products.mean(axis=0)
    scale = float(np.sqrt((((products - mean) * weight) ** 2).sum(axis=1).mean()))
    if not scale > 0:
        return None
    return Combination(first.astype(np.int64), second.astype(np.int64), mean, weight / scale)
