"""Price indices from a file: what a price of one month is worth at the level of another.

An outside index file may stand in for the table's own time trend, and a consumer price index turns old money into
new money. A missing month is read off a straight line in logs between its neighbours; outside the file the end
value is held; either is said in a note.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.errors import EvidenceError, shortlist
from valuation.notes import Note
from valuation.text.dates import EARLIEST, LATEST
from valuation.text.files import read_text_file
from valuation.text.numbers import read_number
from valuation.view import View, Viewed

Array = npt.NDArray[np.float64]
Months = npt.NDArray[np.datetime64]
CPI_FILE = "cpi_u_monthly.csv"
_DATE = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-\d{1,2})?)?")


@dataclass(frozen=True)
class IndexFactors:
    """Factors from an index, with what a reader must know about them.

    Attributes
    ----------
    factors : ndarray of float, shape (n_dates,)
        Multiply a price of each date by its factor to put it at the level of the later (or earlier) date.
    notes : tuple of Note
        Months read between neighbours, end values held, and the index's own caution.
    """

    factors: Array
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False, repr=False)
class PriceIndex(Viewed):
    """An index by month.

    Parameters
    ----------
    name : str
        Name shown to people.
    months : ndarray of datetime64[M], shape (n,)
        Rising, each once; gaps are allowed.
    values : ndarray of float, shape (n,)
        Finite and above 0, on any base.
    source : str
        Where the values come from.
    caution : str
        Said in a note with every use; empty for none.

    Raises
    ------
    EvidenceError
        If there is no value, a value is not finite and positive, or the months do not rise.
    """

    name: str
    months: Months
    values: Array
    source: str = ""
    caution: str = ""

    def _view(self) -> View:
        last = f"{self.values[-1]:g} in {self.months[-1]}"
        return View(
            title=f"Price index {self.name}",
            facts=(f"{self.months[0]} to {self.months[-1]}, {len(self.months):,} months", f"last {last}"),
            header=("month", "index"),
            rows=[(str(m), f"{v:g}") for m, v in zip(self.months[::-1], self.values[::-1], strict=True)],
        )

    def __post_init__(self) -> None:
        if len(self.months) == 0 or len(self.months) != len(self.values):
            raise EvidenceError(
                f"Cannot use the index '{self.name}': {len(self.months)} months and {len(self.values)} values found; "
                "one value for each month, and at least one, are needed. Add the missing ones."
            )
        bad = [f"{m}: {v!r}" for m, v in zip(self.months, self.values, strict=True) if not (np.isfinite(v) and v > 0)]
        if bad:
            raise EvidenceError(
                f"Cannot use the index '{self.name}': {shortlist(bad)}. Index values must be numbers above 0. "
                "Leave an unknown month out of the file; it is read off its neighbours."
            )
        steps = np.diff(self.months.astype("datetime64[M]").astype(np.int64))
        if (steps <= 0).any():
            again = [str(self.months[i + 1]) for i in np.flatnonzero(steps <= 0)]
            raise EvidenceError(
                f"Cannot use the index '{self.name}': {shortlist(again)} given twice or out of order. Each month may "
                "stand once, in rising order. Keep one value for each month."
            )

    def factor(self, from_dates: Any, to_date: Any) -> IndexFactors:
        """What each price is multiplied by to stand at the level of ``to_date``.

        Parameters
        ----------
        from_dates : array_like of dates, shape (n_dates,), or one date
            ``datetime64``, ``date``, ``Timestamp`` or ISO text; the day of the month does not matter.
        to_date : date
            The as-of date.

        Returns
        -------
        IndexFactors
            index(to_date) / index(from_date), exactly 1 within the same month.

        Raises
        ------
        EvidenceError
            If a date is missing or cannot be read.

        Examples
        --------
        >>> index = PriceIndex("example", np.array(["2024-01", "2024-03"], "datetime64[M]"), np.array([100.0, 121.0]))
        >>> index.factor(["2024-01-15", "2024-02-01"], "2024-03-31").factors.round(3).tolist()
        [1.21, 1.1]
        """
        start, end = _months(from_dates, self.name), _months(to_date, self.name)
        log_to = self._log_values(end)
        if log_to.size != 1:
            raise EvidenceError(
                f"Cannot move prices by the index '{self.name}' to {log_to.size} dates at once: one as-of date is "
                "needed. Call it once for each date."
            )
        used = np.unique(np.concatenate([start, end]))
        return IndexFactors(np.exp(log_to[0] - self._log_values(start)), self._notes(used))

    def value(self, date: Any) -> float:
        """Index value for the month of one date, read between neighbours or held at the ends as `factor` does."""
        month = _months(date, self.name)
        listed = np.flatnonzero(self.months == month[0])
        return float(self.values[listed[0]] if listed.size else np.exp(self._log_values(month)[0]))

    def _log_values(self, months: Months) -> Array:
        # np.interp holds the end values outside the range, which is the rule for dates beyond the file.
        return np.interp(months.astype(np.int64), self.months.astype(np.int64), np.log(self.values))

    def _notes(self, used: Months) -> tuple[Note, ...]:
        first, last = self.months[0], self.months[-1]
        notes = []
        between = used[(used > first) & (used < last) & ~np.isin(used, self.months)]
        spacing = int(np.median(np.diff(self.months.astype(np.int64)))) if len(self.months) > 1 else 1
        if between.size and spacing > 1:
            notes.append(
                Note(
                    "index_between_values",
                    f"The index '{self.name}' has a value about every {spacing} months; the months between are read "
                    "off a straight line in logs.",
                )
            )
        elif between.size:
            named = shortlist([str(month) for month in between])
            notes.append(
                Note(
                    "index_month_missing",
                    f"The index '{self.name}' has no value for {named}; read off a straight line in logs between the "
                    "neighbouring months.",
                )
            )
        for outside, code, edge, word in (
            (used[used < first], "index_held_before", first, "starts"),
            (used[used > last], "index_held_after", last, "ends"),
        ):
            if outside.size:
                farthest = outside[0] if word == "starts" else outside[-1]
                distance = abs(int((farthest - edge).astype(np.int64)))
                notes.append(
                    Note(
                        code,
                        f"The index '{self.name}' {word} in {edge}; dates as far as {farthest} ({distance} months "
                        "beyond) use that end value, as if the level had not moved out there.",
                    )
                )
        if self.caution:
            notes.append(Note("index_caution", self.caution))
        return tuple(notes)


def read_price_index(path: str | Path, name: str = "", source: str = "", caution: str = "") -> PriceIndex:
    """Read an index file: CSV with a month (or date, or year) and a value in each row.

    Parameters
    ----------
    path : path
        UTF-8 text; comma or semicolon between the two cells; lines that start with ``#`` and a header are skipped.
        The first cell is ``2024-05``, ``2024-05-31`` or ``2024`` (a yearly value, which stands at July, the middle
        of its year). Rows may come in any order; an empty value leaves the month out.
    name : str
        Name shown to people; the file's name when empty.
    source, caution : str
        As for `PriceIndex`.

    Returns
    -------
    PriceIndex

    Raises
    ------
    EvidenceError
        If the file cannot be read, holds no value, or a row cannot be understood; names up to ten rows.
    """
    path = Path(path)
    try:
        text = read_text_file(path)
    except ValueError as error:
        raise EvidenceError(
            f"Cannot read the index file '{path.name}': {error}. A UTF-8 text file with a month and a value in each "
            "row is needed. Check the path, or save the file as CSV (UTF-8)."
        ) from error
    return _parse(text.splitlines(), name or path.stem, source, caution)


def consumer_price_index() -> PriceIndex:
    """US consumer price index CPI-U by month, 1913 to 2026, packaged with the project.

    Returns
    -------
    PriceIndex
        All items, U.S. city average, not seasonally adjusted, 1982-84 = 100. Carries the caution that it measures
        money and not the market for old vehicles.

    References
    ----------
    .. [1] U.S. Bureau of Labor Statistics, series CUUR0000SA0 (a US government work).

    Examples
    --------
    >>> consumer_price_index().value("1980-06-15")
    82.7
    """
    from importlib.resources import files

    text = files("valuation.evidence").joinpath(CPI_FILE).read_text(encoding="utf-8")
    return _parse(
        text.splitlines(),
        name="CPI-U",
        source="U.S. Bureau of Labor Statistics, CPI-U, all items, not seasonally adjusted, 1982-84 = 100",
        caution="A consumer price index says what money was worth, and not how the market for old vehicles moved.",
    )


def _parse(lines: Iterable[str], name: str, source: str, caution: str) -> PriceIndex:
    """Index from the lines of a file."""
    found: list[tuple[np.datetime64, float]] = []
    faults: list[str] = []
    header_may_come = True
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = _cells(line)
        month = _month_of(cells[0])
        value = _number(cells[1]) if len(cells) > 1 else None
        if header_may_come and month is None and value is None:
            header_may_come = False
            continue
        header_may_come = False
        if month is not None and len(cells) > 1 and cells[1] == "":
            continue
        if month is None or value is None:
            faults.append(f"line {number}: {line.strip()[:40]!r}")
            continue
        found.append((month, value))
    if faults:
        raise EvidenceError(
            f"Cannot read the index '{name}': {shortlist(faults)}. Each line needs a month such as 2024-05 (or a year) "
            "and a number with a point for decimals. Mend or remove these lines."
        )
    if not found:
        raise EvidenceError(
            f"Cannot read the index '{name}': no value found. Lines such as '2024-05,103.2' are needed. Add them."
        )
    found.sort(key=lambda pair: pair[0])
    months = np.array([pair[0] for pair in found], dtype="datetime64[M]")
    return PriceIndex(name, months, np.array([pair[1] for pair in found]), source, caution)


def _cells(line: str) -> list[str]:
    try:
        row = next(csv.reader([line], delimiter=";" if ";" in line else ","))
    except csv.Error:  # a cell beyond what a table's cell may hold
        row = [line]
    return [cell.strip() for cell in row] or [""]


def _month_of(cell: str) -> np.datetime64 | None:
    match = _DATE.fullmatch(cell)
    if match is None:
        return None
    year, month = int(match[1]), int(match[2] or 7)
    possible = EARLIEST.year <= year <= LATEST.year and 1 <= month <= 12
    return np.datetime64(f"{year}-{month:02d}", "M") if possible else None


def _number(cell: str) -> float | None:
    try:
        return read_number(cell)
    except ValueError:
        return None


def _months(dates: Any, name: str) -> Months:
    try:
        stamps = pd.to_datetime(np.atleast_1d(dates), format="ISO8601")
        months = np.asarray(stamps, dtype="datetime64[ns]").astype("datetime64[M]")
    except (ValueError, TypeError) as error:
        raise EvidenceError(
            f"Cannot move prices by the index '{name}': {dates!r} cannot be read as dates ({error}). "
            "Give dates such as 2024-05-31."
        ) from error
    if np.isnat(months).any():
        raise EvidenceError(
            f"Cannot move prices by the index '{name}': {int(np.isnat(months).sum())} dates are missing. "
            "Every sale needs a date. Leave out or mend the rows without one."
        )
    return months
