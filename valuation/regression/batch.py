"""Many vehicles at once: the same estimate as one by one, over tables of any length in bounded memory."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from valuation.errors import TableError, shortlist
from valuation.regression.model import SALE_DATE_ATTRIBUTE, PriceModel
from valuation.schema.attributes import Attribute
from valuation.schema.frame import typed_column
from valuation.schema.spelling import header_key, level_key
from valuation.schema.values import Problem, Reading, Value, as_text, read_value

if TYPE_CHECKING:
    from dask.dataframe import DataFrame as DaskFrame

RESULT_COLUMNS = ("median", "low", "high", "mean", "remark")
"""What ``value_frame`` adds: money, and in words why a row could not be valued or is wider than it might be."""

_CSV, _PARQUET = ".csv", ".parquet"


@dataclass(frozen=True, slots=True)
class BatchCount:
    """Rows written, and how many of them could not be valued."""

    rows: int
    refused: int


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
        The date on which the estimates hold; the model's newest sale unless told.
    coverage : float
        Of the intervals.

    Returns
    -------
    DataFrame, shape (m, any + 5)
        The same rows and columns, then ``RESULT_COLUMNS``. A row with a cell that cannot be read has no figures and
        its reason as remark.
    """
    headers = {header_key(str(header)): header for header in vehicles.columns}
    remarks = np.full(len(vehicles), "", dtype=object)
    refused = np.zeros(len(vehicles), dtype=bool)
    columns: dict[str, Any] = {}
    for attribute in model.attributes:
        if attribute.name == SALE_DATE_ATTRIBUTE.name:
            columns[attribute.name] = np.full(len(vehicles), np.datetime64(model.date(as_of)), dtype="datetime64[ns]")
            continue
        header = next(
            (headers[k] for w in (attribute.name, *attribute.aliases) if (k := header_key(w)) in headers), None
        )
        texts = vehicles[header] if header is not None else pd.Series([None] * len(vehicles), dtype=object)
        columns[attribute.name] = _column(model, attribute, texts, remarks, refused)
    cells = pd.DataFrame(columns, index=vehicles.index)
    rows = model.core.rows(cells)
    distribution = model.core.distribution(rows)
    low, high = distribution.interval(coverage)
    figures = {"median": distribution.median(), "low": low, "high": high, "mean": distribution.mean()}
    for attribute in model.attributes:
        encoded = rows.encoded[attribute.name]
        for flags, words in ((encoded.unseen, "not in the table"), (encoded.beyond > 0, "outside the table")):
            remarks[flags & ~refused] += f"{attribute.title} {words}, wider for it. "
    for name, values in figures.items():
        figures[name] = np.where(refused, np.nan, values)
    return vehicles.assign(**figures, remark=[str(remark).strip() for remark in remarks])


def _column(
    model: PriceModel,
    attribute: Attribute,
    texts: pd.Series,
    remarks: np.ndarray[Any, Any],
    refused: np.ndarray[Any, Any],
) -> Any:
    """Read one attribute's cells, each distinct text once; note and refuse what cannot be read."""
    codes, distinct = pd.factorize(texts.to_numpy(dtype=object))
    known = {level_key(level): level for level in _known_levels(model, attribute)}
    reading = Reading(day_first=model.schema.day_first)
    values: list[Value | None] = []
    for text in distinct:
        value = read_value(attribute, as_text(text), reading)
        if isinstance(value, Problem):
            here = codes == len(values)
            remarks[here] += f"{attribute.title}: {value.why} {value.mend} "
            refused |= here
            value = None
        values.append(known.get(level_key(value), value) if isinstance(value, str) else value)
    values.append(None)  # what the code -1 of an empty cell picks
    laid_out = np.empty(len(values), dtype=object)
    laid_out[:] = values
    return typed_column(attribute, laid_out[codes].tolist(), texts.index).to_numpy()


def _known_levels(model: PriceModel, attribute: Attribute) -> tuple[str, ...]:
    for term in model.core.design.terms:
        if term.attribute == attribute.name:
            return tuple(getattr(term, "levels", ()))
    return ()


