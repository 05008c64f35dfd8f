"""Appending: one more sale as the last row of a table, understood as the table's own cells are.

A CSV file gets a line in its own delimiter, encoding and line end, and no other byte of it changes. Of any other kind
of file a CSV file with the row is made. What a row says is found by reading the whole table with the row in it.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from valuation.comparables.headers import header_owners, known_headers, map_headers
from valuation.comparables.mending import mended
from valuation.comparables.mends import put_in, unmerged
from valuation.comparables.reader import choose_table, read_comparables
from valuation.comparables.sniffing import DELIMITERS, decode, delimiter_of, kind_of
from valuation.comparables.table import Comparables, Fault
from valuation.comparables.texttable import TextTable
from valuation.errors import TableError, shortlist
from valuation.schema.attributes import Role
from valuation.schema.schema import SALE_COLUMNS, Schema
from valuation.schema.values import as_text
from valuation.text.spelling import did_you_mean, header_key


@dataclass(frozen=True, slots=True)
class ReadCell:
    """A cell of the new row.

    Attributes
    ----------
    header : str
        As the file spells it.
    written : str
        What the cell says.
    read : str
        What it was read as; empty where the schema does not use the column.
    """

    header: str
    written: str
    read: str


@dataclass(frozen=True, slots=True)
class NewRow:
    """A sale as a row of a table that does not hold it yet.

    Attributes
    ----------
    number : int
        Of the row, as a spreadsheet shows it.
    line : str
        The row as it stands in the file.
    cells : tuple of ReadCell
        Those that say something.
    remarks : tuple of Fault
        What was found in the row that does not set it aside.
    outcome : str
    price, paid : float
        As entered, and all that the buyer paid, or would at that asking price or bid.
    table : Comparables
        The whole table with the row, read.
    source : bytes
        The whole file with the row.
    """

    number: int
    line: str
    cells: tuple[ReadCell, ...]
    remarks: tuple[Fault, ...]
    outcome: str
    price: float
    paid: float
    table: Comparables
    source: bytes


def with_row(
    source: bytes, schema: Schema, given: Mapping[str, str], *, name: str, today: dt.date | None = None
) -> NewRow:
    """A table with one more sale.

    Parameters
    ----------
    source : bytes
        The table's file.
    schema : Schema
        What its columns mean.
    given : mapping of str to str
        Texts by the file's header or by a name that the schema knows. Where nothing is said of the outcome, the row
        is a sale, in the word that the table has for it.
    name : str
        File name, for messages.
    today : date or None
        The day after which a sale lies in the future.

    Raises
    ------
    TableError
        If the table has no such column, or the row could not be used: the message gives the faults that its cells
        have in the table, and their mends.
    """
    before = choose_table(source, schema, name=name, today=today)
    if kind_of(source, name) != "csv":
        faults = read_comparables(source, schema, name=name, today=today).faults
        before = put_in(before, unmerged(before, faults, ()))
    placed = _placed(before, schema, given, name)
    outcome = map_headers(before, schema).sale.get("outcome")
    if outcome is not None and not placed.get(outcome):
        placed[outcome] = _word_for_sold(source, before, schema, outcome, today)
    texts = [placed.get(header, "") for header in before.headers]
    whole, line = _appended(source, before, schema, texts, name)
    after = choose_table(whole, schema, name=name, today=today)
    number = int(after.cells.index[-1])
    found = [text.strip() for text in after.cells.iloc[-1].tolist()]
    same = len(after.cells) == len(before.cells) + 1 and after.cells.iloc[:-1].equals(before.cells)
    if not same or found != [text.strip() for text in texts]:
        raise TableError(
            f"Cannot add the sale to '{name}': with the line added the table would read otherwise than now, as "
            "where a quotation mark is opened and never closed. Write the row into the file yourself: " + line
        )
    read = read_comparables(whole, schema, name=name, today=today)
    own = [fault for fault in read.faults if fault.row == number]
    if any(fault.sets_aside for fault in own):
        wrong = [fault for fault in own if fault.sets_aside]
        why = " ".join(f"{fault.why} {fault.mend}" for fault in wrong)
        raise TableError(f"Cannot add the sale to '{name}': {why}", where=wrong[0].column)
    sale: Any = read.sales.loc[number]
    paid = sale["high"] if sale["outcome"] == "asking" else sale["low"]
    cells = read_cells(after, read, number)
    return NewRow(number, line, cells, tuple(own), sale["outcome"], float(sale["price"]), float(paid), read, whole)


def header_for(table: TextTable, schema: Schema, name: str) -> str:
    """The header under which a table holds what somebody calls by its header or by a name of the schema.

    Parameters
    ----------
    table : TextTable
    schema : Schema
        What its columns mean.
    name : str

    Raises
    ------
    TableError
        If the table has no such column.
    """
    own = {header_key(header): header for header in table.headers}
    if header_key(name) in own:
        return own[header_key(name)]
    columns, owner = map_headers(table, schema), header_owners(schema).get(header_key(name), "")
    header = {**columns.attributes, **columns.sale}.get(owner)
    if header is not None:
        return header
    if owner:
        raise TableError(
            f"Cannot write '{name}' to '{table.name}': the table has no column for it. Add one headed '{owner}' to the "
            f"table first, blank in the other rows, or leave '{name}' out."
        )
    known = [*table.headers, *columns.attributes, *columns.sale]
    raise TableError(
        f"Cannot write '{name}' to '{table.name}': it has no such column. Its columns are "
        f"{shortlist(table.headers, limit=20)}.{did_you_mean(name, known)}"
    )


def _placed(table: TextTable, schema: Schema, given: Mapping[str, str], name: str) -> dict[str, str]:
    """Texts by the file's headers."""
    placed: dict[str, str] = {}
    for word, text in given.items():
        header = header_for(table, schema, word)
        if header in placed:
            raise TableError(
                f"Cannot add the sale to '{name}': '{word}' and another word both stand in '{header}'. Keep one."
            )
        placed[header] = text
    return placed


