"""What the owner must know where sales of the very vehicle stand in the table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from valuation.comparables.for_buyers import rows_of_vehicle
from valuation.errors import shortlist
from valuation.notes import Note
from valuation.text.language import english_day
from valuation.text.spelling import counted

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables


def own_sales_note(table: Comparables | None, number: str) -> tuple[Note, ...]:
    """A note for the owner alone where the estimate rests on sales of the vehicle itself, which is easily forgotten.

    Parameters
    ----------
    table : Comparables or None
        None where a model holds no sales.
    number : str
        What identifies the vehicle; may be empty.
    """
    rows = sorted(rows_of_vehicle(table, number)) if table is not None else []
    if table is None or not rows:
        return ()
    sales = table.sales.loc[rows]
    named = [
        str(sale) if date != date else f"{sale} of {english_day(date)}"
        for sale, date in zip(sales["sale"], sales["date"], strict=True)
    ]
    one = len(rows) == 1
    text = (
        f"{counted(len(rows), 'row')} of the table {'is' if one else 'are'} of this very vehicle ({shortlist(named)}). "
        f"{'It counts' if one else 'They count'} in the estimate like any other; a sheet for a buyer leaves "
        f"{'it' if one else 'them'} out."
    )
    return (Note("own_sales", text),)
