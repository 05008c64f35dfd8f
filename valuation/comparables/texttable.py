"""The text table: what a file holds before anything is understood, every cell as text, rows by their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, islice
from typing import NoReturn

import pandas as pd

from valuation.comparables.asides import find_asides
from valuation.comparables.layout import HEAD_ROWS, find_head
from valuation.comparables.merges import Merge, filled_in
from valuation.comparables.read_as import ReadAs
from valuation.errors import TableError, shortlist
from valuation.notes import Note

MAX_CELL = 32_767
"""Characters that one cell may hold: what a spreadsheet's cell can."""

MAX_COLUMNS = 500
"""Columns that a table may have; chosen, far beyond any shop's."""

MAX_ROWS = 2_000_000
"""Rows that a table may have; chosen, as are the cells below, for the memory of a small computer."""

MAX_CELLS = 10_000_000
"""Cells that a table may have, blank ones and those of rows above the header included."""


@dataclass(frozen=True)
class TextTable:
    """A table as text.

    Parameters
    ----------
    name : str
        File name, for messages.
    cells : DataFrame, shape (n_rows, n_headers)
        Every cell as text, blank when empty. Columns: the file's headers, made unique. Index: row number as a
        spreadsheet shows it; wholly blank rows are left out.
    overlong : dict of int to str
        Rows with more cells than there are headers, and the text of the extra cells.
    comma_decimals : bool
        Whether the file's columns are separated by semicolons, as is usual where a comma is the decimal mark.
    notes : tuple of Note
        How the file was read.
    sheet : str
        The sheet of the workbook that it was read from; empty for other files.
    asides : dict of int to str
        Rows among ``cells`` that are no sales, and the fault code that says what they are: a line of totals, a heading,
        the headers once more, or a note below the table.
    header_rows : tuple of int
        Rows that make the headers; several where they are joined.
    titles : dict of int to str
        Rows above the header that were passed over, and what they say.
    read_as : tuple of ReadAs
        Merged cells that were filled in.
    """

    name: str
    cells: pd.DataFrame
    overlong: dict[int, str] = field(default_factory=dict)
    comma_decimals: bool = False
    notes: tuple[Note, ...] = ()
    sheet: str = ""
    asides: dict[int, str] = field(default_factory=dict)
    header_rows: tuple[int, ...] = (1,)
    titles: dict[int, str] = field(default_factory=dict)
    read_as: tuple[ReadAs, ...] = ()

    def sales_alone(self) -> TextTable:
        """The same table without the rows that are no sales."""
        return replace(self, cells=self.cells.drop(index=list(self.asides)), asides={}) if self.asides else self

    def cell(self, row: int, header: str) -> str:
        """What a cell says; nothing under a header that is not there.

        Parameters
        ----------
        row : int
        header : str
        """
        return str(self.cells.at[row, header]) if header in self.cells.columns else ""

    @property
    def headers(self) -> list[str]:
        """The headers in order."""
        return list(self.cells.columns)


def table_from_rows(
    rows: Iterable[Sequence[str]],
    name: str,
    *,
    is_known: Callable[[str], bool] = lambda header: False,
    merges: Sequence[Merge] = (),
    separated: bool = True,
    comma_decimals: bool = False,
    notes: tuple[Note, ...] = (),
) -> TextTable:
    """A text table from rows of cells; :func:`valuation.comparables.layout.find_head` finds the header among them.

    Parameters
    ----------
    rows : iterable of sequence of str
        Cells as text.
    name : str
        File name, for messages.
    is_known : callable
        Whether a header is one that the schema knows.
    merges : sequence of Merge
        Cells merged into one.
    separated : bool
        Whether a character separates the cells: more cells than headers are then a fault of the row. In a workbook
        they are a column without a header.
    comma_decimals : bool
        Whether columns are separated by semicolons.
    notes : tuple of Note
        How the file was read.

    Raises
    ------
    TableError
        If there is no row, no row below the header, only one column, no header, or too much of anything.
    """
    numbered = _counted(rows, name)
    first = list(islice(numbered, HEAD_ROWS))
    spans = [(m.top, m.left - 1, m.right - 1) for m in merges if m.top == m.bottom]
    head = find_head(first, is_known, spans, name)
    if head is None:
        lone = [cell.strip() for _, row in first for cell in row if cell.strip()]
        _refuse_empty(lone[:1], [], name)
        raise _single_column(lone[0], name)
    headers = _headers(head.headers, name)
    width, last = len(headers), head.rows[-1]
    numbers: list[int] = []
    body: list[Sequence[str]] = []
    beyond: dict[int, list[str]] = {}
    for number, row in chain((one for one in first if one[0] > last), numbered):
        if len(row) != width:
            if any(extra := [cell.strip() for cell in row[width:]]):
                beyond[number] = extra
            row = [*row[:width], *[""] * (width - len(row))]
        numbers.append(number)
        body.append(row)
    _refuse_empty(headers, numbers, name)
    overlong = {number: ", ".join(filter(None, extra)) for number, extra in beyond.items()}
    if beyond and not separated:
        more = max(max(i for i, cell in enumerate(extra, start=1) if cell) for extra in beyond.values())
        headers, overlong = _headers(head.headers, name, width + more), {}
        rests = ([*beyond.get(number, []), *[""] * more][:more] for number in numbers)
        body = [[*row, *rest] for row, rest in zip(body, rests, strict=True)]
    body, read_as = filled_in(body, numbers, headers, merges)
    asides = find_asides(body, numbers, head.raw)
    _refuse_empty(headers, [number for number in numbers if number not in asides], name)
    if head.titles:
        notes = (*notes, _titles_note(head.titles))
    if len(head.rows) > 1:
        shown = shortlist([f"'{header}'" for header in headers], 5)
        text = f"The headers stand in rows {', '.join(map(str, head.rows))} and were joined: {shown}."
        notes = (*notes, Note("headers_joined", text))
    frame = pd.DataFrame(body, columns=headers, index=pd.Index(numbers, name="row"), dtype=object)
    return TextTable(
        name,
        _without_margin(frame),
        overlong,
        comma_decimals,
        notes,
        asides=asides,
        header_rows=head.rows,
        titles=head.titles,
        read_as=read_as,
    )


