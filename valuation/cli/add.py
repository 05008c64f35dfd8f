"""``valuation add``: one more sale in the table, told in words or taken from the ledger."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from valuation.answers import realised
from valuation.answers.add import AddedSale, MakeRow, add_to_file, add_to_ledger, told
from valuation.cli.exits import DONE
from valuation.cli.ledger_inputs import ledger_is_there, ledger_place, newest_table, table_here, the_tables
from valuation.cli.show import bullet, paragraph, print_json, table
from valuation.errors import TableError
from valuation.schema import read_schema
from valuation.schema.vehicle import read_words

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import SaleRecord


def add(arguments: argparse.Namespace) -> int:
    """Add one sale and show the row."""
    words = list(arguments.words)
    named = words.pop(0) if words and "=" not in words[0] else None
    if bool(words) is (arguments.sale is not None):
        raise TableError(
            "Cannot add a sale: say what was sold in words such as price=24500 date=2026-05-03 condition=driver, or "
            "name a realised sale of the ledger with --sale NUMBER; one of the two."
        )
    with the_tables(arguments, begun=arguments.sale is not None) as tables:
        if arguments.sale is not None:
            sale = tables.ledger.sale(arguments.sale)
            added = into_table(tables, sale, named, arguments.venue, arguments.schema, write=not arguments.dry_run)
        else:
            known = tables if ledger_is_there(ledger_place(arguments)) else None
            added = _written(known, named, told(read_words(words)), arguments.schema, write=not arguments.dry_run)
    if arguments.json:
        print_json(added)
    else:
        _show(added)
    return DONE


def into_table(
    tables: Tables, sale: SaleRecord, named: str | None, venue: str, schema: str | None, *, write: bool = True
) -> AddedSale:
    """Take a realised sale into the comparables: of the table named, else of the one found here or in the ledger.

    Parameters
    ----------
    tables : Tables
    sale : SaleRecord
    named : str or None
        A CSV file.
    venue : str
        Where it was sold; may be empty.
    schema : str or None
        Schema file.
    write : bool
        Without it the row is only shown.
    """
    return _written(tables, named, realised.row_of(tables, sale, venue), schema, write=write)


def _written(tables: Tables | None, named: str | None, row: MakeRow, schema: str | None, *, write: bool) -> AddedSale:
    file = table_here(named)
    if tables is not None and tables.tables() and (file is None or (not named and file.suffix.casefold() != ".csv")):
        return add_to_ledger(tables, newest_table(tables), row, write=write)
    if file is None:
        raise TableError(
            "Cannot add a sale: no table was named, and neither a comparables.csv in this folder nor one in the ledger "
            "was found. Name the table first: valuation add TABLE price=24500 ..."
        )
    beside = file.parent / "schema.toml"
    meaning = schema or (beside if beside.is_file() else None)
    return add_to_file(file, row, read_schema(meaning) if meaning else None, tables, write=write)


def _show(added: AddedSale) -> None:
    paragraph(added.sentence)
    print()
    table(("column", "as written", "read as"), [(c.header, c.written, c.read) for c in added.cells], left=3)
    print(f"\n  {added.line}")
    show_remarks(added)
    after = f"Next: valuation check {added.table}"
    print(f"\n{after if added.written else 'Say it again without --dry-run to write it.'}")


def show_remarks(added: AddedSale) -> None:
    """Print what was found in the row."""
    for fault in added.remarks:
        bullet(f"{fault.why} {fault.mend}")
