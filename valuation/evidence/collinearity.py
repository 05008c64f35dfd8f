"""Attributes that move together in the table, so that it cannot tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError

Array = npt.NDArray[np.float64]

PAIRED = 0.8
"""Overlap of two attributes from which the pair is named: four fifths of the variation of one follows from the other,
as where a variance inflation factor of 5 is called harmful (rule of thumb)."""

_ROWS_PER_COLUMN = 3
"""Two attributes with many columns for few sales overlap by chance alone, so nothing is said below this; a choice."""


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two attributes, and the largest squared canonical correlation between their columns, 0 to 1."""

    first: str
    second: str
    share: float


def overlaps(design: npt.ArrayLike, blocks: Sequence[str]) -> tuple[Overlap, ...]:
    """Pairs of attributes that go together in a table, the closest first.

    Parameters
    ----------
    design : array_like of float, shape (n_sales, n_columns)
        Coded attributes without an intercept; columns that repeat each other within a block do no harm.
    blocks : sequence of str, shape (n_columns,)
        Attribute of each column.

    Returns
    -------
    tuple of Overlap
        Those of at least four fifths.

    Raises
    ------
    EvidenceError
        If the design is not finite and two-dimensional or the labels do not fit its columns.

    References
    ----------
    .. [1] H. Hotelling (1936), "Relations between two sets of variates", Biometrika 28, 321-377.

    Examples
    --------
    >>> overlaps([[1.0, 2.0], [2.0, 4.0], [4.0, 8.0], [0.0, 0.0], [3.0, 6.0], [9.0, 18.0], [5.0, 10.0]], ["a", "b"])
    (Overlap(first='a', second='b', share=1.0),)
    """
    columns = np.asarray(design, dtype=float)
    if columns.ndim != 2 or columns.shape[1] != len(blocks) or not np.isfinite(columns).all():
        raise EvidenceError(
            f"Cannot check collinearity: a design of shape {columns.shape} with {len(blocks)} labels found, or a cell "
            "that is not finite. One finite column for each label is needed. Hand over the coded design and its labels."
        )
    labels = np.asarray(blocks, dtype=object)
    bases = {name: _basis(columns[:, labels == name]) for name in dict.fromkeys(blocks)}
    found = []
    for (one, basis), (other, theirs) in combinations(bases.items(), 2):
        width = basis.shape[1] + theirs.shape[1]
        if not basis.shape[1] or not theirs.shape[1] or len(columns) <= _ROWS_PER_COLUMN * width:
            continue
        # 1 less the share that is left over keeps its digits where the two are nearly one.
        left = np.linalg.svd(basis - theirs @ (theirs.T @ basis), compute_uv=False)[: basis.shape[1]]
        found.append(Overlap(one, other, round(1 - float(left.min() ** 2), 12)))
    return tuple(sorted((pair for pair in found if pair.share >= PAIRED), key=lambda pair: -pair.share))


def _basis(columns: Array) -> Array:
    """Orthonormal basis of the centred columns, without those that are constant or repeat others."""
    centred = columns - columns.mean(axis=0)
    length = np.sqrt((centred**2).sum(axis=0))
    moving = length > 1e-12 * np.maximum(1.0, np.abs(columns).max(axis=0, initial=0.0)) * np.sqrt(len(columns))
    if not moving.any():
        return np.empty((len(columns), 0))
    left, singular, _ = np.linalg.svd(centred[:, moving] / length[moving], full_matrices=False)
    return np.asarray(left[:, singular > 1e-10 * singular[0]])
