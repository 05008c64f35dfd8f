"""What a table of the owner's own means: the schema drafted from it, what is left open, and files to begin with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from valuation.build.plan_template import known_sets, plan_for
from valuation.build.shop_file import SHOP_TEMPLATE
from valuation.comparables.reader import choose_table, from_text_table
from valuation.comparables.reading import Source, frame_table, read_text_tables
from valuation.comparables.sniffing import kind_of
from valuation.comparables.table import Comparables
from valuation.comparables.texttable import TextTable
from valuation.day import day_of
from valuation.drafting.question import Question
from valuation.drafting.questions import MOST_QUESTIONS
from valuation.drafting.reader import known_somehow, understand
from valuation.drafting.schema_text import draft_schema
from valuation.drafting.sentences import habits_of, left_out_of, passed_over_of, taken_for, words_taken
from valuation.drafting.understanding import Understanding
from valuation.errors import TableError
from valuation.files import write_file
from valuation.notes import Note
from valuation.schema.attributes import Role
from valuation.schema.checks import NUMERIC
from valuation.schema.reader import default_schema, parse_schema
from valuation.schema.schema import Schema
from valuation.text.language import say, say_count
from valuation.text.spelling import counted
from valuation.text.toml import toml_text
from valuation.view import View, Viewed


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Draft(Viewed):
    """A table as it was understood, and the schema drafted from it.

    Attributes
    ----------
    source_name, sheet : str
        Of the file; the sheet is empty for other files than workbooks.
    rows, usable : int
        Data rows, and those that can be used as the draft stands.
    answer : str
        That in one sentence.
    taken : mapping of str to tuple of str
        What columns were taken for, in words: under "The sale", "The vehicle" and "Your own".
    words, habits, left_out, passed_over : tuple of str
        What words of the owner's mean, what holds for whole columns, columns that are not used and why, and rows that
        are no sales.
    questions : tuple of Question
        What it is worth to ask, best first: a handful.
    open_questions : int
        All that the table leaves open.
    schema_text, vehicle_text, shop_text, plan_text : str
        TOML files to begin with.
    table_file : str
        The name under which the table is found beside them.
    sheet_named : bool
        Whether the sheet must be named to be read again.
    notes : tuple of Note
        How the file was read.
    """

    source_name: str
    sheet: str
    rows: int
    usable: int
    answer: str
    taken: Mapping[str, tuple[str, ...]]
    words: tuple[str, ...]
    habits: tuple[str, ...]
    left_out: tuple[str, ...]
    passed_over: tuple[str, ...]
    questions: tuple[Question, ...]
    open_questions: int
    schema_text: str
    vehicle_text: str
    shop_text: str
    plan_text: str
    table_file: str
    sheet_named: bool
    notes: tuple[Note, ...]

    @property
    def schema(self) -> Schema:
        """The drafted schema."""
        return parse_schema(self.schema_text)

    def _view(self) -> View:
        rows = [(part, ", ".join(columns)) for part, columns in self.taken.items()]
        asked = [("To be told", question.text) for question in self.questions]
        return View(
            title="Draft",
            facts=(self.answer.removesuffix("."), f"{counted(self.open_questions, 'question')} open"),
            header=("what", "found"),
            rows=[*rows, ("Left out", ", ".join(self.left_out)), *asked],
            notes=self.notes,
        )


def draft(
    source: Source | pd.DataFrame,
    *,
    name: str | None = None,
    sheet: str | None = None,
    told: Mapping[str, str] | None = None,
    today: dt.date | None = None,
) -> Draft:
    """Understand a table of sales from its own headers, values and words, and draft the schema that says so.

    Parameters
    ----------
    source : str, Path, bytes or DataFrame
        The table.
    name : str or None
        File name for messages; by default the path's.
    sheet : str or None
        Sheet of a workbook; by default the one that is understood best.
    told : mapping of str to str, optional
        Answers to the questions of an earlier draft, by their keys; an empty one leaves it open.
    today : date or None
        Later days lie in the future; by default the current day.

    Raises
    ------
    TableError
        If the file is no table, or no column can be the price.

    Examples
    --------
    >>> import valuation as v
    >>> v.draft("data/comparables.csv", today=dt.date(2026, 10, 31)).answer
    'comparables.csv: 182 rows, 170 usable now.'
    """
    day = day_of(today)
    if isinstance(source, str | Path | bytes):
        tables, left_alone = read_text_tables(source, known_somehow(default_schema()), name=name, sheet=sheet)
    else:
        tables, left_alone = [frame_table(source, name or "the data frame")], ()
    table, found = best_understood(tables, default_schema(), lambda _: told or {}, day)
    text = draft_schema(found)
    schema = parse_schema(text)
    read = from_text_table(table, schema, day)
    at = say(", sheet '{sheet}'", sheet=table.sheet) if len(tables) > 1 or left_alone or sheet else ""
    return Draft(
        source_name=table.name,
        sheet=table.sheet,
        rows=read.rows,
        usable=read.n_usable,
        answer=say_count(
            "{name}: {n} row, {usable} usable now.",
            "{name}: {n} rows, {usable} usable now.",
            read.rows,
            name=table.name + at,
            usable=f"{read.n_usable:,}",
        ),
        taken=taken_for(found),
        words=words_taken(found),
        habits=habits_of(found),
        left_out=left_out_of(found),
        passed_over=passed_over_of(found),
        questions=found.questions[:MOST_QUESTIONS],
        open_questions=len(found.questions),
        schema_text=text,
        vehicle_text=_vehicle_text(read),
        shop_text=known_sets(SHOP_TEMPLATE, schema),
        plan_text=plan_for(schema, _newest(read), read.currency),
        table_file=f"comparables.{_kind(source)}",
        sheet_named=bool(at) and _would_be_another(source, schema, table, day),
        notes=table.notes,
    )


def best_understood(
    tables: Sequence[TextTable], base: Schema, told: Callable[[TextTable], Mapping[str, str]], day: dt.date
) -> tuple[TextTable, Understanding]:
    """The table of which most is understood, and how.

    Parameters
    ----------
    tables : sequence of TextTable
        Sheets of a workbook, or the one table of another file.
    base : Schema
        Of the trade.
    told : callable
        The answers that are known of a table, by the keys of questions.
    day : date
        For years of two digits.

    Raises
    ------
    TableError
        The first refusal, where none is understood.
    """
    found: list[tuple[TextTable, Understanding]] = []
    refusals: list[TableError] = []
    for table in tables:
        try:
            found.append((table, understand(table, base, day, told(table))))
        except TableError as refusal:
            refusals.append(refusal)
    if not found:
        raise refusals[0]
    return max(found, key=lambda one: (sum(column.part in ("sale", "trade") for column in one[1].columns), one[1].rows))


def _would_be_another(source: Source | pd.DataFrame, schema: Schema, table: TextTable, day: dt.date) -> bool:
    """Whether the drafted schema would make a reader choose another sheet of the workbook."""
    assert isinstance(source, str | Path | bytes)
    return choose_table(source, schema, name=table.name, today=day).sheet != table.sheet


def _kind(source: Source | pd.DataFrame) -> str:
    if isinstance(source, str | Path):
        source = Path(source).read_bytes()
    return kind_of(source, "the table") if isinstance(source, bytes) else "csv"


def _newest(read: Comparables) -> dict[str, object]:
    """What is known of the vehicle that was sold last, by attribute."""
    if not read.n_usable:
        return {}
    dates = read.sales["date"]
    at = int(dates.fillna(pd.Timestamp.min).to_numpy().argmax())
    known = read.attributes.iloc[at].dropna()
    return {str(name): _value(read.schema.attribute(str(name)).role, value) for name, value in known.items()}


def _value(role: Role, value: Any) -> str | float | bool | dt.date:
    """A value of the typed frame as a vehicle file holds it."""
    if role is Role.FLAG:
        return bool(value)
    if role is Role.DATE:
        return dt.date(value.year, value.month, value.day)
    return float(value) if role in NUMERIC else str(value)


def _vehicle_text(read: Comparables) -> str:
    head = (
        "# The vehicle to be valued, in the words of schema.toml. Leave out what you do not know: the range widens.\n"
        "# To begin with, it is the one that was sold last in your own table. Write that of the vehicle in question.\n"
    )
    return head + toml_text({"name": "the vehicle in question", **_newest(read)})


def start_folder(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files into a folder that has none of them yet.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    files : mapping of str to str or bytes
        Their content by name.

    Raises
    ------
    TableError
        If one of them is there already, or the folder cannot be written to.
    """
    refuse_started(folder, files)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            write_file(folder / name, content, new=True)
    except OSError as error:
        raise TableError(f"Cannot start in {folder}: {error.strerror}. Name another folder.") from error


def refuse_started(folder: Path, names: Collection[str]) -> None:
    """Refuse a folder to begin in that holds files of these names.

    Parameters
    ----------
    folder : Path
    names : collection of str

    Raises
    ------
    TableError
        If one of them is there.
    """
    there = [name for name in names if (folder / name).exists()]
    if there:
        raise TableError(f"Cannot start in {folder}: it has {', '.join(there)} already. Name another folder.")