def value_file(
    model: PriceModel,
    source: str | Path,
    target: str | Path,
    *,
    as_of: dt.date | None = None,
    coverage: float = 0.8,
    chunk_rows: int = 50_000,
    tell: Callable[[int, int], None] = lambda done, total: None,
) -> BatchCount:
    """Value a file of vehicles chunk by chunk.

    Parameters
    ----------
    model : PriceModel
        The model.
    source, target : str or Path
        CSV or Parquet to read, CSV or Parquet to write (by their endings).
    as_of, coverage
        As for ``value_frame``.
    chunk_rows : int
        Rows held in memory at a time; at least 1.
    tell : callable
        Called with rows done and rows in all (0 when unknown) after each chunk.

    Raises
    ------
    TableError
        If a file is neither CSV nor Parquet, cannot be read, or the chunk is no positive number.
    """
    if chunk_rows < 1:
        raise TableError(f"Cannot work in chunks of {chunk_rows} rows. Give 1 or more.")
    rows = refused = 0
    with _Writer(Path(target)) as writer:
        for chunk, total in _chunks(Path(source), chunk_rows):
            valued = value_frame(model, chunk, as_of, coverage)
            writer.write(valued)
            rows += len(valued)
            refused += int(valued["median"].isna().sum())
            tell(rows, total)
    return BatchCount(rows, refused)


def value_partitions(
    model: PriceModel, vehicles: DaskFrame, as_of: dt.date | None = None, coverage: float = 0.8
) -> DaskFrame:
    """The same over the partitions of a Dask table (extra ``cluster``); each worker values whole partitions."""
    meta = value_frame(model, vehicles._meta, as_of, coverage)
    return vehicles.map_partitions(_value_partition, model.without_sales(), as_of, coverage, meta=meta)


def _value_partition(vehicles: pd.DataFrame, model: PriceModel, as_of: dt.date | None, coverage: float) -> pd.DataFrame:
    return value_frame(model, vehicles, as_of, coverage)


def _chunks(source: Path, chunk_rows: int) -> Iterator[tuple[pd.DataFrame, int]]:
    """Chunks of a file with the number of rows in all, 0 when that is not known."""
    ending = source.suffix.casefold()
    try:
        if ending == _CSV:
            with pd.read_csv(source, dtype=str, keep_default_na=False, chunksize=chunk_rows) as reader:
                for chunk in reader:
                    yield chunk, 0
        elif ending == _PARQUET:
            from pyarrow.parquet import ParquetFile

            with ParquetFile(source) as file:
                for batch in file.iter_batches(batch_size=chunk_rows):
                    yield batch.to_pandas(), file.metadata.num_rows
        else:
            raise TableError(_not_a_kind("read", source))
    except (OSError, ValueError) as error:
        if isinstance(error, TableError):
            raise
        raise TableError(f"Cannot read the vehicles in {source.name}: {error}. Save them as CSV or Parquet.") from error


def _not_a_kind(what: str, path: Path) -> str:
    return f"Cannot {what} {path.name}: its ending is {path.suffix!r}. Use {shortlist([_CSV, _PARQUET])}."


class _Writer:
    """Appends chunks to a CSV or Parquet file."""

    def __init__(self, target: Path) -> None:
        self._target = target
        self._parquet: Any = None
        self._begun = False
        if target.suffix.casefold() not in (_CSV, _PARQUET):
            raise TableError(_not_a_kind("write", target))

    def __enter__(self) -> _Writer:
        return self

    def __exit__(self, *problem: object) -> None:
        if self._parquet is not None:
            self._parquet.close()

    def write(self, chunk: pd.DataFrame) -> None:
        """Append one chunk."""
        if self._target.suffix.casefold() == _CSV:
            chunk.to_csv(self._target, mode="a" if self._begun else "w", header=not self._begun, index=False)
        else:
            import pyarrow as pa
            from pyarrow.parquet import ParquetWriter

            table = pa.Table.from_pandas(chunk, preserve_index=False)
            if self._parquet is None:
                self._parquet = ParquetWriter(self._target, table.schema)
            self._parquet.write_table(table)
        self._begun = True
