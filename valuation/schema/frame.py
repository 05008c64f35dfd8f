"""Typed columns: one attribute's values as the regression takes them, the same for a table and for one vehicle."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from valuation.schema.attributes import Attribute, Role
from valuation.schema.checks import lowest_value
from valuation.schema.values import Value

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd


def typed_column(attribute: Attribute, values: Sequence[Value | None], index: Any) -> pd.Series[Any]:
    """One attribute's values as a typed column.

    Parameters
    ----------
    attribute : Attribute
        Decides the type: ordered ``Categorical`` for ordinal, plain ``Categorical`` for nominal (closed: the schema's
        levels; open: the levels seen, sorted), float for number, smooth, count and flag (1, 0), ``datetime64[ns]``
        for date.
    values : sequence, shape (n_rows,)
        As :func:`valuation.schema.values.read_value` gives them; ``None`` is missing.
    index : index or None
        Row labels.

    Returns
    -------
    Series, shape (n_rows,)
        Missing cells are NaN (or NaT), unless the attribute reads them as its lowest value.
    """
    import pandas as pd

    filled = _filled(attribute, values)
    column: Any
    if attribute.role in (Role.ORDINAL, Role.NOMINAL):
        levels = attribute.level_names or sorted({str(value) for value in filled if value is not None})
        ordered = attribute.role is Role.ORDINAL
        column = pd.Categorical(filled, categories=list(levels), ordered=ordered)
    elif attribute.role is Role.DATE:
        column = pd.to_datetime(pd.Series(filled, dtype=object)).astype("datetime64[ns]").to_numpy()
    else:
        column = [float("nan") if value is None else float(value) for value in filled]
        return pd.Series(column, index=index, name=attribute.name, dtype=float)
    return pd.Series(column, index=index, name=attribute.name)


def plain_column(attribute: Attribute, values: Sequence[Value | None]) -> np.ndarray[Any, Any]:
    """The same cells as :func:`typed_column` without pandas: a table of one vehicle costs more than its estimate.

    Parameters
    ----------
    attribute : Attribute
        Decides the type.
    values : sequence, shape (n_rows,)
        ``None`` is missing.

    Returns
    -------
    ndarray, shape (n_rows,)
        Objects (a level's name, or ``None``) for ordinal and nominal, ``datetime64[ns]`` for date, float for the rest.
    """
    import numpy as np

    filled = _filled(attribute, values)
    if attribute.role in (Role.ORDINAL, Role.NOMINAL):
        column = np.empty(len(filled), dtype=object)
        known = attribute.level_names
        column[:] = [None if value is None or (known and value not in known) else str(value) for value in filled]
        return column
    if attribute.role is Role.DATE:
        return np.array(["NaT" if value is None else str(value) for value in filled], dtype="datetime64[ns]")
    return np.array([np.nan if value is None else float(value) for value in filled], dtype=float)


def _filled(attribute: Attribute, values: Sequence[Value | None]) -> Sequence[Any]:
    """The values, with the lowest one in empty cells that are read so."""
    if attribute.missing != "lowest":
        return values
    lowest = lowest_value(attribute)
    return [lowest if value is None else value for value in values]
