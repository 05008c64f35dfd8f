"""Answers as pandas tables: one way for all of them."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from valuation.answers.check import TableCheck
from valuation.answers.mend import TableMend
from valuation.build.figures import Spread
from valuation.comparables.table import Comparables
from valuation.errors import EvidenceError
from valuation.evidence.grid_rows import Grid, GridLine, GridRow
from valuation.evidence.reasons import PriceTrend
from valuation.evidence.unseen import BackTest
from valuation.paths.compare import PathsReport
from valuation.paths.field_table import FieldTable
from valuation.paths.steps import StepsReport
from valuation.regression.model import Valuation
from valuation.sell.bands import PriceBands

if TYPE_CHECKING:
    import pandas as pd

_TABLE: dict[type, str] = {
    BackTest: "sales",
    TableCheck: "faults",
    TableMend: "changes",
    Grid: "rows",
    PathsReport: "paths",
    PriceBands: "asks",
    PriceTrend: "levels",
    StepsReport: "steps",
    Valuation: "factors",
}
"""Answers that are a table and what stands around it, with the name of the rows."""

_COLUMNS: dict[type, tuple[str, ...]] = {
    GridLine: ("attribute", "title", "from_level", "to_level", "factor", "amount"),
    GridRow: (
        "sale", "date", "outcome", "source", "price", "net", "gross", "gross_percent", "adjusted_price", "distance",
        "weight", "why",
    ),
}  # fmt: skip
"""Rows that keep money in cents, and the columns that show it in units."""

_INDEX = {"paths": "name", "steps": "id"}


def frame(answer: Any) -> pd.DataFrame:
    """An answer, or a list of its rows, as a pandas table.

    Parameters
    ----------
    answer : Any
        An answer that is one table (``compare_paths``, ``steps``, ``field``, ``backtest``, ``check``, ``mend``, a grid,
        a trend, the asks of ``bands``, comparables), or any list of rows that an answer holds (``factors``,
        ``effects``, ``influence``, ``gaps``, the lines of a grid's row).

    Returns
    -------
    DataFrame
        One row for each, in the answer's order; paths are named by their name and steps by their id. A figure with a
        range has its columns ``outlay_mean``, ``outlay_low``, ``outlay_high``; dates are ``datetime64``. What is a
        list or an answer of its own within a row (notes, the lines of a grid's row) has no column. Of a field table:
        condition as found by model year, each cell the most to pay. Of comparables: the sales with their attributes.

    Raises
    ------
    EvidenceError
        If the answer is not a table, or holds several: names them.

    Examples
    --------
    >>> from valuation.notes import Note
    >>> frame([Note("drift", "Prices rose."), Note("few_sales", "Twelve sales.")])
            code           text
    0      drift   Prices rose.
    1  few_sales  Twelve sales.
    """
    import pandas as pd

    if isinstance(answer, Comparables):
        return answer.sales.join(answer.attributes)
    if isinstance(answer, FieldTable):
        cells = [[answer.cell(condition, year).most_to_pay for year in answer.years] for condition in answer.conditions]
        index = pd.Index(answer.conditions, name="condition")
        return pd.DataFrame(cells, index=index, columns=pd.Index(answer.years, name="model_year"))
    name = _TABLE.get(type(answer))
    rows = getattr(answer, name) if name else answer
    if not isinstance(rows, tuple | list) or not all(map(dataclasses.is_dataclass, rows)):
        raise EvidenceError(_no_table(answer))
    found = pd.DataFrame([dict(_cells(row)) for row in rows])
    for column in found.columns:
        values = found[column].dropna()
        if len(values) and all(isinstance(value, dt.date) for value in values):
            found[column] = pd.to_datetime(found[column])
    index_name = _INDEX.get(name or "")
    return found.set_index(index_name) if index_name else found


def _cells(row: Any, before: str = "") -> Iterator[tuple[str, Any]]:
    """Names and values of a row; what belongs together bears one name before its own."""
    names = _COLUMNS.get(type(row)) or [one.name for one in dataclasses.fields(row)]
    for name in names:
        value = getattr(row, name)
        if isinstance(value, Spread):
            yield from _cells(value, f"{before}{name}_")
        elif not isinstance(value, tuple | list | Mapping) and not dataclasses.is_dataclass(value):
            yield before + name, value


def _no_table(answer: Any) -> str:
    kind = type(answer).__name__
    held: list[str] = []
    if dataclasses.is_dataclass(answer):
        held = [one.name for one in dataclasses.fields(answer) if _is_table(getattr(answer, one.name))]
    told = f"It holds several: give one of {', '.join(held)}." if held else "Give an answer, or a list of its rows."
    return f"Cannot make one table of {kind!r}. {told}"


def _is_table(value: Any) -> bool:
    rows = isinstance(value, tuple) and len(value) > 0 and dataclasses.is_dataclass(value[0])
    return rows or type(value) in _TABLE
