"""One more sale in a table: of a file, of the ledger, or of both."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from valuation.answers.intake import Draft, as_csv, bring, brought_as, known_as
from valuation.build.figures import money
from valuation.comparables.appending import NewRow, ReadCell, with_row
from valuation.errors import TableError
from valuation.files import locked, write_file
from valuation.schema import Schema

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.comparables.table import Fault
    from valuation.ledger import TableRecord

MakeRow = Callable[[bytes, Schema, str], NewRow]
"""Puts a row into a table: its file, what its columns mean, and the file's name."""


@dataclass(frozen=True)
class AddedSale:
    """A sale that was added to a table.

    Attributes
    ----------
    sentence : str
        What became of it.
    table : str
        File name of the table.
    row : int
        Number of the row, as a spreadsheet shows it.
    line : str
        The row as it stands in the file.
    cells : tuple of ReadCell
        What was written, and what it was read as.
    remarks : tuple of Fault
        What was found in the row, and does not set it aside.
    paid : float
        What the buyer paid in all, or would at that asking price or bid; money in ``currency``.
    currency : str
    usable : int
        Rows of the table that can be used, this one among them.
    version : int or None
        Number of the table version in the ledger that holds it; None where none does.
    written : bool
        Whether it was written, and not only looked at.
    """

    sentence: str
    table: str
    row: int
    line: str
    cells: tuple[ReadCell, ...]
    remarks: tuple[Fault, ...]
    paid: float
    currency: str
    usable: int
    version: int | None
    written: bool


def told(given: Mapping[str, str], today: dt.date | None = None) -> MakeRow:
    """A row from words.

    Parameters
    ----------
    given : mapping of str to str
        Texts by headers or names of the schema.
    today : date or None
        The day after which a sale lies in the future.
    """
    return lambda source, schema, name: with_row(source, schema, given, name=name, today=today)


def add_to_file(
    file: Path, row: MakeRow, schema: Schema | None = None, tables: Tables | None = None, *, write: bool = True
) -> AddedSale:
    """Append a sale to a CSV file; where the ledger has that table, the file is its next version.

    Parameters
    ----------
    file : Path
    row : callable
        See ``told``, and ``realised.row_of``.
    schema : Schema or None
        What the columns mean; the ledger's unless given, and the default where it has none.
    tables : Tables or None
        The ledger's.
    write : bool
        Without it nothing is written, neither file nor ledger.

    Raises
    ------
    TableError
        The file cannot be read or written, is no CSV file, or the row cannot be used; see ``with_row``.
    """
    from valuation.comparables.sniffing import kind_of
    from valuation.schema import default_schema

    try:
        with locked(file):
            source = file.read_bytes()
            known = known_as(tables, source, file.name) if tables is not None else None
            meaning = schema or (tables.schema(known) if tables is not None and known else default_schema())
            new = row(source, meaning, file.name)
            if kind_of(source, file.name) != "csv":
                cells = "; ".join(f"{cell.header}: {cell.written}" for cell in new.cells)
                raise TableError(
                    f"Cannot add the sale to {file.name}: only a CSV file is added to, since any other would be "
                    "written anew and lose its formulas, colours and types. Type the row below its last one "
                    f"({cells}), or keep the table in the ledger (valuation keep table {file.name}) and add the sale "
                    "there, without naming a file."
                )
            if write:
                write_file(file, new.source)
    except OSError as problem:
        raise TableError(
            f"Cannot add the sale to {file}: {problem.strerror or problem}. Check the path, and that the file may be "
            "written."
        ) from problem
    version = None
    if write and tables is not None and known is not None:
        version = bring(tables, Draft(known.name, new.source, file.name, meaning)).table.id
    return _added(new, file.name, version, write=write)


def add_to_ledger(tables: Tables, table: TableRecord, row: MakeRow, *, write: bool = True) -> AddedSale:
    """Append a sale to a table of the ledger: the file as it was brought with one more row, and the mends made again.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The newest version.
    row : callable
        See ``told``, and ``realised.row_of``.
    write : bool
        Without it nothing is written.

    Raises
    ------
    TableError
        The row cannot be used; see ``with_row``.
    LedgerError
        Another hand wrote a newer version meanwhile.
    """
    base, schema = brought_as(tables, table), tables.schema(table)
    new = row(tables.ledger.content(base.source), schema, base.source_name)
    version = None
    if write:
        draft = Draft(table.name, new.source, as_csv(base.source_name), schema)
        version = bring(tables, draft, follows=table.id).table.id
    return _added(new, base.source_name, version, write=write)


def _added(new: NewRow, name: str, version: int | None, *, write: bool) -> AddedSale:
    unit = f" {new.table.currency}" if new.table.currency else ""
    how = {"sold": "sold for", "bid_not_met": "not sold at a bid of", "asking": "offered at"}[new.outcome]
    price = money(new.price)
    basis = f"{price}{unit}" if new.paid == new.price else f"{price}, with premium and fees {money(new.paid)}{unit}"
    done = f"Added to {name} as row {new.number}" if write else f"Row {new.number} of {name} would be"
    where = f", version {version} in the ledger" if version is not None else ""
    return AddedSale(
        sentence=f"{done}{where}: {how} {basis}.",
        table=name,
        row=new.number,
        line=new.line,
        cells=new.cells,
        remarks=new.remarks,
        paid=new.paid,
        currency=new.table.currency,
        usable=new.table.n_usable,
        version=version,
        written=write,
    )
