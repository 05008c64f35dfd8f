"""Marks: what a workbook says of its cells beside their values: merged, hidden, or a formula without a result."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from valuation.comparables.merges import Merge, column_number
from valuation.notes import Note
from valuation.text.spelling import counted

_MERGE = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?ref=\"([A-Z0-9:]+)\"")
_ROW = re.compile(rb"<(?:\w+:)?row\s[^>]*?hidden=\"(?:1|true)\"[^>]*>")
_COLUMN = re.compile(rb"<(?:\w+:)?col\s[^>]*?hidden=\"(?:1|true)\"[^>]*>")
_SPAN = re.compile(rb"min=\"(\d+)\"|max=\"(\d+)\"")
_FORMULA = re.compile(
    rb"<(?:\w+:)?c\s[^>]*?r=\"([A-Z]{1,3})(\d{1,7})\"[^>]*>\s*"
    rb"<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"


@dataclass(slots=True)
class Marks:
    """What one sheet says beside its values.

    Parameters
    ----------
    merges : tuple of Merge
        Cells merged into one.
    hidden_rows, hidden_columns : int
        How many are hidden, by hand or by a filter.
    without_result : dict of int to list of int
        Columns of the cells, row by row, that hold a formula whose result the file does not hold.
    shown_as : dict of (int, int) to str
        ``%`` or the currency of cells by row and column, where the value alone does not say it.
    """

    merges: tuple[Merge, ...] = ()
    hidden_rows: int = 0
    hidden_columns: int = 0
    without_result: dict[int, list[int]] = field(default_factory=dict)
    shown_as: dict[tuple[int, int], str] = field(default_factory=dict)

    def notes(self) -> tuple[Note, ...]:
        """What the owner should know of what is hidden."""
        hidden = [
            counted(number, f"hidden {what}")
            for number, what in ((self.hidden_rows, "row"), (self.hidden_columns, "column"))
            if number
        ]
        if not hidden:
            return ()
        text = f"{' and '.join(hidden)} of the sheet were read as well; what is hidden or filtered out counts too."
        return (Note("hidden_cells", text),)

    def note_ods_cell(self, cell: Element, row: int, column: int) -> None:
        """Note a merge, a currency or a percentage of an ODS cell.

        Parameters
        ----------
        cell : Element
        row, column : int
            Its place, counted from 1.
        """
        down, across = (int(cell.get(f"{_TABLE}number-{what}-spanned", "1")) for what in ("rows", "columns"))
        if down > 1 or across > 1:
            self.merges = (*self.merges, Merge(row, column, row + down - 1, column + across - 1))
        kind = cell.get(f"{_OFFICE}value-type", "")
        if kind in ("currency", "percentage"):
            sign = "%" if kind == "percentage" else cell.get(f"{_OFFICE}currency", "")
            if sign:
                self.shown_as[row, column] = sign


def read_marks(sheet: bytes) -> Marks:
    """What the XML of an XLSX sheet says beside the values; searched and not parsed, which takes far less time."""
    marks = Marks()
    marks.merges = tuple(merge for ref in _MERGE.findall(sheet) if (merge := Merge.of(ref.decode())) is not None)
    marks.hidden_rows = len(_ROW.findall(sheet))
    for column in _COLUMN.findall(sheet):
        ends = [int(low or high) for low, high in _SPAN.findall(column)]
        marks.hidden_columns += ends[-1] - ends[0] + 1 if len(ends) == 2 else 1
    if b"<f" in sheet or b":f" in sheet:
        for letters, number in _FORMULA.findall(sheet):
            marks.without_result.setdefault(int(number), []).append(column_number(letters.decode()))
    return marks
