"""A fleet: files of vehicles of any length, in bounded memory, by one process or by the workers of a cluster."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TypeVar

import pandas as pd

from valuation.day import day_of
from valuation.errors import TableError, shortlist
from valuation.regression.batch import MONEY, RESULT_COLUMNS
from valuation.regression.cluster import Begin, Ticket, at_work
from valuation.regression.model import PriceModel
from valuation.regression.vehicle_files import KINDS, ValuedFile, VehicleFile

T = TypeVar("T")
CHUNK_ROWS = 50_000
"""Rows held in memory at a time unless told otherwise; chosen, a second's work for one core."""


@dataclass(frozen=True, slots=True)
class BatchCount:
    """What became of one file of vehicles.

    Attributes
    ----------
    source, target : str
        Names of the file read and the file written.
    rows, refused : int
        Rows written, and how many of them could not be valued.
    problem : str
        Why the file could not be valued at all; empty where it was.
    """

    source: str
    target: str
    rows: int
    refused: int
    problem: str = ""


@dataclass(frozen=True, slots=True)
class FleetCount:
    """What became of a folder of vehicles.

    Attributes
    ----------
    files : tuple of BatchCount
        By name.
    passed_over : tuple of str
        What else lies in the folder.
    rows, refused : int
        Of all files.
    problems : int
        Files that could not be valued.
    """

    files: tuple[BatchCount, ...]
    passed_over: tuple[str, ...] = ()
    rows: int = field(init=False, default=0)
    refused: int = field(init=False, default=0)
    problems: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "rows", sum(one.rows for one in self.files))
        object.__setattr__(self, "refused", sum(one.refused for one in self.files))
        object.__setattr__(self, "problems", sum(bool(one.problem) for one in self.files))


@dataclass(frozen=True)
class _Work:
    """A file to read and the file to write."""

    source: Path
    target: Path


_Part = tuple[_Work, Ticket, int]
"""A file, the estimates of one of its chunks, and how many rows the file has (0 when not known)."""
Tell = Callable[[int, int], None]


