"""Files of many vehicles, read and written a chunk at a time: CSV and Parquet, told apart by their endings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

import pandas as pd

from valuation.errors import TableError, shortlist
from valuation.files import replacing

_CSV, _PARQUET = KINDS = (".csv", ".parquet")
# What pandas and pyarrow raise for a damaged file; each of pyarrow's own errors is one of these too.
_UNREADABLE = (OSError, ValueError, LookupError, TypeError, NotImplementedError)


class VehicleFile:
    """A table of vehicles that may be too long for memory.

    Parameters
    ----------
    path : Path
        CSV or Parquet.

    Raises
    ------
    TableError
        If its ending is neither; and while reading, if it cannot be read.
    """

    def __init__(self, path: Path) -> None:
        _known_kind("read", path)
        self.path = path

    @property
    def arrow_schema(self) -> Any:
        """Types of a Parquet file's columns; None for CSV, whose cells are all text."""
        if self.path.suffix.casefold() == _CSV:
            return None
        from pyarrow.parquet import read_schema

        try:
            return read_schema(self.path)
        except _UNREADABLE as error:
            raise self._unreadable(error) from error

    def chunks(self, rows: int) -> Iterator[tuple[pd.DataFrame, int]]:
        """Chunks of so many rows, each with the number of rows in all (0 when not known); at least one chunk."""
        read = self._csv_chunks if self.path.suffix.casefold() == _CSV else self._parquet_chunks
        try:
            yield from read(rows)
        except _UNREADABLE as error:
            raise self._unreadable(error) from error

    def _csv_chunks(self, rows: int) -> Iterator[tuple[pd.DataFrame, int]]:
        with pd.read_csv(self.path, dtype=str, keep_default_na=False, chunksize=rows) as reader:
            for chunk in reader:
                yield chunk, 0

    def _parquet_chunks(self, rows: int) -> Iterator[tuple[pd.DataFrame, int]]:
        from pyarrow.parquet import ParquetFile

        with ParquetFile(self.path) as file:
            total = file.metadata.num_rows
            if total == 0:
                yield file.schema_arrow.empty_table().to_pandas(), 0
            for batch in file.iter_batches(batch_size=rows):
                yield batch.to_pandas(), total

    def _unreadable(self, error: Exception) -> TableError:
        reason = str(error).partition("\n")[0]
        return TableError(
            f"Cannot read the vehicles in {self.path.name}: {reason}. Save them as CSV (UTF-8) or Parquet."
        )


class ValuedFile:
    """A file that grows chunk by chunk and gets its name only when it is whole.

    Parameters
    ----------
    path : Path
        CSV or Parquet to write.
    source : VehicleFile
        Where the vehicles come from; its columns keep their types.
    text : sequence of str
        Added columns that hold words; the others added hold numbers.
    numbers : sequence of str
        Added columns that hold numbers.

    Raises
    ------
    TableError
        If its ending is neither CSV nor Parquet, it is the source itself, or it cannot be written.
    """

    def __init__(self, path: Path, source: VehicleFile, numbers: Sequence[str], text: Sequence[str]) -> None:
        _known_kind("write", path)
        if path.exists() and source.path.exists() and path.samefile(source.path):
            raise TableError(
                f"Cannot write the estimates to {path.name}: it is the table of vehicles itself, which would be "
                "written over. Name another file."
            )
        self._path = path
        self._held = ExitStack()
        self._source, self._numbers, self._text = source, numbers, text
        self._parquet: Any = None
        self._begun = False

    def __enter__(self) -> ValuedFile:
        with self._in_words():
            self._part = self._held.enter_context(replacing(self._path))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with self._in_words():
            self._held.__exit__(kind, error, trace)

    def write(self, chunk: pd.DataFrame) -> None:
        """Append one chunk."""
        with self._in_words():
            if self._path.suffix.casefold() == _CSV:
                chunk.to_csv(self._part, mode="a" if self._begun else "w", header=not self._begun, index=False)
            else:
                self._write_parquet(chunk)
        self._begun = True

    @contextmanager
    def _in_words(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise TableError(
                f"Cannot write {self._path.name}: {error.strerror or error}. Choose another folder or make room."
            ) from error

    def _write_parquet(self, chunk: pd.DataFrame) -> None:
        import pyarrow as pa
        from pyarrow.parquet import ParquetWriter

        if self._parquet is None:
            self._parquet = self._held.enter_context(ParquetWriter(self._part, self._types(chunk)))
        self._parquet.write_table(pa.Table.from_pandas(chunk, schema=self._parquet.schema, preserve_index=False))

    def _types(self, chunk: pd.DataFrame) -> Any:
        """Types of all columns, fixed by the source: a first chunk may hold nothing but empty cells."""
        import pyarrow as pa

        known = self._source.arrow_schema
        kinds = {name: known.field(name).type for name in known.names} if known is not None else {}
        kinds |= dict.fromkeys(self._numbers, pa.float64()) | dict.fromkeys(self._text, pa.string())
        return pa.schema([(str(name), kinds.get(str(name), pa.string())) for name in chunk.columns])


def _known_kind(what: str, path: Path) -> None:
    if path.suffix.casefold() not in KINDS:
        raise TableError(f"Cannot {what} {path.name}: its ending is {path.suffix!r}. Use {shortlist(list(KINDS))}.")