def _word_for_sold(source: bytes, table: TextTable, schema: Schema, header: str, today: dt.date | None) -> str:
    """The word that most sales of the table have for it."""
    outcomes = read_comparables(source, schema, name=table.name, today=today).sales["outcome"]
    words = table.cells.loc[outcomes.index[outcomes == "sold"], header]
    return str(words.mode().iloc[0]) if len(words) else "sold"


def _appended(source: bytes, table: TextTable, schema: Schema, texts: Sequence[str], name: str) -> tuple[bytes, str]:
    """The file with one more line, and the line."""
    if kind_of(source, name) != "csv":
        source = mended(table, {})
    text, encoding = decode(source, name)
    delimiter = delimiter_of(text, known_headers(schema))
    if text[:4].casefold() == "sep=" and text[4:5] in DELIMITERS:
        delimiter = text[4]
    end = "\r\n" if "\r\n" in text else "\n" if "\n" in text else "\r"
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(texts)
    line, closed = out.getvalue(), text.endswith(("\n", "\r"))
    if encoding == "utf-16":
        encoding = "utf-16-le" if source.startswith(b"\xff\xfe") else "utf-16-be"
    try:
        return source + (line + end if closed else end + line).encode(encoding), line
    except UnicodeEncodeError as problem:
        raise TableError(
            f"Cannot add the sale to '{name}': the file is Western text of Windows, which has no "
            f"{problem.object[problem.start]!r}. Write it otherwise, or save the table as UTF-8 first."
        ) from problem


def read_cells(table: TextTable, read: Comparables, number: int) -> tuple[ReadCell, ...]:
    """What stands in a usable row, and what each cell was read as.

    Parameters
    ----------
    table : TextTable
    read : Comparables
        The same table, read.
    number : int
        Of the row, as a spreadsheet shows it.
    """
    schema = read.schema
    columns = map_headers(table, schema)
    values: dict[str, Any] = {header: read.attributes.at[number, name] for name, header in columns.attributes.items()}
    known = [name for name in SALE_COLUMNS if name in columns.sale and name in read.sales]
    values |= {columns.sale[name]: read.sales.at[number, name] for name in known}
    flags = {columns.attributes.get(one.name) for one in schema.attributes if one.role is Role.FLAG}
    return tuple(
        ReadCell(str(header), str(text), _told(values.get(str(header)), flag=header in flags))
        for header, text in table.cells.loc[number].items()
        if str(text).strip()
    )


def _told(value: Any, *, flag: bool) -> str:
    """A value of a table as a cell would say it."""
    if value is None or value != value:
        return ""
    if isinstance(value, pd.Timestamp):
        return as_text(value.to_pydatetime())
    plain = value.item() if isinstance(value, np.generic) else value
    return as_text(bool(plain) if flag else plain)
