"""Cells: from the text of attribute columns to typed values, with a fault for each cell that cannot be read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.faults import FaultList
from valuation.comparables.headers import ColumnMap
from valuation.comparables.likely_header import likely_header
from valuation.comparables.read_as import ReadAs, Told, each_row
from valuation.comparables.texttable import TextTable
from valuation.comparables.written import is_year, understood_number
from valuation.notes import Note
from valuation.schema.attributes import Attribute, Role
from valuation.schema.checks import NUMERIC, lowest_value
from valuation.schema.schema import Schema
from valuation.schema.values import CellFault, Value, read_value
from valuation.text.numbers import decimal_mark
from valuation.text.reading import Reading
from valuation.text.spelling import counted, letters_apart, level_key, nearest

ObjectArray = npt.NDArray[np.object_]
"""Values of one column, ``None`` where missing."""


def distinct(column: pd.Series[Any]) -> tuple[npt.NDArray[np.intp], list[str]]:
    """A column's distinct texts and, for each row, which one it holds: each text is then read only once."""
    codes, texts = pd.factorize(column.to_numpy(dtype=object))
    return codes, [str(text) for text in texts]


def by_row(values: Sequence[Any], codes: npt.NDArray[np.intp]) -> ObjectArray:
    """The values of distinct texts laid out by row.

    Parameters
    ----------
    values : sequence
        One for each distinct text.
    codes : ndarray of int
        Which distinct text each row holds, shape (n_rows,).
    """
    array = np.empty(len(values), dtype=object)
    array[:] = list(values)
    return array[codes]


def column_mark(texts: list[str], table: TextTable, told: str) -> str:
    """The decimal mark for a column of numbers: what its own cells prove, else what is told, else the delimiter's.

    Parameters
    ----------
    texts : list of str
        The column's distinct texts.
    table : TextTable
    told : str
        The decimal mark that the schema tells; may be empty.
    """
    return decimal_mark(texts) or told or ("," if table.comma_decimals else "")


def read_attributes(
    table: TextTable, columns: ColumnMap, schema: Schema, faults: FaultList, today: dt.date
) -> tuple[dict[str, ObjectArray], list[ReadAs], list[Note]]:
    """The values of each attribute that the table has by name, what was read otherwise than written, and notes.

    A cell that cannot be read is ``None`` and a fault, as is a required column that is not there.

    Parameters
    ----------
    table : TextTable
    columns : ColumnMap
        Where each column stands.
    schema : Schema
        What the columns mean.
    faults : FaultList
        Takes the faults found.
    today : date
        Later days lie in the future.
    """
    values: dict[str, ObjectArray] = {}
    otherwise: list[ReadAs] = []
    notes: list[Note] = []
    for attribute in schema.attributes:
        header = columns.attributes.get(attribute.name)
        if header is not None:
            values[attribute.name] = _read_column(table, header, attribute, schema, faults, otherwise, notes, today)
        elif attribute.required or attribute.missing == "refuse":
            likely = likely_header(attribute, table, columns.unmapped, schema.reading("", today))
            faults.add(
                0,
                attribute.name,
                "",
                "missing_column",
                f"The table has no column '{attribute.name}', which the schema '{schema.name}' needs.",
                f"Add the column, or rename the one that holds it to '{attribute.name}'."
                + (f" Is it '{likely}'?" if likely else ""),
            )
    return values, otherwise, notes


def _read_column(
    table: TextTable,
    header: str,
    attribute: Attribute,
    schema: Schema,
    faults: FaultList,
    otherwise: list[ReadAs],
    notes: list[Note],
    today: dt.date,
) -> ObjectArray:
    column = table.cells[header]
    codes, texts = distinct(column)
    mark = column_mark(texts, table, schema.decimal_mark) if attribute.role in NUMERIC else ""
    reading = schema.reading(mark, today)
    read = [read_value(attribute, text, reading) for text in texts]
    told: Told = {}
    if attribute.role in NUMERIC:
        read, told = _understood_numbers(attribute, texts, read, reading)
    known: list[Value | None] = [None if isinstance(value, CellFault) else value for value in read]
    if attribute.role is Role.NOMINAL and not attribute.levels:
        known = _join_spellings(known, np.bincount(codes, minlength=len(texts)))
        for code, (value, word) in enumerate(zip(read, known, strict=True)):
            if isinstance(word, str) and value != word:
                told[code] = ("spellings_joined",), word, 0
    otherwise += each_row(column, codes, texts, told)
    for code, problem in enumerate(read):
        if isinstance(problem, CellFault):
            faults.add_problem(column.index[codes == code], header, texts[code], problem)
    values = by_row(known, codes)
    if attribute.role is Role.NOMINAL and not attribute.levels:
        _suspect_spellings(values, column, header, faults)
    _missing_cells(values, by_row([isinstance(v, CellFault) for v in read], codes), column, attribute, faults, notes)
    return values


