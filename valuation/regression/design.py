"""The design: all terms side by side, learned once, frozen, and carried along with the model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.errors import RegressionError, shortlist
from valuation.regression.cells import CellTable, FloatArray
from valuation.regression.terms import (
    Encoded,
    Term,
    flag_term,
    nominal_term,
    number_term,
    ordinal_term,
    term_from_state,
    term_state,
)
from valuation.schema.attributes import Attribute, Level, Role


@dataclass(frozen=True, slots=True)
class Block:
    """A run of columns that share one variance."""

    attribute: str
    kind: str
    start: int
    stop: int


@dataclass(frozen=True)
class Design:
    """Frozen map from attributes to columns; column 0 is the intercept."""

    terms: tuple[Term, ...]
    blocks: tuple[Block, ...]

    @property
    def n_columns(self) -> int:
        """Columns, the intercept among them."""
        return self.blocks[-1].stop if self.blocks else 1

    @property
    def block_of_column(self) -> npt.NDArray[np.int64]:
        """Block of each column, -1 for the intercept."""
        places = np.full(self.n_columns, -1, dtype=np.int64)
        for place, block in enumerate(self.blocks):
            places[block.start : block.stop] = place
        return places

    def columns_of(self, attribute: str) -> slice:
        """Columns of one attribute, all its blocks together."""
        mine = [block for block in self.blocks if block.attribute == attribute]
        return slice(mine[0].start, mine[-1].stop)

    def encode(self, X: CellTable) -> dict[str, Encoded]:
        """Encode each term's cells; columns that no term asks for are passed over."""
        absent = [term.attribute for term in self.terms if term.attribute not in X]
        if absent:
            raise RegressionError(
                f"Cannot estimate without the columns {shortlist([repr(a) for a in absent])}. "
                "Add them; cells may be left empty."
            )
        return {term.attribute: term.encode(X[term.attribute]) for term in self.terms}

    def matrix(self, encoded: Mapping[str, Encoded], rows: int) -> FloatArray:
        """Columns of all terms after the intercept, shape (rows, p).

        Parameters
        ----------
        encoded : mapping of str to Encoded
            Encoded cells by attribute.
        rows : int
            How many.
        """
        parts = [np.ones((rows, 1)), *(encoded[term.attribute].matrix for term in self.terms)]
        return np.hstack(parts)

    def state(self) -> list[dict[str, Any]]:
        """The terms as plain data."""
        return [term_state(term) for term in self.terms]

    @classmethod
    def from_state(cls, state: list[dict[str, Any]]) -> Design:
        """The design that ``state`` wrote."""
        return cls.of(tuple(term_from_state(item) for item in state))

    @classmethod
    def of(cls, terms: tuple[Term, ...]) -> Design:
        """Lay the terms side by side."""
        blocks: list[Block] = []
        at = 1
        for term in terms:
            for kind, width in term.kinds:
                blocks.append(Block(term.attribute, kind, at, at + width))
                at += width
        return cls(terms, tuple(blocks))


def attributes_of(X: pd.DataFrame, roles: Mapping[str, str | Attribute] | None) -> tuple[Attribute, ...]:
    """One attribute for each column: as told by ``roles``, or read off the column's type.

    Parameters
    ----------
    X : DataFrame, shape (n, attributes)
        Raw cells.
    roles : mapping of str to str or Attribute, optional
        By column.

    Raises
    ------
    RegressionError
        If a role names no column, or an ordinal has no order.
    """
    roles = dict(roles or {})
    unknown = [name for name in roles if name not in X.columns]
    if unknown:
        raise RegressionError(
            f"Cannot use roles for {shortlist([repr(n) for n in unknown])}: the table has no such columns. "
            f"Its columns are {shortlist([repr(c) for c in X.columns])}."
        )
    return tuple(_attribute(X[name], str(name), roles.get(name)) for name in X.columns)


def _attribute(column: pd.Series, name: str, told: str | Attribute | None) -> Attribute:
    if isinstance(told, Attribute):
        attribute = told
    else:
        attribute = Attribute(name=name, role=_role_of(column) if told is None else _role(told, name))
    if attribute.role is Role.ORDINAL and not attribute.levels:
        if not isinstance(column.dtype, pd.CategoricalDtype) or not column.dtype.ordered:
            raise RegressionError(
                f"Cannot order the levels of {name!r}: its role is 'ordinal' but the column is not an ordered "
                "Categorical. Give the levels in a schema Attribute or make the column an ordered Categorical."
            )
        levels = tuple(Level(str(level)) for level in column.dtype.categories)
        attribute = Attribute(name=name, role=Role.ORDINAL, levels=levels, direction=attribute.direction)
    return attribute


def _role(told: str, name: str) -> Role:
    """The role that a word names."""
    try:
        return Role(told)
    except ValueError as error:
        raise RegressionError(
            f"Cannot give {name!r} the role {told!r}. Roles are {', '.join(Role)}. Use one of them."
        ) from error


def _role_of(column: pd.Series) -> Role:
    """Read a role off a column's type."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return Role.ORDINAL if column.dtype.ordered else Role.NOMINAL
    if pd.api.types.is_datetime64_any_dtype(column.dtype):
        return Role.DATE
    if pd.api.types.is_bool_dtype(column.dtype):
        return Role.FLAG
    return Role.NUMBER if pd.api.types.is_numeric_dtype(column.dtype) else Role.NOMINAL


def learn_term(column: pd.Series, attribute: Attribute, *, logged: bool = False, more: tuple[str, ...] = ()) -> Term:
    """Learn the term of one attribute from the table's cells.

    Parameters
    ----------
    column : Series, shape (n,)
        Raw cells.
    attribute : Attribute
        Its role decides the kind of term.
    logged : bool
        Whether a number enters as its log; then every cell is above 0.
    more : tuple of str
        Levels of an unordered attribute that are known besides those of the table.
    """
    name = attribute.name
    if attribute.role is Role.ORDINAL:
        return ordinal_term(column, name, attribute.level_names, missing_is_lowest=attribute.missing == "lowest")
    if attribute.role is Role.NOMINAL:
        return nominal_term(column, name, more)
    if attribute.role is Role.FLAG:
        return flag_term(column, name)
    if attribute.role is Role.DATE:
        return number_term(column, name, "drift", is_date=True)
    kind = "curve" if attribute.role is Role.SMOOTH else "line"
    return number_term(column, name, kind, logged=logged)