def value_file(
    model: PriceModel,
    source: str | Path,
    target: str | Path,
    *,
    as_of: dt.date | None = None,
    coverage: float = 0.8,
    chunk_rows: int = CHUNK_ROWS,
    cluster: str = "",
    tell: Tell = lambda done, total: None,
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
        Rows held in memory at a time (on a cluster for each of its threads, twice); at least 1.
    cluster : str
        Address of a Dask scheduler whose workers value the chunks, or ``local`` for one worker on each core of this
        computer; this process alone unless told. The same chunks give the same figures to the bit either way.
    tell : callable
        Called with rows done and rows in all (0 when unknown) after each chunk.

    Raises
    ------
    TableError
        If a file is neither CSV nor Parquet, cannot be read or written, or both are the same; or the chunk is no
        positive number. Nothing is left under the name of the target unless all rows were written.
    RegressionError
        If the cluster cannot be reached or is lost.
    """
    work = _Work(Path(source), Path(target))
    [count] = _value([work], model, as_of, coverage, chunk_rows, cluster, tell, refuse=_raise)
    return count


def value_folder(
    model: PriceModel,
    source: str | Path,
    target: str | Path,
    *,
    as_of: dt.date | None = None,
    coverage: float = 0.8,
    chunk_rows: int = CHUNK_ROWS,
    cluster: str = "",
    tell: Tell = lambda done, total: None,
) -> FleetCount:
    """Value every CSV and Parquet file of a folder into a file of the same name in another.

    Parameters
    ----------
    model : PriceModel
        The model.
    source, target : str or Path
        Folders; the second is made if it is not there.
    as_of, coverage, chunk_rows, cluster
        As for ``value_file``; chunks of several files are under way at once.
    tell : callable
        Called with rows done so far and 0 after each chunk.

    Returns
    -------
    FleetCount
        A file that cannot be read does not stop the others: it has its reason, and no file of its name is written.

    Raises
    ------
    TableError
        If there is no such folder, no table in it, the second is the first or cannot be made, or the chunk is no
        positive number.
    RegressionError
        If the cluster cannot be reached or is lost; files that were done by then are whole.
    """
    here, there = Path(source), Path(target)
    names, others = _tables_in(here)
    if there.exists() and (not there.is_dir() or there.samefile(here)):
        what = "the folder of the vehicles itself" if there.is_dir() else "a file"
        raise TableError(f"Cannot write the estimates to {there}: it is {what}. Name another folder.")
    try:
        there.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise TableError(f"Cannot make the folder {there}: {problem.strerror}. Name another one.") from problem
    works = [_Work(here / name, there / name) for name in names]
    files = _value(works, model, as_of, coverage, chunk_rows, cluster, lambda done, _: tell(done, 0), refuse=_keep)
    return FleetCount(tuple(files), tuple(others))


def _tables_in(folder: Path) -> tuple[list[str], list[str]]:
    """Names of the tables in a folder, and of what else lies in it; hidden files are neither."""
    try:
        names = sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))
    except OSError as problem:
        raise TableError(
            f"Cannot read the folder {folder}: {problem.strerror}. Name a folder of CSV or Parquet files."
        ) from problem
    tables = [name for name in names if Path(name).suffix.casefold() in KINDS and (folder / name).is_file()]
    others = [name for name in names if name not in tables]
    if not tables:
        found = shortlist([repr(name) for name in others]) if others else "nothing"
        raise TableError(
            f"Cannot value the vehicles in {folder}: no CSV or Parquet file lies in it; found {found}. Name the folder "
            "that holds them."
        )
    return tables, others


def _value(
    works: Sequence[_Work],
    model: PriceModel,
    as_of: dt.date | None,
    coverage: float,
    chunk_rows: int,
    cluster: str,
    tell: Tell,
    refuse: Callable[[_Work, TableError], BatchCount],
) -> list[BatchCount]:
    """Value files one after the other; on a cluster the chunks ahead, of this file and the next, are under way."""
    if chunk_rows < 1:
        raise TableError(f"Cannot work in chunks of {chunk_rows} rows. Give 1 or more.")
    day = day_of(as_of)  # once: a long run may go past midnight
    counts, done = [], 0
    with at_work(model.without_sales(), day, coverage, cluster) as (begin, ahead):
        for work, parts in groupby(_ahead(_begun(works, chunk_rows, begin), ahead), key=lambda part: part[0]):
            try:
                count = _written(work, parts, partial(_told, tell, done))
            except TableError as problem:
                count = refuse(work, problem)
            counts.append(count)
            done += count.rows
    return counts


def _begun(works: Sequence[_Work], chunk_rows: int, begin: Begin) -> Iterator[_Part]:
    for work in works:
        try:
            for chunk, total in VehicleFile(work.source).chunks(chunk_rows):
                yield work, begin(chunk), total
        except TableError as problem:
            yield work, _refusal(problem), 0


def _ahead(items: Iterable[T], most: int) -> Iterator[T]:
    """The same items in the same order, with so many of them drawn before they are asked for."""
    waiting: deque[T] = deque()
    for item in items:
        waiting.append(item)
        if len(waiting) > most:
            yield waiting.popleft()
    yield from waiting


def _written(work: _Work, parts: Iterable[_Part], tell: Tell) -> BatchCount:
    """Write the estimates of one file as they come."""
    rows = refused = 0
    with ValuedFile(work.target, VehicleFile(work.source), numbers=MONEY, text=RESULT_COLUMNS[4:]) as writer:
        for _, ticket, total in parts:
            valued: pd.DataFrame = ticket()
            writer.write(valued)
            rows += len(valued)
            refused += int(valued["median"].isna().sum())
            tell(rows, total)
    return BatchCount(work.source.name, work.target.name, rows, refused)


def _told(tell: Tell, before: int, rows: int, total: int) -> None:
    tell(before + rows, total)


def _refusal(problem: TableError) -> Ticket:
    def raise_it() -> pd.DataFrame:
        raise problem

    return raise_it


def _raise(work: _Work, problem: TableError) -> BatchCount:
    raise problem


def _keep(work: _Work, problem: TableError) -> BatchCount:
    return BatchCount(work.source.name, work.target.name, 0, 0, str(problem))
