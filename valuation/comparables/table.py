"""The table of comparables after reading: usable sales, rows set aside, and every fault found."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from valuation.comparables.read_as import ReadAs
from valuation.comparables.venues import by_venue
from valuation.notes import Note
from valuation.schema.schema import OUTCOMES, Schema
from valuation.view import View, Viewed, as_money, outcome_words

if TYPE_CHECKING:
    import pandas as pd

    from valuation.comparables.texttable import TextTable


def _no_columns() -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame()


SALE_DATE = "sale_date"
"""Name under which the sale date enters the regression, beside the schema's attributes."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one cell or row of a table, and how to mend it.

    Parameters
    ----------
    row : int
        Row number as a spreadsheet shows it: the header is row 1, the first sale row 2. 0 for the whole table.
    column : str
        Header as the file spells it; empty when the whole row is meant.
    value : str
        What was found, as text.
    why : str
        What is wrong, in one sentence.
    mend : str
        What to do about it.
    code : str
        Stable name such as ``"unknown_level"``.
    sets_aside : bool
        Whether the row is left out of the fit because of it.
    suggestion : str
        The text to write into that cell, where there is one answer; empty otherwise.
    """

    row: int
    column: str
    value: str
    why: str
    mend: str
    code: str
    sets_aside: bool = True
    suggestion: str = ""


@dataclass(frozen=True, slots=True, repr=False)
class Origin:
    """What a table was understood from.

    Parameters
    ----------
    sheet : str
        The sheet of the workbook; empty for other files.
    headers : mapping of str to str
        The file's header for each column of the sale and each attribute that it has.
    today : date
        The day after which a sale lay in the future.
    text : TextTable or None
        The cells, so that the table can be read again with mends; kept only where there is a fault.
    """

    sheet: str
    headers: Mapping[str, str]
    today: dt.date
    text: TextTable | None


@dataclass(frozen=True, repr=False)
class Comparables(Viewed):
    """A table of comparable sales on one basis, ready to fit.

    Attributes
    ----------
    schema : Schema
        The schema that the table was read with.
    attributes : DataFrame, shape (n_usable, n_attributes)
        One column per schema attribute present in the table, typed: ordered ``Categorical`` for ordinal, plain
        ``Categorical`` for nominal, float for number, smooth, count and flag (1, 0, NaN), ``datetime64[ns]`` for
        date. Index: row number as a spreadsheet shows it (the header is row 1).
    sales : DataFrame, shape (n_usable, ...)
        Same index; columns ``sale`` (str, the row's name), ``date`` (datetime64), ``outcome`` (``sold``,
        ``bid_not_met``, ``asking``), ``price`` (as entered), ``currency`` (str), ``venue`` (str), ``source`` (str),
        ``vehicle`` (str, what identifies it; blank where unknown), ``premium`` and ``fees`` (money in the table's
        currency), ``low`` and ``high`` (buyer-pays price in the table's currency: equal when sold; ``high`` is inf for
        a bid that was not met; ``low`` is 0 for an asking price), ``written`` (the price cell's own text), ``rate``
        (units of the table's currency for one of the row's).
    set_aside : DataFrame
        The rows left out, as text under the file's own headers, index = row number, with a last column ``reason``.
    faults : tuple of Fault
        Everything found, in row order.
    rows : int
        Data rows in the file.
    currency : str
        Currency of ``low`` and ``high``; empty when the table names none.
    source_name : str
        File name, for messages and sheets.
    fingerprint : str
        SHA-256 of the canonical content (attributes, sales and schema): equal content, equal fingerprint, in
        whatever order the rows stand and whatever kind of file they came from.
    notes : tuple of Note
        What was read by a rule that the owner should know: dates that could be read two ways, blank cells read as the
        lowest level, premiums taken from the venue and the like.
    extra : DataFrame
        Columns that the schema does not know, as text under the file's own headers, for the usable rows.
    confirmed : frozenset of int
        Numbers of the rows that the shop has confirmed as right although they look odd.
    read_as : tuple of ReadAs
        Every cell that was read otherwise than it is written, such as ``5.75k``; ``notes`` says each kind once.
    origin : Origin or None
        What the table was understood from.
    """

    schema: Schema
    attributes: pd.DataFrame
    sales: pd.DataFrame
    set_aside: pd.DataFrame
    faults: tuple[Fault, ...]
    rows: int
    currency: str
    source_name: str
    fingerprint: str = field(default="")
    notes: tuple[Note, ...] = ()
    extra: pd.DataFrame = field(default_factory=_no_columns)
    confirmed: frozenset[int] = frozenset()
    read_as: tuple[ReadAs, ...] = ()
    origin: Origin | None = None

    @property
    def n_usable(self) -> int:
        """How many rows enter the fit."""
        return len(self.sales)

    def features(self) -> pd.DataFrame:
        """What the regression sees: the attributes plus ``sale_date``; same index as ``sales``."""
        return self.attributes.assign(**{SALE_DATE: self.sales["date"]})

    def prices(self) -> npt.NDArray[np.float64]:
        """Buyer-pays low/high pairs, shape (n_usable, 2), in the table's currency.

        An open side is closed where the schema states the gap of the row's venue: a price that lies anywhere between a
        bid and twice the gap above it, in percent upon percent, lies the gap above it on average.
        """
        pairs = self.sales[["low", "high"]].to_numpy(dtype=float)
        if not self.schema.venue_gaps:
            return pairs
        low, high = pairs.T
        factor = (1 + by_venue(self.sales["venue"], self.schema.venue_gaps) / 100) ** 2
        known = ~np.isnan(factor)
        closed_high = np.where(np.isinf(high) & known, low * factor, high)
        return np.column_stack([np.where((low == 0) & known, high / factor, low), closed_high])

    def outcome_counts(self) -> dict[str, int]:
        """How many usable rows of each outcome there are, and how many rows were set aside."""
        counts = self.sales["outcome"].value_counts()
        answer = {name: int(counts.get(name, 0)) for name in OUTCOMES}
        answer["set_aside"] = self.rows - self.n_usable
        return answer

    def _view(self) -> View:
        sales = self.sales
        paid = sales["low"].where(sales["outcome"] != "asking", sales["high"])
        return View(
            title=f"Comparables of {self.source_name or 'a table'}",
            facts=(outcome_words(self.outcome_counts()), f"{len(self.attributes.columns)} attributes"),
            header=("row", "sale", "date", "outcome", "price"),
            rows=[
                (
                    str(row),
                    str(name),
                    "" if day != day else f"{day:%Y-%m-%d}",
                    str(outcome).replace("_", " "),
                    as_money(price, self.currency),
                )
                for row, name, day, outcome, price in zip(
                    sales.index, sales["sale"], sales["date"], sales["outcome"], paid, strict=True
                )
            ],
            notes=self.notes,
        )
