"""The grid of a table: which rows are shown, with their faults in place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from valuation.comparables import Comparables, Fault
    from valuation.comparables.texttable import TextTable

AT_ONCE = 25
"""Rows on one page of the grid: some two screens, and quick to draw. Chosen by eye."""


@dataclass(frozen=True)
class ShownCell:
    """One cell.

    Attributes
    ----------
    text : str
    column : int
        Place of its header.
    fault : Fault or None
    """

    text: str
    column: int
    fault: Fault | None


@dataclass(frozen=True)
class ShownRow:
    """One row.

    Attributes
    ----------
    number : int
        As a spreadsheet shows it.
    cells : tuple of ShownCell
    faults : tuple of Fault
        All of the row.
    set_aside, open : bool
        Whether it is left out of the fit, and whether its cells can be edited.
    """

    number: int
    cells: tuple[ShownCell, ...]
    faults: tuple[Fault, ...]
    set_aside: bool
    open: bool


@dataclass(frozen=True)
class GridView:
    """The rows shown.

    Attributes
    ----------
    headers : tuple of str
    rows : tuple of ShownRow
    show, find : str
        The filter: ``faults``, ``set_aside`` or ``all``, and a text that a cell must hold.
    first, last, total : int
        Which of the rows that pass the filter are shown, and how many pass.
    table_faults : tuple of Fault
        Of the whole table.
    next, before : int or None
        Where the next and the previous page of rows begin.
    """

    headers: tuple[str, ...]
    rows: tuple[ShownRow, ...]
    show: str
    find: str
    first: int
    last: int
    total: int
    table_faults: tuple[Fault, ...]
    next: int | None
    before: int | None


def grid_view(text: TextTable, found: Comparables, show: str, find: str, first: int, edit: int) -> GridView:
    """The rows of a table that pass a filter.

    Parameters
    ----------
    text : TextTable
        The table's cells.
    found : Comparables
        The same table as understood.
    show : str
        Which rows.
    find : str
        Text that a row must hold.
    first : int
        Number of the first row shown.
    edit : int
        Number of the row to edit.
    """
    by_row: dict[int, list[Fault]] = {}
    for fault in found.faults:
        by_row.setdefault(fault.row, []).append(fault)
    cells, aside = text.cells, set(found.set_aside.index)
    kept = cells
    if find.strip():
        needle = find.strip().casefold()
        kept = kept[kept.apply(lambda column: column.str.casefold().str.contains(needle, regex=False)).any(axis=1)]
    if show == "faults":
        kept = kept[kept.index.isin([row for row in by_row if row])]
    elif show == "set_aside":
        kept = kept[kept.index.isin(list(aside))]
    shown = kept.iloc[first : first + AT_ONCE]
    rows = tuple(
        _row(int(row), values, list(cells.columns), by_row.get(int(row), []), int(row) in aside, show, edit)
        for row, values in zip(shown.index, shown.to_numpy().tolist(), strict=True)
    )
    return GridView(
        headers=tuple(map(str, cells.columns)),
        rows=rows,
        show=show,
        find=find,
        first=first + 1 if len(kept) else 0,
        last=first + len(rows),
        total=len(kept),
        table_faults=tuple(by_row.get(0, [])),
        next=first + AT_ONCE if first + AT_ONCE < len(kept) else None,
        before=max(first - AT_ONCE, 0) if first else None,
    )


def _row(
    number: int, values: list[str], headers: list[str], faults: list[Fault], aside: bool, show: str, edit: int
) -> ShownRow:
    at = {fault.column: fault for fault in faults}
    cells = tuple(ShownCell(str(value), i, at.get(headers[i])) for i, value in enumerate(values))
    return ShownRow(number, cells, tuple(faults), aside, open=show == "faults" or edit == number)
