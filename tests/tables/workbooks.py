"""Workbooks as common programs save them: merged, hidden, filtered and typed cells; the same bytes each time."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Sequence
from typing import Any

DAY = (2026, 11, 3, 9, 0, 0)
"""When every part of a workbook is said to be written."""


def xlsx_bytes(
    sheets: dict[str, list[list[Any]]],
    *,
    merges: Sequence[str] = (),
    hidden_rows: Sequence[int] = (),
    hidden_columns: Sequence[str] = (),
    filtered: str = "",
) -> bytes:
    """An XLSX workbook; what is merged and hidden is so in its last sheet. Formulas carry no results."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for number, row in enumerate(rows, start=1):
            for column, value in enumerate(row, start=1):
                if value not in ("", None):
                    cell = sheet.cell(number, column, value)
                    if isinstance(value, dt.date):
                        cell.number_format = "dd/mm/yyyy"
    for span in merges:
        sheet.merge_cells(span)
    for row in hidden_rows:
        sheet.row_dimensions[row].hidden = True
    for column in hidden_columns:
        sheet.column_dimensions[column].hidden = True
    if filtered:
        sheet.auto_filter.ref = filtered
    book.properties.created = book.properties.modified = dt.datetime(*DAY)
    out = io.BytesIO()
    book.save(out)
    return _same_each_time(out.getvalue())


def ods_bytes(title: str, rows: list[list[Any]], *, merged: Sequence[tuple[int, int, int]] = ()) -> bytes:
    """An ODS workbook with typed cells: ``("USD", 5)`` is money, ``("%", 0.1)`` a percentage.

    ``merged`` holds (row, column, rows below it that the cell covers as well), from 1.
    """
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import CoveredTableCell, Table, TableCell, TableRow
    from odf.text import P

    spans = {(row, column): more for row, column, more in merged}
    covered = {(row + step, column) for row, column, more in merged for step in range(1, more + 1)}
    book = OpenDocumentSpreadsheet()
    table = Table(name=title)
    for number, row in enumerate(rows, start=1):
        line = TableRow()
        for column, value in enumerate(row, start=1):
            if (number, column) in covered:
                line.addElement(CoveredTableCell())
                continue
            typed, shown = _ods_value(value)
            if more := spans.get((number, column)):
                typed |= {"numberrowsspanned": str(more + 1), "numbercolumnsspanned": "1"}
            cell = TableCell(**typed)
            if shown:
                cell.addElement(P(text=shown))
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.write(out)
    return _same_each_time(out.getvalue())


def _ods_value(value: Any) -> tuple[dict[str, str], str]:
    match value:
        case bool():
            return {"valuetype": "boolean", "booleanvalue": str(value).lower()}, "TRUE" if value else "FALSE"
        case int() | float():
            return {"valuetype": "float", "value": str(value)}, str(value)
        case dt.date():
            return {"valuetype": "date", "datevalue": value.isoformat()}, f"{value:%d/%m/%y}"
        case ("%", share):
            return {"valuetype": "percentage", "value": str(share)}, f"{share:.0%}"
        case (currency, amount):
            return {"valuetype": "currency", "currency": currency, "value": str(amount)}, f"{amount:,.2f} {currency}"
        case "" | None:
            return {}, ""
        case _:
            return {"valuetype": "string"}, str(value)


def _same_each_time(data: bytes) -> bytes:
    """The same archive with one time for all of its parts."""
    source, out = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for entry in source.infolist():
            content = source.read(entry)
            if entry.filename in ("docProps/core.xml", "meta.xml"):
                content = _dated(content)
            target.writestr(zipfile.ZipInfo(entry.filename, DAY), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _dated(content: bytes) -> bytes:
    import re

    return re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z?", b"2026-11-03T09:00:00Z", content)
