"""From a file to comparables: read, map, check, put prices on one basis, set aside what cannot be used."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.asides import ASIDES
from valuation.comparables.cells import ObjectArray, read_attributes
from valuation.comparables.duplicates import set_aside_duplicates
from valuation.comparables.faults import FaultList
from valuation.comparables.fingerprint import table_fingerprint
from valuation.comparables.headers import ColumnMap, known_headers, map_headers
from valuation.comparables.outlier_prices import find_outlier_prices
from valuation.comparables.price_basis import added_cost, low_high, row_currencies, row_rates, venue_notes
from valuation.comparables.read_as import ReadAs, reading_notes
from valuation.comparables.reading import Source, frame_table, read_text_tables
from valuation.comparables.sales import (
    confirmed_rows,
    read_dates,
    read_outcomes,
    read_prices,
    set_aside_related,
    text_column,
)
from valuation.comparables.table import Comparables, Origin
from valuation.comparables.texttable import TextTable
from valuation.comparables.venues import by_venue
from valuation.errors import TableError, shortlist
from valuation.notes import Note
from valuation.schema.frame import typed_column
from valuation.schema.schema import Schema
from valuation.text.spelling import counted


def read_comparables(
    source: Source,
    schema: Schema,
    *,
    name: str | None = None,
    today: dt.date | None = None,
    sheet: str | None = None,
) -> Comparables:
    """Read a table of comparable sales from CSV, XLSX, ODS or Parquet.

    Parameters
    ----------
    source : str, Path or bytes
        A file's path, or the bytes of an upload. The kind is told by the content, not by the name; a CSV file's
        encoding (UTF-8, UTF-16, Windows 1252) and delimiter (comma, semicolon, tab, bar) are found out.
    schema : Schema
        What the columns mean.
    name : str or None
        File name for messages and sheets; by default the path's.
    today : date or None
        The day after which a sale date lies in the future; by default the current day.
    sheet : str or None
        Sheet of a workbook; by default the schema's where it names one, else the one with most headers that the schema
        knows, among equals the one with most usable rows, and a note names the others.

    Returns
    -------
    Comparables
        Usable sales on the buyer-pays basis; rows that cannot be used are set aside with their reason, and every
        fault is listed with its mend.

    Raises
    ------
    TableError
        If the file is not there, not a table, empty, without a price column, or absurdly large in some way.
    """
    day = today or dt.date.today()
    return from_text_table(choose_table(source, schema, name=name, today=day, sheet=sheet), schema, day)


def choose_table(
    source: Source,
    schema: Schema,
    *,
    name: str | None = None,
    today: dt.date | None = None,
    sheet: str | None = None,
) -> TextTable:
    """The table of a file as text, from the sheet that :func:`read_comparables` reads.

    Parameters
    ----------
    source, schema, name, today, sheet
        As for :func:`read_comparables`.

    Raises
    ------
    TableError
        If the file is not there or not a table.
    """
    is_known, usual = known_headers(schema), schema.sheet
    tables, left_alone = read_text_tables(source, is_known, name=name, sheet=sheet, usual_sheet=usual)
    at, fitting = 0, ""
    if len(tables) > 1:
        usable = [_usable(table, schema, today or dt.date.today()) for table in tables]
        at = usable.index(max(usable))
        found = [f"'{one.sheet}' ({counted(rows, 'usable row')})" for one, rows in zip(tables, usable, strict=True)]
        most = (
            "the most usable rows"
            if usable.count(usable[at]) == 1
            else "as many usable rows as any other and comes first"
        )
        fitting = (
            f" These fit equally well: {shortlist(found)}; '{tables[at].sheet}' has {most}. To read another, name it."
        )
    table = tables[at]
    others = [one.sheet for one in tables if one is not table] + list(left_alone)
    if not others:
        return table
    named = shortlist([f"'{title}'" for title in others])
    left = f"{named} {'was' if len(others) == 1 else 'were'} not"
    note = Note("sheet_chosen", f"The sheet '{table.sheet}' was read; {left}.{fitting}")
    return replace(table, notes=(note, *table.notes))


def _usable(table: TextTable, schema: Schema, today: dt.date) -> int:
    """How many rows of a table can be used; none of one that cannot be understood."""
    try:
        return from_text_table(table, schema, today).n_usable
    except TableError:
        return 0


def from_frame(
    frame: pd.DataFrame, schema: Schema, *, name: str = "the data frame", today: dt.date | None = None
) -> Comparables:
    """Comparables from a data frame, by the very same checks as :func:`read_comparables`; its first row is row 2.

    Parameters
    ----------
    frame : DataFrame, shape (n_rows, n_columns)
        One row for each sale, under headers that the schema knows.
    schema : Schema
        What the columns mean.
    name : str
        For messages and sheets.
    today : date or None
        Later days lie in the future.

    Raises
    ------
    TableError
        If the frame is empty, has no price column, or is absurdly large in some way.
    """
    return from_text_table(frame_table(frame, name), schema, today or dt.date.today())


def from_text_table(whole: TextTable, schema: Schema, today: dt.date) -> Comparables:
    """Comparables from a table as text, by the very same checks as :func:`read_comparables`.

    Parameters
    ----------
    whole : TextTable
    schema : Schema
        What the columns mean.
    today : date
        Later days lie in the future.

    Raises
    ------
    TableError
        If there is no price column.
    """
    table = whole.sales_alone()
    columns = map_headers(table, schema)
    faults = FaultList(table.headers)
    _fault_headers(table, columns, schema, faults)
    attributes, otherwise, notes = read_attributes(table, columns, schema, faults, today)
    sales, currency, of_sales, more = _read_sales(table, columns, schema, faults, today)
    read_as = (*table.read_as, *of_sales, *otherwise)
    set_aside_related(table, columns, faults)
    confirmed = confirmed_rows(table, columns).to_numpy(dtype=bool)
    skip = _set_aside(table, faults) | confirmed
    set_aside_duplicates(sales, attributes, text_column(table, columns, "vehicle"), skip.tolist(), columns.sale, faults)
    _fault_outlier_prices(table, columns, schema, attributes, sales, _set_aside(table, faults), confirmed, faults)
    notes = [*table.notes, *reading_notes(read_as), *notes, *more]
    _fault_asides(whole, faults)
    read = _assemble(whole, table, columns, schema, attributes, sales, currency, faults, notes)
    headers = {**columns.sale, **columns.attributes}
    origin = Origin(table.sheet, headers, today, whole if read.faults else None)
    seen_right = frozenset(table.cells.index[confirmed].tolist())
    return replace(read, confirmed=seen_right, read_as=read_as, origin=origin)


def _fault_asides(whole: TextTable, faults: FaultList) -> None:
    """Set aside each row that is no sale, under its own code."""
    for row, code in whole.asides.items():
        text = ", ".join(filter(None, (str(cell).strip() for cell in whole.cells.loc[row])))
        why, mend = ASIDES[code]
        faults.add(row, "", text, code, why, mend)


def _set_aside(table: TextTable, faults: FaultList) -> npt.NDArray[np.bool_]:
    return np.asarray(table.cells.index.isin(list(faults.reasons(table.cells.index))), dtype=bool)


def _fault_headers(table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList) -> None:
    for header in columns.unmapped:
        if header.startswith("(column ") and (table.cells[header].str.strip() == "").all():
            continue
        why = f"The schema '{schema.name}' does not know the column '{header}'; it is kept and not used."
        mend = "Nothing, if it does not matter. To use it, add it to the schema, as an alias or as an attribute."
        faults.add(0, header, "", "unknown_column", why, mend, sets_aside=False)
    for header, used in columns.twice.items():
        why = f"The columns '{header}' and '{used}' mean the same; '{used}' is used."
        mend = f"Remove or rename the one that is not meant; without '{used}' the other is used."
        faults.add(0, header, "", "column_twice", why, mend, sets_aside=False)
    for row, extra in table.overlong.items():
        why = f"The row has more cells than there are headers; the rest is '{extra[:100]}'."
        mend = 'Put a cell that holds the delimiter in quotation marks, such as "12,500", or remove the extra cells.'
        faults.add(row, "", extra, "extra_cells", why, mend)


def _read_sales(
    table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList, today: dt.date
) -> tuple[pd.DataFrame, str, list[ReadAs], list[Note]]:
    """The sale columns of every row, usable or not, on the buyer-pays basis."""
    prices, otherwise = read_prices(table, columns, schema, faults)
    outcomes = read_outcomes(table, columns, schema, faults)
    dates, of_dates, notes = read_dates(table, columns, schema, faults, today)
    currencies, currency, more = row_currencies(table, columns, schema, prices, faults)
    rates = row_rates(table, columns, schema, currencies, currency, faults)
    venues = text_column(table, columns, "venue")
    amounts = np.asarray([math.nan if price is None else price.amount for price in prices])
    given = added_cost("premium", table, columns, schema, prices, currencies, faults)
    usual = by_venue(venues, schema.venue_premiums) * amounts / 100
    premium = np.where(np.isnan(given), usual, given) * rates
    own_fees = added_cost("fees", table, columns, schema, prices, currencies, faults) * rates
    usual_fees = by_venue(venues, schema.venue_fees)
    fees = np.where(np.isnan(own_fees), usual_fees, own_fees)
    from_venue = (np.isnan(given) & (usual > 0)) | (np.isnan(own_fees) & (usual_fees > 0))
    paid = amounts * rates + np.nan_to_num(premium) + np.nan_to_num(fees)
    low, high = low_high(outcomes, paid)
    frame = pd.DataFrame(
        {
            "sale": text_column(table, columns, "sale"),
            "date": pd.to_datetime(pd.Series(dates, index=table.cells.index)).astype("datetime64[ns]"),
            "outcome": outcomes,
            "price": amounts,
            "currency": currencies,
            "venue": venues,
            "source": text_column(table, columns, "source"),
            "vehicle": text_column(table, columns, "vehicle"),
            "premium": np.nan_to_num(premium),
            "fees": np.nan_to_num(fees),
            "low": low,
            "high": high,
            "written": table.cells[columns.sale["price"]].str.strip(),
            "rate": rates,
        },
        index=table.cells.index,
    )
    return frame, currency, [*otherwise, *of_dates], [*notes, *more, *venue_notes(venues, from_venue, schema)]


def _fault_outlier_prices(
    table: TextTable,
    columns: ColumnMap,
    schema: Schema,
    attributes: dict[str, ObjectArray],
    sales: pd.DataFrame,
    left_out: npt.NDArray[np.bool_],
    confirmed: npt.NDArray[np.bool_],
    faults: FaultList,
) -> None:
    header, texts = columns.sale["price"], table.cells[columns.sale["price"]]
    used = ~left_out
    paid = np.where(sales["outcome"] == "asking", sales["high"], sales["low"])[used].astype(float)
    if not len(paid):
        return
    years = sales["date"].dt.year.to_numpy(dtype=float)[used]
    values = {name: column[used] for name, column in attributes.items()}
    digits_off, plain, expected = find_outlier_prices(np.log(paid), values, years, schema)
    digits_off[confirmed[used]] = 0
    prices, currencies = sales["price"].to_numpy(dtype=float)[used], sales["currency"].to_numpy(dtype=object)[used]
    for position in np.flatnonzero(digits_off).tolist():
        row, digits = sales.index[used][position], int(digits_off[position])
        times = f"{10 ** abs(digits):,} times" if digits > 0 else f"1/{10 ** abs(digits):,} of"
        around = float(f"{prices[position] * math.exp(expected[position]) / paid[position]:.2g}")
        faults.add(
            row,
            header,
            str(texts.loc[row]),
            "slipped_digit",
            f"The price is about {times} what its neighbours suggest (near {around:,.0f}).",
            f"Write {prices[position] / 10.0**digits:,.12g} if a digit slipped; if the price is right, write yes in a "
            "column 'confirmed'." + ("" if plain[position] else " Until then it counts as it stands."),
            sets_aside=bool(plain[position]),
            suggestion=_with_currency(f"{prices[position] / 10.0**digits:.12g}", texts.loc[row], currencies[position]),
        )


def _with_currency(amount: str, written: str, currency: str) -> str:
    """An amount for a cell, with the row's currency where the cell names one."""
    named = any(character.isalpha() or character in "$€£¥" for character in written)
    return f"{currency} {amount}".strip() if named else amount


