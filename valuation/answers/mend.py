"""A mended copy of a table: which mends are made is agreed to, and what was changed is a list beside it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from valuation.answers.given import SCHEMA_NAME, schema_for
from valuation.comparables.mend import Group, Mend
from valuation.comparables.mends import one_after_another, put_in, unmerged
from valuation.comparables.reader import choose_table, from_text_table
from valuation.comparables.suggestions import Agree, grouped, mended_as_agreed, sure
from valuation.comparables.texttable import TextTable
from valuation.comparables.writing import as_csv, as_workbook, changes_csv
from valuation.errors import TableError
from valuation.files import write_file
from valuation.schema.reader import VINTAGE_FILE
from valuation.schema.schema import Schema
from valuation.view import View, Viewed

_WRITERS = {".csv": as_csv, ".xlsx": as_workbook}


@dataclass(frozen=True, slots=True)
class Change:
    """One cell that was written anew, or one row that was left out.

    Parameters
    ----------
    row : int
        As a spreadsheet shows it.
    column : str
        The file's header; empty when the row was left out.
    old, new : str
        What the cell held, and what it holds now; of a row that was left out what it held.
    why : str
    """

    row: int
    column: str
    old: str
    new: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class TableMend(Viewed):
    """What was mended in a table, and what is left.

    Attributes
    ----------
    source_name, sheet : str
        Of the file; the sheet is empty where there is none.
    rows, usable : int
        Data rows in the file, and those that could be used as it came.
    usable_after : int
        Rows that can be used with the mends.
    groups : tuple of Group
        What was found as it came, by cause.
    changes : tuple of Change
        What was mended, in row order.
    left : tuple of Group
        What is found still, by cause.
    only_the_table : bool
        Whether the file holds more than the table, which no copy of it gets: other sheets, formulas, lines above.
    written, list_written : str
        The copy, and the list of changes beside it; empty where nothing was written.
    """

    source_name: str
    sheet: str
    rows: int
    usable: int
    usable_after: int
    groups: tuple[Group, ...]
    changes: tuple[Change, ...]
    left: tuple[Group, ...]
    only_the_table: bool
    written: str = ""
    list_written: str = ""

    def _view(self) -> View:
        return View(
            title="Mends of the table",
            facts=(f"{self.usable_after} of {self.rows} rows can be used with them, {self.usable} without",),
            header=("row", "column", "old", "new", "why"),
            rows=[(str(one.row), one.column, one.old, one.new, one.why) for one in self.changes],
        )


def mend(
    table: str | Path,
    schema: Schema | None = None,
    *,
    out: str | Path | None = None,
    sheet: str | None = None,
    today: dt.date | None = None,
    agree: Agree = sure,
) -> TableMend:
    """Mend a copy of a table; the table itself is never changed.

    Parameters
    ----------
    table : str or Path
        Comparable sales (CSV, XLSX, ODS, Parquet).
    schema : Schema or None
        What the columns mean; by default ``schema.toml`` beside the table, else the vintage-vehicle one.
    out : str or Path or None
        New file to write (``.csv`` or ``.xlsx``), with a list of the changes beside it; by default nothing is written.
    sheet : str or None
        Sheet of a workbook.
    today : date or None
        Later days lie in the future; by default the current day.
    agree : callable
        Which mends of a group are to be made; by default those of groups that have one answer.

    Returns
    -------
    TableMend

    Raises
    ------
    TableError
        If the table cannot be read, or the copy cannot be written where it is to be.

    Examples
    --------
    >>> import valuation as v
    >>> answer = v.mend("data/comparables.csv")
    >>> [(change.row, change.old, change.new) for change in answer.changes]
    [(41, 'drvier', 'driver')]
    """
    path = Path(table)
    if out is not None:
        refuse_target(path, Path(out))
    schema = schema or schema_for(path)
    day = today or dt.date.today()
    text = choose_table(path, schema, today=day, sheet=sheet)
    if text.comma_decimals and out is not None and Path(out).suffix.casefold() == ".xlsx":
        raise TableError(
            f"Cannot write '{Path(out).name}': figures of '{text.name}' are written with a decimal comma, which a "
            "workbook would not keep. Name a file that ends in .csv."
        )
    before = from_text_table(text, schema, day)
    after, made = mended_as_agreed(before, agree)
    if made and after.origin is not None and after.origin.text is not None:
        blanked = unmerged(after.origin.text, after.faults, [one for one, _ in made])
        made = (*made, *((one, "one price merged over several vehicles") for one in blanked))
    why = {(one.row, one.column): cause for one, cause in made}
    mends = sorted(one_after_another([one for one, _ in made], ()), key=lambda one: (one.row, one.column))
    changes = tuple(
        Change(one.row, one.column, one.old or _row(text, one), one.new, why[one.row, one.column]) for one in mends
    )
    target = Path(out) if out is not None and changes else None
    if target is not None:
        _write(target, put_in(text, mends), changes)
    return TableMend(
        source_name=before.source_name,
        sheet=text.sheet,
        rows=before.rows,
        usable=before.n_usable,
        usable_after=after.n_usable,
        groups=grouped(before),
        changes=changes,
        left=grouped(after),
        only_the_table=bool(text.sheet or text.titles),
        written=str(target or ""),
        list_written=str(list_name(target)) if target else "",
    )


def _row(text: TextTable, mend: Mend) -> str:
    """What a row held that is left out; nothing of a cell that was blank."""
    return "; ".join(filter(None, map(str, text.cells.loc[mend.row]))) if mend.leaves_out else ""


def list_name(out: Path) -> Path:
    """Where the list of changes lies: beside the copy."""
    return out.with_name(f"{out.stem}-changes.csv")


def new_name(table: Path) -> Path:
    """A name for the mended copy of a table, not taken yet: of the same kind where that can be written."""
    kind = ".xlsx" if table.suffix.casefold() in (".xlsx", ".xlsm", ".ods") else ".csv"
    tries = (table.with_name(f"{table.stem}-mended{again}{kind}") for again in ("", *(f"-{i}" for i in range(2, 1000))))
    return next(one for one in tries if not one.exists() and not list_name(one).exists())


def refuse_target(table: Path, out: Path) -> None:
    """Refuse to write a mended copy where it cannot be, or would replace something.

    Parameters
    ----------
    table, out : Path

    Raises
    ------
    TableError
        The copy would be of another kind, the table itself, or a file that is there; or its folder is not there.
    """
    if out.suffix.casefold() not in _WRITERS:
        raise TableError(
            f"Cannot write the mended table as '{out.name}': found '{out.suffix}'. CSV and XLSX can be written; name a "
            "file that ends in .csv or .xlsx."
        )
    if out.exists() and table.exists() and out.samefile(table):
        raise TableError(
            f"Cannot mend '{table.name}' in place: your own file is never changed. Name another one with --out, such "
            f"as {new_name(table).name}."
        )
    for file in (out, list_name(out)):
        if file.exists():
            raise TableError(
                f"Cannot write to {file}: the file exists already, and nothing is written over. Name another one, such "
                f"as {new_name(table).name}, or remove it first."
            )
    if not out.parent.is_dir():
        raise TableError(f"Cannot write to {out}: there is no folder '{out.parent}'. Make it, or name another one.")


def schema_beside(table: Path, named: str | None, other: Path) -> Path | None:
    """The schema that must be named so that another file is read as a table was; ``None`` where it is found by itself.

    Parameters
    ----------
    table : Path
    named : str or None
        The schema that was named for it.
    other : Path
        The file that is to be read in the same way.
    """
    own, found = Path(named) if named else table.parent / SCHEMA_NAME, other.parent / SCHEMA_NAME
    if own.exists():
        return None if found.exists() and found.samefile(own) else own
    return VINTAGE_FILE if found.exists() else None


def _write(out: Path, text: TextTable, changes: tuple[Change, ...]) -> None:
    lines = [
        (str(one.row), one.column, one.old, one.new if one.column else "(row left out)", one.why) for one in changes
    ]
    try:
        write_file(out, _WRITERS[out.suffix.casefold()](text), new=True)
        write_file(list_name(out), changes_csv(["row", "column", "old", "new", "why"], lines), new=True)
    except OSError as problem:
        raise TableError(f"Cannot write to {out}: {problem.strerror or problem}. Name another place.") from problem
