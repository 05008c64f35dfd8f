"""Contrasts: what changing one thing about a vehicle does to its price, with how sure the fit is of it.

A state is the subject with one attribute set otherwise. All states are encoded together, so a contrast of two of them
holds the interaction at the subject's other attributes and shares whatever is unknown about both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.regression.cells import first_cell

if TYPE_CHECKING:
    from valuation.regression.cells import Cells
    from valuation.regression.core import Core, Rows
    from valuation.regression.joint import JointPrices

Array = npt.NDArray[np.float64]

_HELD = 1e-6
"""Share of the prior variance, and of the variance of one sale, below which a contrast is taken to be held level by the
expected direction: no table of less than a million sales knows an effect that well."""


@dataclass
class States:
    """The subject as it is (state 0) and otherwise, gathered from all who ask and then encoded at once.

    Parameters
    ----------
    cells : mapping of str to ndarray, shape (1,) each
        The subject's raw cells, as ``PriceModel.plain_cells`` gives them.
    """

    cells: Mapping[str, Cells]
    changes: list[Mapping[str, Any]] = field(default_factory=list)
    _places: dict[tuple[str, Any], int] = field(default_factory=dict)

    def own(self, attribute: str) -> Any:
        """The subject's cell."""
        return self._own[attribute]

    @cached_property
    def _own(self) -> dict[str, Any]:
        return {name: first_cell(column) for name, column in self.cells.items()}

    def add(self, attribute: str, value: Any) -> int:
        """Number of the state in which ``attribute`` is ``value``; 0 when that is the subject itself.

        Parameters
        ----------
        attribute : str
            Its name.
        value : Any
            What it is in the state.
        """
        own = self.own(attribute)
        if not pd.isna(own) and own == value:
            return 0
        if (attribute, value) not in self._places:
            self._places[attribute, value] = self.add_changes({attribute: value})
        return self._places[attribute, value]

    def add_changes(self, changes: Mapping[str, Any]) -> int:
        """Number of the state in which several attributes are otherwise at once."""
        self.changes.append(changes)
        return len(self.changes)

    def encode(self, core: Core) -> StateRows:
        """All states through the frozen design."""
        rows = core.rows({name: self._column(name, column.dtype) for name, column in self.cells.items()})
        return StateRows(core, rows, core.joint(rows))

    def _column(self, name: str, dtype: Any) -> Cells:
        """Cells of one attribute in all states, of the subject's own kind; an empty one is None, NaN or NaT."""
        own = self.own(name)
        values = [own, *(change.get(name, own) for change in self.changes)]
        if dtype.kind == "O":
            column = np.empty(len(values), dtype=object)
            column[:] = values
            return column
        empty = np.datetime64("NaT") if dtype.kind == "M" else np.nan
        return np.array([empty if value is None else value for value in values], dtype=dtype)


@dataclass(frozen=True)
class StateRows:
    """States of one vehicle, encoded.

    Attributes
    ----------
    core : Core
        The fit.
    rows : Rows
        One row for each state.
    joint : JointPrices
        Their prices with the doubt that they share.
    """

    core: Core
    rows: Rows
    joint: JointPrices


@dataclass(frozen=True)
class Contrasts:
    """Differences in log price between pairs of states.

    Attributes
    ----------
    start : ndarray, shape (k,)
        Log median of the state that each contrast starts from.
    effect, variance : ndarray, shape (k,)
        Log median of the state it goes to, less ``start``; and the variance of that.
    expected : ndarray, shape (k,)
        The same difference before the table spoke.
    from_table : ndarray, shape (k,)
        1 - variance after the table / variance before it, from 0 to 1; 0 where the expected direction holds a step.
    held : ndarray of bool, shape (k,)
        The contrast is held by the expected direction.
    """

    start: Array
    effect: Array
    variance: Array
    expected: Array
    from_table: Array
    held: npt.NDArray[np.bool_]


def contrasts(states: StateRows, start: Sequence[int], end: Sequence[int]) -> Contrasts:
    """Contrasts that go from the states ``start`` to the states ``end``, each of shape (k,).

    Parameters
    ----------
    states : StateRows
        The states, encoded.
    start, end : sequence of int, shape (k,)
        Numbers of the states that each contrast goes from and to.
    """
    core, joint, matrix = states.core, states.joint, states.rows.matrix
    first, second = np.asarray(start, dtype=int), np.asarray(end, dtype=int)
    shared = joint.effect_covariance
    own_variance = np.diag(shared)
    variance = np.maximum(own_variance[first] + own_variance[second] - 2 * shared[first, second], 0.0)
    change = matrix[second] - matrix[first]
    before = change[:, 1:] ** 2 @ core.prior_variance()[1:]
    after = np.einsum("ij,ij->i", change @ core.covariance, change)
    effect = joint.location[second] - joint.location[first]
    left = np.divide(after, before, out=np.ones_like(after), where=before > 0)
    held = _held(core, change)
    from_table = np.where(held, 0.0, np.clip(1 - left, 0.0, 1.0))
    return Contrasts(joint.location[first], effect, variance, change @ core.prior_mean, from_table, held)


def _held(core: Core, change: Array) -> npt.NDArray[np.bool_]:
    """Which contrasts are nothing and known to be, the interaction aside: only the expected direction does that."""
    own = change.copy()
    own[:, 0] = 0.0
    if core.interaction is not None:
        own[:, core.blocks[-1].start :] = 0.0
    square = own[:, 1:] ** 2
    least = _HELD * np.minimum(square @ core.prior_variance()[1:], square.sum(axis=1) * core.noise)
    after = np.einsum("ij,ij->i", own @ core.covariance, own)
    return np.asarray((least > 0) & (after < least) & ((own @ core.coefficients) ** 2 < least))


def half_width(core: Core, coverage: float) -> float:
    """Half width of an interval of the stated coverage, in standard deviations.

    Parameters
    ----------
    core : Core
        The fit.
    coverage : float
        Of the interval; strictly between 0 and 1.

    Raises
    ------
    EvidenceError
        If the coverage is none.
    """
    from valuation.evidence.intervals import check_share

    check_share("the coverage of an interval", coverage)
    return core.half_width(coverage)
