"""Many vehicles at once: the same estimate as one by one; ``fleet`` does it to files of any length."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.day import day_of
from valuation.regression.cells import Cells
from valuation.regression.core import Rows
from valuation.regression.distribution import FloatArray, PriceDistribution
from valuation.regression.model import SALE_DATE_ATTRIBUTE, PriceModel
from valuation.schema.attributes import Attribute
from valuation.schema.frame import plain_column
from valuation.schema.values import CellFault, Value, as_text, read_value
from valuation.text.spelling import header_key, level_key
from valuation.threads import in_one_thread

if TYPE_CHECKING:
    from dask.dataframe import DataFrame as DaskFrame

RESULT_COLUMNS = ("median", "low", "high", "mean", "remark")
"""What ``value_frame`` adds: money, and in words why a row could not be valued or is wider than it might be."""

MONEY = RESULT_COLUMNS[:4]
"""Those of them that are money."""
_PIECE = 4096
"""Rows priced at a time: their columns then stay in the processor's cache."""


@in_one_thread()
def value_frame(
    model: PriceModel, vehicles: pd.DataFrame, as_of: dt.date | None = None, coverage: float = 0.8
) -> pd.DataFrame:
    """Value each row of a table of vehicles.

    Parameters
    ----------
    model : PriceModel
        The model.
    vehicles : DataFrame, shape (m, any)
        One vehicle a row; headers and cells as a table of comparables may spell them. Other columns are carried along.
    as_of : date, optional
        The date on which the estimates hold; today unless told.
    coverage : float
        Of the intervals.

    Returns
    -------
    DataFrame, shape (m, any + 5)
        The same rows and columns, then ``RESULT_COLUMNS`` (in place of columns that go by those names). A row with a
        cell that cannot be read has no figures and its reason as remark.
    """
    vehicles, places = vehicles.reset_index(drop=True), vehicles.index
    headers = {header_key(str(header)): header for header in vehicles.columns}
    remarks = np.full(len(vehicles), "", dtype=object)
    refused = np.zeros(len(vehicles), dtype=bool)
    columns: dict[str, Cells] = {}
    for attribute in model.attributes:
        if attribute.name == SALE_DATE_ATTRIBUTE.name:
            columns[attribute.name] = np.full(len(vehicles), day_of(as_of), dtype="datetime64[ns]")
            continue
        words = (attribute.name, *attribute.aliases)
        header = next((headers[key] for word in words if (key := header_key(word)) in headers), None)
        texts = vehicles[header] if header is not None else pd.Series([None] * len(vehicles), dtype=object)
        columns[attribute.name] = _column(model, attribute, texts, remarks, refused)
    figures = np.full((len(vehicles), len(MONEY)), np.nan)
    for start in range(0, len(vehicles), _PIECE):
        here = slice(start, start + _PIECE)
        rows = model.core.rows({name: cells[here] for name, cells in columns.items()})
        figures[here] = _money(model.core.distribution(rows), coverage)
        _remark_on(model, rows, remarks[here])
    figures[refused] = np.nan
    remark = [str(text).strip() for text in remarks]
    return vehicles.assign(**dict(zip(MONEY, figures.T, strict=True)), remark=remark).set_axis(places, axis=0)


def _money(prices: PriceDistribution, coverage: float) -> FloatArray:
    """Median, both ends of the interval and mean of each row, shape (m, 4)."""
    return np.column_stack([prices.median(), *prices.interval(coverage), prices.mean()])


def _remark_on(model: PriceModel, rows: Rows, remarks: npt.NDArray[np.object_]) -> None:
    """Say why a row's interval is wider than it might be; a refused row has its reason already."""
    open_rows = remarks == ""
    for attribute in model.attributes:
        encoded = rows.encoded[attribute.name]
        for flags, words in ((encoded.unseen, "not in the table"), (encoded.beyond > 0, "outside the table")):
            if flags.any():
                remarks[flags & open_rows] += f"{attribute.title} {words}, wider for it. "


def _column(
    model: PriceModel,
    attribute: Attribute,
    texts: pd.Series,
    remarks: npt.NDArray[np.object_],
    refused: npt.NDArray[np.bool_],
) -> Cells:
    """Read one attribute's cells, each distinct text once; note and refuse what cannot be read."""
    codes, distinct = pd.factorize(texts.to_numpy(dtype=object))
    known = {level_key(level): level for level in _known_levels(model, attribute)}
    reading = model.schema.reading()
    values: list[Value | None] = []
    for code, text in enumerate(distinct):
        value = read_value(attribute, as_text(text), reading)
        if isinstance(value, CellFault):
            here = codes == code
            remarks[here] += f"{attribute.title}: {value.why} {value.mend} "
            refused |= here
            value = None
        values.append(known.get(level_key(value), value) if isinstance(value, str) else value)
    values.append(None)  # what the code -1 of an empty cell picks
    typed = plain_column(attribute, values)
    if typed.dtype != object:
        return typed[codes]
    places, levels = pd.factorize(typed)
    return pd.Series(pd.Categorical.from_codes(places[codes], pd.Index(levels)))


def _known_levels(model: PriceModel, attribute: Attribute) -> tuple[str, ...]:
    for term in model.core.design.terms:
        if term.attribute == attribute.name:
            return tuple(getattr(term, "levels", ()))
    return ()


def value_partitions(
    model: PriceModel, vehicles: DaskFrame, as_of: dt.date | None = None, coverage: float = 0.8
) -> DaskFrame:
    """The same over the partitions of a Dask table (extra ``cluster``); each worker values whole partitions.

    Parameters
    ----------
    model : PriceModel
        The model.
    vehicles : dask DataFrame
        One vehicle a row.
    as_of, coverage
        As for ``value_frame``.
    """
    day = day_of(as_of)
    meta = value_frame(model, vehicles._meta, day, coverage)
    valued: DaskFrame = vehicles.map_partitions(_value_partition, model.without_sales(), day, coverage, meta=meta)  # type: ignore[no-untyped-call]
    return valued


def _value_partition(vehicles: pd.DataFrame, model: PriceModel, as_of: dt.date, coverage: float) -> pd.DataFrame:
    return value_frame(model, vehicles, as_of, coverage)
