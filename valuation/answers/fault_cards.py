"""Faults by cause as an owner decides them: what is found, the one button that mends it, and the rows one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.comparables.mend import Group, How, Mend
from valuation.text.spelling import counted

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables, Fault
    from valuation.comparables.texttable import TextTable

MOST_ROWS = 12
"""Rows of one cause that are shown at once; chosen, a screen of a telephone. The rest follows when these are mended."""
MOST_CELLS = 8
"""Cells of a row that are told beside the one in question; chosen, three lines of a telephone."""


@dataclass(frozen=True)
class FaultRow:
    """One row with a fault.

    Attributes
    ----------
    row : int
        As a spreadsheet shows it.
    place : int
        Place of the header in question, from 0; -1 where the whole row is meant.
    header, value : str
        The header, and what the cell says.
    suggestion : str
        The text to write there, where there is one answer.
    why : str
    told : str
        The row's other cells in one line.
    """

    row: int
    place: int
    header: str
    value: str
    suggestion: str
    why: str
    told: str


@dataclass(frozen=True)
class FaultCard:
    """Faults of one cause.

    Attributes
    ----------
    code : str
    how : {"one answer", "ask", "by hand", "stays out"}
    said : str
        How many there are, and of what.
    todo : str
        What to do.
    frees : int
        Rows that are set aside for it.
    button : str
        What the button says that makes every mend; empty where they are not made together.
    rows : tuple of FaultRow
        The first of them.
    more : int
        Rows that are not among them.
    mends : int
        Cells that the button would write.
    confirms, leaves_out : bool
        Whether a row can be said to be right as it is, and whether its mend leaves it out.
    """

    code: str
    how: How
    said: str
    todo: str
    frees: int
    button: str
    rows: tuple[FaultRow, ...]
    more: int
    mends: int
    confirms: bool
    leaves_out: bool


def fault_cards(found: Comparables, text: TextTable) -> tuple[FaultCard, ...]:
    """The faults of a table by cause, those first that free most rows.

    Parameters
    ----------
    found : Comparables
    text : TextTable
        Its cells.
    """
    from valuation.comparables.suggestions import grouped

    by_place: dict[tuple[int, str, str], Fault] = {(one.row, one.column, one.code): one for one in found.faults}
    return tuple(_card(group, by_place, text) for group in grouped(found))


def _card(group: Group, by_place: dict[tuple[int, str, str], Fault], text: TextTable) -> FaultCard:
    faults = [fault for fault in by_place.values() if fault.code == group.code and _is_of(fault, group)]
    return FaultCard(
        code=group.code,
        how=group.how,
        said=f"{group.count:,} {group.cause}" if group.code != "missing_column" else group.cause.capitalize(),
        todo=group.todo,
        frees=group.frees,
        button=_button(group),
        rows=tuple(_row(fault, text) for fault in faults[:MOST_ROWS] if fault.row),
        more=max(len(group.rows) - MOST_ROWS, 0),
        mends=len(group.mends),
        confirms=bool(group.confirms),
        leaves_out=group.code == "duplicate_sale",
    )


def _is_of(fault: Fault, group: Group) -> bool:
    if fault.row and fault.row not in group.rows:
        return False
    wanted = {(mend.row, mend.column, mend.new) for mend in group.mends}
    if group.code == "duplicate_sale" or not wanted:
        return not fault.suggestion
    return (fault.row, fault.column, fault.suggestion) in wanted


def _button(group: Group) -> str:
    from valuation.comparables.suggestions import ONE_BY_ONE

    if group.code in ONE_BY_ONE or not group.mends:
        return ""
    kinds = {mend.new for mend in group.mends}
    if len(group.mends) == 1:
        return f"Write {group.mends[0].new}"
    return f"Write {kinds.pop()} in all {len(group.mends)}" if len(kinds) == 1 else f"Mend all {len(group.mends)}"


def _row(fault: Fault, text: TextTable) -> FaultRow:
    cells = text.cells.loc[fault.row]
    others = [
        f"{header}: {value}" if str(header)[:1] != "(" else str(value)
        for header, value in cells.items()
        if str(value).strip() and header != fault.column
    ]
    whole = " · ".join(one[:60] for one in others[:MOST_CELLS])
    place = text.headers.index(fault.column) if fault.column in text.headers else -1
    value = str(cells[fault.column]) if place >= 0 else ""
    return FaultRow(fault.row, place, fault.column, value, fault.suggestion, fault.why, whole)


def chosen_mends(found: Comparables, which: str) -> tuple[Mend, ...]:
    """The mends behind a button.

    ``sure`` stands for all that have one answer, ``N`` for a cause by its place in the list, ``N.ROW`` and
    ``N.ROW.right`` for one of its rows, which is mended or right as it is.

    Parameters
    ----------
    found : Comparables
        The table that the button stood on.
    which : str
        What the button sends.

    Returns
    -------
    tuple of Mend
        None where there is no such button.
    """
    from valuation.comparables.suggestions import ONE_BY_ONE, grouped

    groups = grouped(found)
    if which == "sure":
        return tuple(mend for group in groups if group.how == "one answer" for mend in group.mends)
    place, _, rest = which.partition(".")
    if not place.isdecimal() or int(place) >= len(groups):
        return ()
    group = groups[int(place)]
    row, _, right = rest.partition(".")
    if not row:
        return () if group.code in ONE_BY_ONE else group.mends
    if right and group.confirms:
        return tuple(group.confirmed(one) for one in group.rows if str(one) == row)
    return tuple(mend for mend in group.mends if str(mend.row) == row)


def typed_mends(
    text: TextTable, cells: dict[tuple[int, str], str], left_out: Sequence[int], right: Sequence[int]
) -> tuple[Mend, ...]:
    """What was typed into rows, as mends of what they hold; cells that say the same are none.

    Parameters
    ----------
    text : TextTable
        As the page showed it.
    cells : dict of (row, header) to str
    left_out, right : sequence of int
        Rows to be left out, and rows that look odd and are right.
    """
    from valuation.comparables.mending import CONFIRMED

    changed = [
        Mend(row, header, str(text.cells.at[row, header]), new.strip())
        for (row, header), new in cells.items()
        if row in text.cells.index and new.strip() != str(text.cells.at[row, header]).strip()
    ]
    marks = [Mend(row, CONFIRMED, "", "yes") for row in right]
    return (*changed, *marks, *(Mend(row, "") for row in left_out))


def usable_said(usable: int, rows: int) -> str:
    """How many rows can be used, as the bar says it.

    Parameters
    ----------
    usable, rows : int
    """
    return f"{usable:,} of {counted(rows, 'row')} usable"


def next_said(cards: Sequence[FaultCard], usable: int) -> str:
    """The one thing to do next with a table.

    Parameters
    ----------
    cards : sequence of FaultCard
    usable : int
        Rows that can be used.
    """
    from valuation.regression.regressor import LEAST_SALES

    sure = sum(card.mends for card in cards if card.how == "one answer")
    asked = sum(card.how == "ask" for card in cards)
    waiting = sum(card.frees for card in cards if card.how == "by hand")
    if sure:
        return f"Next: make the {counted(sure, 'mend that has', 'mends that have')} one answer."
    if asked:
        return f"Next: decide {counted(asked, 'doubtful thing')} below."
    if waiting:
        return f"Next: {counted(waiting, 'row waits', 'rows wait')} for what only you can say."
    if usable < LEAST_SALES:
        return f"Next: add sales; an estimate needs at least {LEAST_SALES} usable ones."
    return "Nothing has to be mended: value a vehicle from it."
