"""Raw cells of a table or of vehicles, read as numbers or as places on a scale."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeGuard

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.errors import RegressionError
from valuation.year import DAYS_PER_YEAR

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Cells = pd.Series | npt.NDArray[Any]
"""Raw cells of one attribute: a table's column, or a plain array as ``schema.frame.plain_column`` makes it."""

CellTable = pd.DataFrame | Mapping[str, Cells]
"""Raw cells of several attributes by name."""


def standard_numbers(column: Cells, name: str, is_date: bool) -> FloatArray:
    """Cells as floats, NaN where empty; dates as mean years since 2000.

    Parameters
    ----------
    column : Series or ndarray, shape (m,)
        Raw cells.
    name : str
        Of the attribute, for the message of a refusal.
    is_date : bool
        Whether the cells are dates.

    Raises
    ------
    RegressionError
        If a cell is not a number or date, or is infinite.
    """
    if isinstance(column, np.ndarray) and column.dtype.kind == "M":
        return np.asarray((column - np.datetime64("2000-01-01", "ns")) / np.timedelta64(1, "D") / DAYS_PER_YEAR)
    if is_date:
        try:
            dates = pd.to_datetime(pd.Series(column), format="ISO8601", utc=True).dt.tz_localize(None)
        except (TypeError, ValueError) as error:
            found = str(error).partition("\n")[0]
            raise RegressionError(
                f"Cannot read {name!r} as dates: {found}. Write dates as 2024-05-31, or give it another role."
            ) from error
        days = (dates - pd.Timestamp("2000-01-01")) / pd.Timedelta(days=1)
        return np.asarray(days.to_numpy(dtype=float) / DAYS_PER_YEAR)
    try:
        x = column if _are_floats(column) else pd.to_numeric(pd.Series(column)).to_numpy(dtype=float, na_value=np.nan)
    except (TypeError, ValueError) as error:
        raise RegressionError(
            f"Cannot read {name!r} as numbers: {error}. Mend the cells or give it another role."
        ) from error
    if np.isinf(x).any():
        raise RegressionError(f"Cannot use an infinite number in {name!r}. Mend the cell or leave it empty.")
    return np.asarray(x)


def first_cell(column: Cells) -> Any:
    """The cell of the first row, a date as a Timestamp."""
    if isinstance(column, pd.Series):
        return column.iloc[0]
    return pd.Timestamp(column[0]) if column.dtype.kind == "M" else column[0]


def _are_floats(column: Cells) -> TypeGuard[FloatArray]:
    return isinstance(column, np.ndarray) and column.dtype == np.float64


def level_codes(column: Cells, levels: tuple[str, ...]) -> npt.NDArray[np.int64]:
    """Place of each cell among the levels; -1 for an empty cell, -2 for a level that is not among them.

    Parameters
    ----------
    column : Series or ndarray, shape (m,)
        Raw cells.
    levels : tuple of str
        In order.
    """
    lookup = {level: place for place, level in enumerate(levels)}
    if isinstance(column, np.ndarray):
        return np.array([-1 if v is None else lookup.get(v, -2) for v in column.tolist()], dtype=np.int64)
    if isinstance(column.dtype, pd.CategoricalDtype):
        places = [lookup.get(str(category), -2) for category in column.cat.categories]
        return np.array([*places, -1], dtype=np.int64)[
            column.cat.codes.to_numpy()
        ]  # an empty cell's code picks the last
    text = column.astype(object)
    empty = text.isna().to_numpy()
    codes = np.array([lookup.get(str(value), -2) for value in text.tolist()], dtype=np.int64)
    codes[empty] = -1
    return codes
