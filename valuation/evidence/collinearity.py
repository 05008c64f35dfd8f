"""Collinearity by attribute: which attributes move together in the table, so that it cannot tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError
from valuation.notes import Note

Array = npt.NDArray[np.float64]
TANGLED = 5.0
"""Inflation from which an attribute is named: four fifths of its variation follows from the others (rule of thumb)."""
PAIRED = 0.8
"""Overlap of two attributes from which the pair is named (the same rule of thumb)."""


@dataclass(frozen=True, slots=True)
class BlockCollinearity:
    """How far one attribute's columns follow from those of the others.

    Attributes
    ----------
    block : str
        The attribute.
    columns : int
        Columns that carry information (rank).
    inflation : float
        Variance inflation per column, comparable with a VIF whatever the number of columns; 1 is none, ``inf`` when
        the attribute follows wholly from the others.
    partner : str
        The single attribute that it overlaps with most; empty when it is the only one.
    overlap : float
        Largest squared canonical correlation with that partner, 0 to 1.
    """

    block: str
    columns: int
    inflation: float
    partner: str
    overlap: float


def block_collinearity(design: npt.ArrayLike, blocks: Sequence[str]) -> tuple[BlockCollinearity, ...]:
    """Variance inflation of each attribute, taking all of its columns together.

    Parameters
    ----------
    design : array_like of float, shape (n_sales, n_columns)
        Coded attributes without an intercept; columns that repeat each other within a block do no harm.
    blocks : sequence of str, shape (n_columns,)
        Attribute of each column.

    Returns
    -------
    tuple of BlockCollinearity
        In the order in which the blocks first appear; a block without any variation is left out.

    Raises
    ------
    EvidenceError
        If the design is not finite and two-dimensional or the labels do not fit its columns.

    Notes
    -----
    The generalised variance inflation factor of a block is 1 / prod(1 - r_i^2) over its canonical correlations r_i
    with all other columns together; ``inflation`` is that to the power 1 / columns. For a block of one column it is
    the ordinary VIF.

    References
    ----------
    .. [1] J. Fox and G. Monette (1992), "Generalized collinearity diagnostics", Journal of the American Statistical
       Association 87, 178-183.

    Examples
    --------
    >>> [found] = block_collinearity([[1.0], [2.0], [4.0]], ["model_year"])
    >>> found.inflation
    1.0
    """
    columns = _checked(design, blocks)
    labels = np.asarray(blocks, dtype=object)
    bases = {name: _basis(columns[:, labels == name]) for name in dict.fromkeys(blocks)}
    bases = {name: basis for name, basis in bases.items() if basis.shape[1]}
    answer = []
    for name, basis in bases.items():
        others = {other: theirs for other, theirs in bases.items() if other != name}
        if not others:
            answer.append(BlockCollinearity(name, basis.shape[1], 1.0, "", 0.0))
            continue
        rest = _basis(np.column_stack(list(others.values())))
        overlaps = {other: 1 - float(_left_over(basis, theirs).min()) for other, theirs in others.items()}
        partner = max(overlaps, key=lambda other: overlaps[other])
        answer.append(
            BlockCollinearity(
                name, basis.shape[1], _inflation(_left_over(basis, rest)), partner, min(1.0, overlaps[partner])
            )
        )
    return tuple(answer)


def condition_number(design: npt.ArrayLike) -> float:
    """Scaled condition number of the design with its intercept.

    Parameters
    ----------
    design : array_like of float, shape (n_sales, n_columns)
        Coded attributes without an intercept.

    Returns
    -------
    float
        Largest over smallest singular value after each column, and the intercept, is scaled to length 1; ``inf``
        when some column follows from others. Above about 30 is called harmful in the reference.

    References
    ----------
    .. [1] D. A. Belsley, E. Kuh and R. E. Welsch, Regression Diagnostics, 1980, chapter 3.

    Examples
    --------
    >>> round(condition_number([[-1.0], [0.0], [1.0]]), 6)
    1.0
    """
    columns = np.asarray(design, dtype=float)
    whole = np.column_stack([np.ones(len(columns)), columns])
    length = np.sqrt((whole**2).sum(axis=0))
    if (length == 0).any() or whole.shape[1] > whole.shape[0]:
        return float("inf")
    singular = np.linalg.svd(whole / length, compute_uv=False)
    return float(singular[0] / singular[-1]) if singular[-1] > 1e-14 * singular[0] else float("inf")


def collinearity_notes(found: tuple[BlockCollinearity, ...], n_sales: int) -> tuple[Note, ...]:
    """Say which attributes the table cannot tell apart, and what that means.

    Parameters
    ----------
    found : tuple of BlockCollinearity
        By attribute.
    n_sales : int
        Rows of the design.
    """
    notes: list[Note] = []
    total = sum(block.columns for block in found)
    size = {block.block: block.columns for block in found}
    if total >= n_sales - 1 and len(found) > 1:
        notes.append(
            Note(
                "more_columns_than_sales",
                f"{total} coded columns against {n_sales} sales: the table alone cannot tell all attributes apart, and "
                "their effects lean on the penalty and on what the schema expects.",
            )
        )
    named: set[frozenset[str]] = set()
    for block in sorted(found, key=lambda one: -one.overlap):
        pair = frozenset((block.block, block.partner))
        # Two blocks with many columns for few sales overlap by chance alone, so nothing is said of them.
        enough = bool(block.partner) and n_sales > 3 * (block.columns + size[block.partner])
        if pair in named or not enough or block.overlap < PAIRED:
            continue
        named.add(pair)
        notes.append(
            Note(
                "attributes_move_together",
                f"{block.block} and {block.partner} go together in this table (overlap {100 * block.overlap:.0f} %): "
                "it cannot tell well what each is worth alone. Vehicles that follow the same pattern are estimated "
                "as well as others; one that breaks it gets a weaker estimate.",
            )
        )
    in_pair = {name for pair in named for name in pair}
    if total < n_sales - 1:
        for block in found:
            if block.inflation > TANGLED and block.block not in in_pair:
                notes.append(
                    Note(
                        "attribute_follows_from_others",
                        f"{block.block} follows largely from the other attributes together (variance inflation "
                        f"{block.inflation:.1f}): its own effect is known poorly.",
                    )
                )
    return tuple(notes)


def _checked(design: npt.ArrayLike, blocks: Sequence[str]) -> Array:
    columns = np.asarray(design, dtype=float)
    if columns.ndim != 2 or columns.shape[1] != len(blocks) or not np.isfinite(columns).all():
        raise EvidenceError(
            f"Cannot check collinearity: a design of shape {columns.shape} with {len(blocks)} labels found, or a cell "
            "that is not finite. One finite column for each label is needed. Hand over the coded design and its labels."
        )
    return columns


def _basis(columns: Array) -> Array:
    """Orthonormal basis of the centred columns, without those that are constant or repeat others."""
    centred = columns - columns.mean(axis=0)
    length = np.sqrt((centred**2).sum(axis=0))
    moving = length > 1e-12 * np.maximum(1.0, np.abs(columns).max(axis=0, initial=0.0)) * np.sqrt(len(columns))
    if not moving.any():
        return np.empty((len(columns), 0))
    left, singular, _ = np.linalg.svd(centred[:, moving] / length[moving], full_matrices=False)
    return np.asarray(left[:, singular > 1e-10 * singular[0]])


def _left_over(basis: Array, rest: Array) -> Array:
    """1 - r^2 for each canonical correlation of two bases, without cancellation when r is near 1."""
    outside = basis - rest @ (rest.T @ basis)
    return np.asarray(np.linalg.svd(outside, compute_uv=False)[: basis.shape[1]] ** 2)


def _inflation(left_over: Array) -> float:
    if (left_over < 1e-20).any():
        return float("inf")
    return float(np.exp(-np.log(np.minimum(left_over, 1.0)).mean()))
