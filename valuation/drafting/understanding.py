"""Understanding: everything that a table shows about itself, column by column, and what it leaves open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from valuation.drafting.grades import Word
from valuation.drafting.habits import DateOrder
from valuation.drafting.question import Question
from valuation.notes import Note
from valuation.schema.attributes import Attribute
from valuation.schema.schema import Schema

Part = Literal["sale", "trade", "own", "left out"]
Sure = Literal["certain", "likely", "a guess"]
OWN, LEFT_OUT = "own", "left out"
"""What an owner answers under ``header/HEADER``, beside the name of a column of the sale or an attribute."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the table.

    Parameters
    ----------
    header : str
    part : {"sale", "trade", "own", "left out"}
        Whether it describes the sale, is an attribute of the trade's schema, becomes one of the owner's own, or is kept
        and not used.
    name : str
        The column of the sale, or the attribute; empty when left out.
    sure : {"certain", "likely", "a guess"}
    why : str
        What shows it, in a few words.
    attribute : Attribute or None
        As the schema will have it.
    words : tuple of Word
        Of a scale or of outcomes: what each word of the column is taken for.
    open_scale : bool
        Whether its words are taken as they are, without an order, because too few of them are known.
    """

    header: str
    part: Part
    name: str
    sure: Sure
    why: str
    attribute: Attribute | None = None
    words: tuple[Word, ...] = ()
    open_scale: bool = False


@dataclass(frozen=True)
class Understanding:
    """A table as it is understood.

    Parameters
    ----------
    table_name, sheet : str
    rows : int
        Below the header.
    base : Schema
        The trade's, that it was understood by.
    columns : tuple of Column
        In the table's order.
    currency : str
        Of the prices; empty when none is named, or several are and some prices name none.
    other_currencies : mapping of str to int
        Rows in another currency.
    rates : mapping of str to float
        What one unit of another currency is in ``currency``, as far as it was told.
    premiums : mapping of str to float
        The buyer's premium in percent by venue, as far as it was told.
    dates : DateOrder
    decimal_mark : str
        Where the table proves one; else empty.
    default_outcome : str
        Where no column says how a price came about.
    questions : tuple of Question
        Best first: those that free most rows.
    told : mapping of str to str
        Answers of the owner that it rests on.
    notes : tuple of Note
        How the file was read.
    asides : mapping of int to str
        Rows that are no sales, and the fault code that says what they are.
    """

    table_name: str
    sheet: str
    rows: int
    base: Schema
    columns: tuple[Column, ...]
    currency: str
    other_currencies: Mapping[str, int]
    rates: Mapping[str, float]
    dates: DateOrder
    decimal_mark: str
    default_outcome: str
    questions: tuple[Question, ...]
    told: Mapping[str, str]
    notes: tuple[Note, ...] = ()
    asides: Mapping[int, str] = field(default_factory=dict)
    premiums: Mapping[str, float] = field(default_factory=dict)

    def of(self, name: str) -> Column | None:
        """The column that is taken for a column of the sale or an attribute; None where there is none."""
        return next((column for column in self.columns if column.name == name), None)
