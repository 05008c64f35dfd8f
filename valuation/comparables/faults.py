"""Faults: the kinds there are, and the list that gathers them while a table is read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from valuation.comparables.table import Fault
from valuation.schema.values import CellFault

FAULT_CODES = {
    "ambiguous_currency": "A price names no currency in a table of several.",
    "ambiguous_dates": "Other dates of the table show that day and month stand in the other order than it was read in.",
    "column_twice": "Two headers mean the same column; the second is not used.",
    "currency_conflict": "Two cells of one row name different currencies.",
    "currency_without_rate": "A price is in a currency for which the schema has no rate.",
    "doubtful_premium": "A premium or fee is not an amount, or is too small or too large to be one.",
    "duplicate_sale": "The same sale is in an earlier row.",
    "early_date": "A sale date lies before the schema's earliest.",
    "extra_cells": "A row has more cells than there are headers.",
    "future_date": "A sale date lies in the future.",
    "impossible_date": "A date is incomplete, or names a day that does not exist.",
    "impossible_number": "A number lies outside what the schema says is possible.",
    "likely_misspelling": "A level seen once is spelled almost like a common one.",
    "merged_price": "A price is merged over several rows, and may be one price for several vehicles.",
    "missing_column": "A column that is needed is not in the table.",
    "missing_date": "A sale has no date.",
    "missing_outcome": "A row does not say how its price came about.",
    "missing_price": "A row has no price.",
    "missing_value": "A cell that the schema requires is blank.",
    "not_a_count": "A count is not a whole number.",
    "not_a_flag": "A yes-or-no cell says neither.",
    "not_a_number": "A cell that needs a number does not hold one.",
    "not_arms_length": "The sale was not between strangers in an open market.",
    "note_row": "A row holds a note below the table.",
    "price_infinite": "A price is infinite.",
    "price_negative": "A price is below zero.",
    "price_not_a_number": "A price is not a number, or can be read as two.",
    "price_range": "A price cell names two amounts, such as the ends of a range.",
    "price_zero": "A price is zero.",
    "repeated_header": "A row repeats the headers.",
    "section_row": "A row holds a heading amid the sales.",
    "slipped_digit": "A price is about ten times, or a tenth of, what its neighbours suggest.",
    "spreadsheet_error": "A cell holds an error of the spreadsheet, or a formula without its result.",
    "totals_row": "A row holds totals or averages of others.",
    "unknown_column": "The schema does not know this column; it is kept and not used.",
    "unknown_level": "A word is not one of the levels of its attribute.",
    "unknown_outcome": "A word is not one of the outcomes.",
}
"""Every fault code with what it means in one sentence."""


class FaultList:
    """Faults gathered while a table is read.

    Parameters
    ----------
    headers : iterable of str
        The file's headers in order, by which faults of one row are sorted.
    """

    def __init__(self, headers: Iterable[str]) -> None:
        self._position = {header: position for position, header in enumerate(headers)}
        self._faults: list[Fault] = []

    def add(
        self,
        row: int,
        column: str,
        value: str,
        code: str,
        why: str,
        mend: str,
        *,
        sets_aside: bool = True,
        suggestion: str = "",
    ) -> None:
        """Note one fault; ``row`` 0 is the whole table.

        Parameters
        ----------
        row : int
            As a spreadsheet shows it.
        column : str
            Header as the file spells it; empty for the whole row.
        value : str
            What was found.
        code : str
            Stable name of the fault.
        why : str
            What is wrong, in one sentence.
        mend : str
            What to do about it.
        sets_aside : bool
            Whether the row is left out of the fit.
        suggestion : str
            The text to write into that cell, where there is one answer.
        """
        shown = value if len(value) <= 200 else f"{value[:200]}…"
        self._faults.append(Fault(int(row), column, shown, why, mend, code, sets_aside, suggestion))

    def add_problem(self, rows: Iterable[int], column: str, value: str, problem: CellFault) -> None:
        """Note the same problem of one column for every row that holds the same value.

        Parameters
        ----------
        rows : iterable of int
            As a spreadsheet shows them.
        column : str
            Header as the file spells it.
        value : str
            What was found.
        problem : CellFault
        """
        for row in rows:
            self.add(row, column, value, problem.code, problem.why, problem.mend, suggestion=problem.suggestion)

    def __iter__(self) -> Iterator[Fault]:
        return iter(sorted(self._faults, key=lambda fault: (fault.row, self._position.get(fault.column, -1))))

    def reasons(self, rows: Iterable[int]) -> dict[int, str]:
        """Why each row is set aside, for the rows that are; several reasons are joined."""
        whole = [fault.why for fault in self if fault.sets_aside and fault.row == 0]
        reasons: dict[int, list[str]] = {row: list(whole) for row in rows} if whole else {}
        for fault in self:
            if fault.sets_aside and fault.row:
                reasons.setdefault(fault.row, []).append(fault.why)
        return {row: " ".join(whys) for row, whys in reasons.items()}