def _missing_cells(
    values: ObjectArray,
    faulty: ObjectArray,
    column: pd.Series[Any],
    attribute: Attribute,
    faults: FaultList,
    notes: list[Note],
) -> None:
    blank = np.asarray([value is None for value in values], dtype=bool) & ~faulty.astype(bool)
    if attribute.missing == "refuse":
        for row, text in column[blank].items():
            faults.add(
                int(str(row)),
                str(column.name),
                str(text),
                "missing_value",
                f"{attribute.name} is missing.",
                f"Fill in {attribute.name}; the schema requires it.",
            )
    elif attribute.missing == "lowest" and blank.any():
        lowest = lowest_value(attribute)
        word = {False: "no", True: "yes"}.get(lowest, lowest) if isinstance(lowest, bool) else lowest
        count = int(blank.sum())
        cells = counted(count, "blank cell was", "blank cells were")
        text = f"{cells} read as '{word}' in {attribute.name}, as the schema says."
        notes.append(Note("missing_read_as_lowest", text))


def _understood_numbers(
    attribute: Attribute, texts: list[str], read: list[Value | CellFault | None], reading: Reading
) -> tuple[list[Value | CellFault | None], Told]:
    """The same numbers with those that words, units or two digits stood in the way of, and how these were read."""
    told: Told = {}
    for code, (text, value) in enumerate(zip(texts, read, strict=True)):
        if not isinstance(value, CellFault) or value.code == "spreadsheet_error":
            continue
        found = understood_number(attribute, text, reading)
        if isinstance(found, CellFault):
            read[code] = found
        elif found is not None:
            read[code], kinds = found
            shown = f"{found[0]:.0f}" if is_year(attribute) else f"{found[0]:,.12g} {attribute.unit}".rstrip()
            if kinds:
                told[code] = kinds, shown, 0
    return read, told


def _join_spellings(known: list[Value | None], counts: npt.NDArray[np.intp]) -> list[Value | None]:
    """One spelling for words of an open scale that differ in case, spaces or hyphens only: the commonest."""
    by_key: dict[str, dict[str, int]] = {}
    for value, count in zip(known, counts, strict=True):
        if isinstance(value, str):
            spellings = by_key.setdefault(level_key(value), {})
            spellings[value] = spellings.get(value, 0) + int(count)
    best = {key: min(words, key=lambda w, words=words: (-words[w], w)) for key, words in by_key.items()}  # type: ignore[misc]
    return [best[level_key(value)] if isinstance(value, str) else value for value in known]


def _suspect_spellings(values: ObjectArray, column: pd.Series[Any], header: str, faults: FaultList) -> None:
    """Point at a level seen once whose spelling is almost that of a level seen five times or more (five is chosen)."""
    counts = pd.Series(values, dtype=object).value_counts()
    common = [str(level) for level in counts[counts >= 5].index][:200]
    single = {str(level) for level in counts[counts == 1].index[:2000]}
    if not common or not single:
        return
    for row, value in zip(column.index, values, strict=True):
        if value not in single:
            continue
        close = [level for level in nearest(value, common) if _alike(value, level)]
        if close:
            faults.add(
                row,
                header,
                value,
                "likely_misspelling",
                f"'{value}' occurs once and looks like '{close[0]}', which occurs {counts[close[0]]:,} times.",
                f"Write '{close[0]}' if that is meant; otherwise leave it. The row is used as it is.",
                sets_aside=False,
                suggestion=close[0],
            )


def _alike(word: str, level: str) -> bool:
    """Whether two words differ as a typing mistake would make them: by at most two letters, and in no digit."""
    figures = ["".join(character for character in text if character.isdigit()) for text in (word, level)]
    return figures[0] == figures[1] and letters_apart(level_key(word), level_key(level)) <= 2 and len(level) >= 5
