"""A sale that the shop realised itself as a row of a table, once and never twice."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from valuation.answers.add import MakeRow
from valuation.build.figures import money
from valuation.comparables.appending import NewRow, header_for, with_row
from valuation.comparables.mending import text_table
from valuation.comparables.reader import read_comparables
from valuation.comparables.table import Comparables, Fault
from valuation.errors import LedgerError, TableError
from valuation.schema.values import as_text
from valuation.text.spelling import level_key

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.comparables.texttable import TextTable
    from valuation.ledger import SaleRecord
    from valuation.schema import Schema

_CENT = 0.005
"""Half a cent: prices nearer than that are the same."""


def row_of(tables: Tables, sale: SaleRecord, venue: str = "") -> MakeRow:
    """The row of a realised sale: the vehicle's attributes, the day, and the price as what the buyer paid in all.

    A table that holds the sale already is refused, and so is a sale that was not at arm's length.

    Parameters
    ----------
    tables : Tables
        Of the ledger with the sale.
    sale : SaleRecord
    venue : str
        Where it was sold; left out where its premium would be added to a price that holds it.
    """
    return partial(_row, tables, sale, venue)


def _row(tables: Tables, sale: SaleRecord, venue: str, source: bytes, schema: Schema, name: str) -> NewRow:
    if not sale.arms_length:
        raise LedgerError(
            f"Cannot take sale {sale.id} into '{name}': it was not at arm's length, so its price says little about the "
            "market. Correct the sale if that is wrong."
        )
    text = text_table(source, schema, name)
    row = _row_with(sale, text, read_comparables(source, schema, name=name))
    if row is not None:
        raise LedgerError(
            f"Cannot take sale {sale.id} of '{sale.subject}' into '{name}': row {row} is this sale already. Nothing "
            "was written."
        )
    cells = _cells(tables, sale, text, schema)
    at_venue = _known({"venue": venue}, text, schema)
    new = with_row(source, schema, cells | at_venue, name=name)
    if at_venue and abs(new.paid - sale.price) > _CENT:
        plain = with_row(source, schema, cells, name=name)
        why = f"The venue {venue!r} was left out: its premium would be added to a price that holds it."
        left = Fault(plain.number, "venue", venue, why, "Nothing.", "venue_left_out", sets_aside=False)
        new = replace(plain, remarks=(*plain.remarks, left))
    if abs(new.paid - sale.price) > _CENT:
        raise TableError(
            f"Cannot take sale {sale.id} into '{name}': the buyer paid {money(sale.price)} in all, and the row would "
            f"count as {money(new.paid)}. Add it by hand as the table counts."
        )
    return new


def is_in(sale: SaleRecord, text: TextTable, read: Comparables) -> bool:
    """Whether a table holds a realised sale.

    Parameters
    ----------
    sale : SaleRecord
    text : TextTable
    read : Comparables
        The same table, read.
    """
    return _row_with(sale, text, read) is not None


def _mark(sale: SaleRecord) -> str:
    """What a realised sale is called in a table: the same through all its corrections."""
    return f"own-{sale.first}"


def _row_with(sale: SaleRecord, text: TextTable, read: Comparables) -> int | None:
    """The row that is a realised sale: by its mark in any row, else by day and price among those that can be used."""
    mark, number = level_key(_mark(sale)), str(sale.first)  # few cells hold the number: only theirs need be looked into
    for row, cells in zip(text.cells.index, text.cells.to_numpy().tolist(), strict=True):
        if any(number in cell and level_key(cell) == mark for cell in map(str, cells)):
            return int(row)
    sales = read.sales
    same = (
        (sales["outcome"] == "sold")
        & (sales["date"] == str(sale.sold_on))
        & ((sales["low"] - sale.price).abs() < _CENT)
    )
    return int(sales.index[same][0]) if same.any() else None


def _cells(tables: Tables, sale: SaleRecord, text: TextTable, schema: Schema) -> dict[str, str]:
    """The sale in the columns that the table has."""
    vehicle = tables.vehicle_of(tables.ledger.estimate(sale.estimate_id))
    wanted = {
        "sale": _mark(sale),
        "date": sale.sold_on.isoformat(),
        "price": as_text(sale.price),
        "currency": sale.currency,
        "premium": "0",
        "fees": "0",
        "source": _mark(sale),
        "vehicle": sale.subject,
        **{name: as_text(value) for name, value in vehicle.attributes.items()},
    }
    return _known(wanted, text, schema)


def _known(wanted: dict[str, str], text: TextTable, schema: Schema) -> dict[str, str]:
    """What is to be written, as far as the table has a column for it."""
    known = {}
    for name, cell in wanted.items():
        try:
            header_for(text, schema, name)
        except TableError:
            continue
        known[name] = cell
    return {name: cell for name, cell in known.items() if cell}