def _counted(rows: Iterable[Sequence[str]], name: str) -> Iterator[tuple[int, Sequence[str]]]:
    """The rows that hold anything, with their numbers; refused as soon as there is too much of them."""
    cells = 0
    for number, row in enumerate(rows, start=1):
        cells += len(row)
        if number > MAX_ROWS or cells > MAX_CELLS:
            refuse_size(number, cells, name)
        if any(cell and not cell.isspace() for cell in row):
            _refuse_long_cell(row, number, name)
            yield number, row


def _titles_note(titles: dict[int, str]) -> Note:
    lines = [f"'{text[:100]}'" for text in titles.values()]
    if len(lines) == 1:
        return Note("title_passed_over", f"The line above the header, {lines[0]}, was skipped.")
    return Note("title_passed_over", f"The {len(lines)} lines above the header were skipped: {shortlist(lines, 3)}.")


def _without_margin(frame: pd.DataFrame) -> pd.DataFrame:
    """The columns from the first on that has a header or holds anything."""
    start = 0
    for header in frame.columns[:-1]:
        if not header.startswith("(column ") or frame[header].str.strip().any():
            break
        start += 1
    return frame.iloc[:, start:] if start else frame


def refuse_size(rows: int, cells: int, name: str) -> NoReturn:
    """Refuse a table of so many rows and cells.

    Parameters
    ----------
    rows, cells : int
    name : str
        File name, for the message.
    """
    if rows > MAX_ROWS:
        raise TableError(f"Cannot read '{name}': it has more than {MAX_ROWS:,} rows. Split it.")
    raise TableError(
        f"Cannot read '{name}': it has {cells:,} cells or more; at most {MAX_CELLS:,} are accepted. Split it, or "
        "delete the empty rows and columns beyond the table."
    )


def table_from_columns(columns: dict[str, list[str]], name: str) -> TextTable:
    """A text table from columns of cells; the first row is numbered 2, since the header would be row 1.

    Parameters
    ----------
    columns : dict of str to list of str
        Cells as text, by header.
    name : str
        File name, for messages.

    Raises
    ------
    TableError
        As for :func:`table_from_rows`.
    """
    headers = _headers(list(columns), name)
    length = max(map(len, columns.values()), default=0)
    index = pd.RangeIndex(2, length + 2, name="row")
    cells = pd.DataFrame(dict(zip(headers, columns.values(), strict=True)), index=index, dtype=object)
    blank = (cells.apply(lambda column: column.str.strip()) == "").all(axis=1) if length else pd.Series(dtype=bool)
    cells = cells.loc[~blank.to_numpy(dtype=bool)]
    for header in headers:
        longest = cells[header].str.len()
        if len(longest) and longest.max() > MAX_CELL:
            position = int(longest.to_numpy(dtype=int).argmax())
            _refuse_long_cell([str(cells[header].iloc[position])], int(cells.index[position]), name)
    _refuse_empty(headers, list(cells.index), name)
    return TextTable(name, cells)


def _headers(row: Sequence[str], name: str, at_least: int = 0) -> list[str]:
    """Headers made unique; one without a name is called by its position, trailing blank ones are dropped."""
    found = [cell.strip() for cell in row]
    while found and not found[-1]:
        found.pop()
    found += [""] * (at_least - len(found))
    if len(found) > MAX_COLUMNS:
        raise TableError(
            f"Cannot read '{name}': it has {len(found):,} columns; at most {MAX_COLUMNS} are accepted. Keep "
            "those that matter."
        )
    unique: list[str] = []
    for position, header in enumerate(found, start=1):
        wanted = header or f"(column {position})"
        candidate, count = wanted, 1
        while candidate in unique or candidate == "reason":  # "reason" is kept for why a row is set aside
            count += 1
            candidate = f"{wanted} ({count})"
        unique.append(candidate)
    return unique


def _refuse_long_cell(row: Sequence[str], number: int, name: str) -> None:
    longest = max(map(len, row), default=0)
    if longest > MAX_CELL:
        raise TableError(
            f"Cannot read '{name}': a cell in row {number} holds {longest:,} characters; at most {MAX_CELL:,} are "
            "accepted. Shorten it, or look for a quotation mark that is opened and never closed."
        )


def _refuse_empty(headers: list[str], numbers: list[int], name: str) -> None:
    if not headers:
        raise TableError(
            f"Cannot read '{name}': it is empty. Give a table with a header row and one row for each sale."
        )
    if len(headers) == 1:
        raise _single_column(headers[0], name)
    if not numbers:
        raise TableError(f"Cannot use '{name}': it has a header and no rows below it. Add one row for each sale.")


def _single_column(header: str, name: str) -> TableError:
    return TableError(
        f"Cannot read '{name}': it has a single column, headed {header[:200]!r}. Columns are separated by "
        "comma, semicolon, tab or |; save the table as CSV with one of these, or as XLSX."
    )
