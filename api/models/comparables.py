"""Models of tables of comparables and their schema."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from api.models.shared import Asked, Name
from valuation.answers.check import TableCheck
from valuation.answers.dialogue import Dialogue

Cell = Annotated[str, StringConstraints(max_length=2_000)]
RowNumber = Annotated[int, Field(ge=2, le=2_100_000, description="As a spreadsheet shows it: the header is row 1.")]


class TableAnswer(BaseModel):
    """One version of a table in the ledger."""

    id: int
    name: str = Field(examples=["Sales of the shop"])
    called: str = Field(description="What pages call it; its name unless it was called otherwise.")
    archived: bool = Field(description="Whether lists leave it out.")
    version: int
    written_at: dt.datetime
    source_name: str = Field(examples=["comparables.csv"])
    fingerprint: str
    rows: int
    faults: int


class MendAnswer(BaseModel):
    """One cell written anew, or a row left out (no column)."""

    row: int
    column: str
    old: str
    new: str
    found: str | None = Field(description="What the cell holds where the mend no longer fits; null: it is not there.")


class RememberedAnswer(BaseModel):
    """What was remembered of the version before when a table was brought."""

    before: int = Field(description="The version whose headers, words and mends were remembered.")
    as_it_came: int = Field(description="The version that holds the file itself.")
    mended_again: list[MendAnswer]
    no_longer_fits: list[MendAnswer]


@dataclass(frozen=True, kw_only=True, repr=False)
class CheckAnswer(TableCheck):
    """A table version as it was understood.

    Attributes
    ----------
    table : TableAnswer
        The version.
    headers : dict of str to str
        Each header of the file and the column that it means; empty: unknown.
    remembered : RememberedAnswer or None
        What was remembered when it was brought; only for a newer version of a table.
    """

    table: TableAnswer
    headers: dict[str, str]
    remembered: RememberedAnswer | None


class MendedCell(Asked):
    """What to write into one cell."""

    row: RowNumber
    column: Cell = Field(description="Header as the file spells it.", examples=["condition"])
    value: Cell = Field(examples=["driver"])


class MendAsked(Asked):
    """Mends of one table version; together they make its next version."""

    cells: list[MendedCell] = Field(default_factory=list, max_length=5_000)
    left_out: list[RowNumber] = Field(default_factory=list, max_length=5_000, description="Rows to leave out.")
    confirmed: list[RowNumber] = Field(default_factory=list, max_length=5_000, description="Odd rows that are right.")
    headers: dict[Cell, Cell] = Field(
        default_factory=dict, description="Headers of the file and the column that each means."
    )


@dataclass(frozen=True, kw_only=True, repr=False)
class WaitingAnswer(Dialogue):
    """A table that waits for its owner's answers, as it is understood.

    Attributes
    ----------
    id : str
        Under which it waits.
    """

    id: str


class AnswersAsked(Asked):
    """Answers about a waiting table."""

    sheet: str = Field("", max_length=200, description="Sheet of the workbook; answers and mends begin anew.")
    columns: dict[Cell, Cell] = Field(
        default_factory=dict,
        description="Headers of the file and what each is: one of `meanings`.",
        examples=[{"Shape": "body", "Cond.": "condition"}],
    )
    told: dict[Cell, Cell] = Field(
        default_factory=dict,
        description="By the keys of `questions` and of words, `premium/VENUE`, `currency`; blank takes it back.",
        examples=[{"level/condition/mint": "show", "day_first": "true"}],
    )
    cells: list[MendedCell] = Field(default_factory=list, max_length=5_000)
    left_out: list[RowNumber] = Field(default_factory=list, max_length=5_000, description="Rows to leave out.")
    confirmed: list[RowNumber] = Field(default_factory=list, max_length=5_000, description="Odd rows that are right.")
    take: Literal["", "suggestions", "mends"] = Field(
        "", description="Take every suggested answer as it stood, or make every mend that has one answer."
    )
    undo: bool = Field(False, description="Take the last step of mends back.")


class LevelAnswer(BaseModel):
    """One level of a scale."""

    model_config = ConfigDict(from_attributes=True)

    name: str = Field(examples=["driver"])
    meaning: str = Field(examples=["Used on the road as it is, with wear that shows."])


class AttributeAnswer(BaseModel):
    """One attribute of the schema."""

    model_config = ConfigDict(from_attributes=True)

    name: str = Field(examples=["condition"])
    title: str
    role: str = Field(examples=["ordinal"])
    meaning: str
    unit: str
    required: bool
    missing: str
    direction: str | None
    minimum: float | None
    maximum: float | None
    levels: list[LevelAnswer]
    seen: list[str] = Field(default_factory=list, description="Levels that the table holds, of an open scale.")


class SchemaAnswer(BaseModel):
    """What the columns of a table mean."""

    name: str
    title: str
    currency: str
    fingerprint: str
    attributes: list[AttributeAnswer]
    data: dict[str, Any] = Field(description="The whole schema as plain data.")


class SaleAsked(Asked):
    """A sale to be added, or cells of one to be written anew."""

    cells: dict[Cell, Cell] = Field(
        default_factory=dict,
        description="Texts by the file's headers; for a new sale also by names of the schema.",
        examples=[{"price": "12,500", "date": "2026-05-31", "condition": "driver"}],
    )
    realised: int | None = Field(None, ge=1, description="Number of a realised sale of the ledger, to add that.")
    venue: str = Field("", max_length=200, description="Where the realised sale was made.")


class TableShownAsked(Asked):
    """What a table is called, and whether it is put away; what is left out stays."""

    called: Name | None = Field(None, description="What pages call it from now on.")
    archived: bool | None = Field(None, description="Whether lists leave it out.")


class SetAsideAsked(Asked):
    """Why a sale is not to be counted."""

    reason: str = Field("", max_length=200, description="Blank puts the sale back.", examples=["sold to my brother"])


class ReadCellAnswer(BaseModel):
    """A cell of a new row, and what it was read as."""

    header: str
    written: str
    read: str


class AddedAnswer(BaseModel):
    """A sale that was added to a table."""

    sentence: str
    table: str = Field(description="File name of the table.")
    row: int
    line: str
    cells: list[ReadCellAnswer]
    paid: float
    currency: str
    usable: int
    version: int | None = Field(description="Number of the table version that holds it.")


class SaleFieldAnswer(BaseModel):
    """A column of a table, what the row says there, and what that was read as where it is something else."""

    header: str
    title: str
    says: str
    read: str
    words: list[str]
    faults: list[str]


class OneSaleAnswer(BaseModel):
    """A row of a table."""

    row: int
    usable: bool
    reason: str = Field(description="Why its owner set it aside; empty where he did not.")
    fields: list[SaleFieldAnswer]
    faults: list[str]


class CellChangeAnswer(BaseModel):
    """One cell written anew, or one row left out or added (no column)."""

    row: int
    column: str
    old: str
    new: str
    reason: str


class ChangeAnswer(BaseModel):
    """What one version of a table changed in the one before."""

    id: int
    version: int
    written_at: dt.datetime
    said: str
    changes: list[CellChangeAnswer]