def _assemble(
    whole: TextTable,
    table: TextTable,
    columns: ColumnMap,
    schema: Schema,
    attributes: dict[str, ObjectArray],
    sales: pd.DataFrame,
    currency: str,
    faults: FaultList,
    notes: list[Note],
) -> Comparables:
    reasons = faults.reasons(whole.cells.index)
    used = ~np.asarray(table.cells.index.isin(list(reasons)), dtype=bool)
    index = table.cells.index[used]
    typed: dict[str, Any] = {
        name: typed_column(schema.attribute(name), values[used].tolist(), index) for name, values in attributes.items()
    }
    frame = pd.DataFrame(typed, index=index)
    usable = sales.loc[used]
    # how a price is written is not what it says: the fingerprint is of the sale, and older than these columns
    fingerprint = table_fingerprint(schema, frame, usable.drop(columns=["written", "rate"]), currency)
    names = [name or f"row {row}" for name, row in zip(usable["sale"], index, strict=True)]
    aside = whole.cells.loc[whole.cells.index.isin(list(reasons))].copy()
    aside["reason"] = [reasons[row] for row in aside.index]
    return Comparables(
        schema=schema,
        attributes=frame,
        sales=usable.assign(sale=pd.Series(names, index=index, dtype=object)),
        set_aside=aside,
        faults=tuple(faults),
        rows=len(whole.cells),
        currency=currency,
        source_name=table.name,
        fingerprint=fingerprint,
        notes=tuple(notes),
        extra=table.cells.loc[used, [*columns.unmapped, *columns.left_out]],
    )
