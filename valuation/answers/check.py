"""What is wrong with a table, row by row, and how to mend it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from valuation.comparables.table import Comparables, Fault
from valuation.notes import Note
from valuation.view import View, Viewed


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class TableCheck(Viewed):
    """A table as it was understood, and its faults.

    Attributes
    ----------
    source_name : str
        Of the file.
    rows, usable : int
        Data rows in the file, and those that enter a fit.
    currency : str
        Of all prices; empty when the table names none.
    outcomes : mapping of str to int
        Rows by outcome: ``sold``, ``bid_not_met``, ``asking``, ``set_aside``.
    faults : tuple of Fault
        In row order.
    notes : tuple of Note
        How the table was read, and the one or two sales that a fit of it finds doubtful.
    """

    source_name: str
    rows: int
    usable: int
    currency: str
    outcomes: Mapping[str, int]
    faults: tuple[Fault, ...]
    notes: tuple[Note, ...]

    def _view(self) -> View:
        return View(
            title="Faults of the table",
            facts=(f"{self.usable} of {self.rows} rows can be used", f"{len(self.faults)} found"),
            header=("row", "column", "found", "why", "mend"),
            rows=[(str(one.row or ""), one.column, one.value, one.why, one.mend) for one in self.faults],
            notes=self.notes,
        )


def check(comparables: Comparables) -> TableCheck:
    """Every fault of a table with its mend.

    Examples
    --------
    >>> import valuation as v
    >>> v.check(v.read_comparables("data/comparables.csv", v.read_schema("data/schema.toml"))).rows
    182
    """
    from valuation.regression.model import doubts_in

    return TableCheck(
        source_name=comparables.source_name,
        rows=comparables.rows,
        usable=comparables.n_usable,
        currency=comparables.currency,
        outcomes=comparables.outcome_counts(),
        faults=comparables.faults,
        notes=(*comparables.notes, *doubts_in(comparables)),
    )
