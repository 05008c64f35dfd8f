"""From a waiting table to the talk about it: what each column and word is taken for, what is open, the next thing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from valuation.answers.bringing import Seen, Waiting
from valuation.answers.dialogue import AskedColumn, AskedScale, AskedWord, Dialogue, Step
from valuation.answers.fault_cards import FaultCard, fault_cards, usable_said
from valuation.drafting.known_schema import new_headers
from valuation.drafting.question import Choice, Question
from valuation.drafting.questions import MOST_QUESTIONS, agreed
from valuation.drafting.schema_text import venues_of
from valuation.drafting.sentences import habits_of, passed_over_of
from valuation.drafting.understanding import LEFT_OUT, OWN, Column, Sure, Understanding
from valuation.schema.schema import OUTCOMES, SALE_COLUMNS
from valuation.text.spelling import counted, level_key

if TYPE_CHECKING:
    from valuation.schema.attributes import Attribute
    from valuation.schema.schema import Schema

SAMPLES = 3
"""Cells of a column that are shown."""
MOST_WORDS = 40
"""Words of one scale that are shown; more are no scale. Chosen."""

_SALE = {
    "price": "the price",
    "date": "the day of the sale",
    "outcome": "how it ended: sold, bid or asked",
    "venue": "where it was sold",
    "currency": "the currency",
    "premium": "the buyer's premium",
    "fees": "fees that the buyer paid",
    "source": "where you know it from",
    "sale": "your number of the sale",
    "vehicle": "the vehicle's number",
    "arms_length": "whether it was an open sale",
    "confirmed": "your mark that a row is right",
}
"""Columns of a sale, to follow "is"."""
_OUTCOMES = {"sold": "sold", "bid_not_met": "bid, not sold", "asking": "asked, not sold"}
_IN_WORDS = ("level", "outcome")
"""Kinds of questions that are asked beside their word."""


def talk_about(waiting: Waiting, seen: Seen) -> Dialogue:
    """How the talk about a table stands.

    Parameters
    ----------
    waiting : Waiting
    seen : Seen
        How it is understood by now.
    """
    found, read = seen.found, seen.read
    columns = _columns(waiting, seen)
    scales = tuple(_scales(waiting, found)) if found else ()
    faults = tuple(map(_as_words, fault_cards(read, seen.text))) if read else ()
    questions = found.questions if found else ()
    suggested = agreed(questions)
    asks_currency = bool(found and not found.currency and not found.other_currencies)
    whole = tuple(one for one in questions if one.key.partition("/")[0] not in _IN_WORDS)[:MOST_QUESTIONS]
    usable = read.n_usable if read else 0
    return Dialogue(
        name=waiting.name,
        source_name=waiting.source_name,
        sheet=seen.text.sheet,
        sheets=waiting.sheets,
        rows=len(seen.text.cells),
        usable=usable,
        answer=usable_said(usable, len(seen.text.cells)),
        ready=read is not None,
        why_not=seen.why_not,
        remembered=_remembered(waiting, columns, scales),
        mended_again=_mended_again(waiting),
        no_longer_fit=tuple(_clash(waiting)),
        steps=_steps(columns, scales, whole, faults, read is not None),
        columns=columns,
        meanings=_meanings(waiting.schema),
        scales=scales,
        questions=whole,
        asks_currency=asks_currency or bool(waiting.told.get("currency")),
        currency=found.currency if found else waiting.told.get("currency", ""),
        venues=tuple((venue, _percent(found, venue)) for venue in venues_of(found)) if found else (),
        suggestions=len(suggested),
        sure_mends=sum(group.mends for group in faults if group.how == "one answer"),
        faults=faults,
        mends=len(waiting.mends),
        habits=habits_of(found) if found else (),
        passed_over=passed_over_of(found) if found else (),
        notes=seen.text.notes,
    )


def _as_words(card: FaultCard) -> FaultCard:
    """Words that nothing tells are answered once, and not row by row."""
    if card.code not in ("unknown_level", "unknown_outcome") or card.how != "by hand":
        return card
    return replace(card, rows=(), more=0, todo="Say under Words what they mean; that mends every row at once.")


def _percent(found: Understanding, venue: str) -> str:
    return f"{found.premiums[venue]:g}" if venue in found.premiums else ""


def _columns(waiting: Waiting, seen: Seen) -> tuple[AskedColumn, ...]:
    taken = {one.header: one for one in seen.found.columns} if seen.found else {}
    new = new_headers(seen.text, waiting.schema) if waiting.before else []
    return tuple(
        _column(header, taken.get(header), _samples(seen, header), new=header in new, told=waiting.told)
        for header in seen.text.headers
        if header in taken or not seen.found
    )


def _samples(seen: Seen, header: str) -> tuple[str, ...]:
    texts = seen.text.sales_alone().cells[header].astype(str).str.strip()
    return tuple(text[:40] for text in dict.fromkeys(texts[texts != ""].head(50)))[:SAMPLES]


def _column(
    header: str, column: Column | None, samples: tuple[str, ...], *, new: bool, told: Mapping[str, str]
) -> AskedColumn:
    if column is None:
        return AskedColumn(header, samples, told.get(f"header/{header}", LEFT_OUT), "not known yet", True, new)
    meaning = {"own": OWN, "left out": LEFT_OUT}.get(column.part, column.name)
    is_guess = column.sure == "a guess" and column.part in ("sale", "trade")
    return AskedColumn(header, samples, meaning, _sure(column), is_guess, new)


def _sure(column: Column) -> str:
    if column.part == "own":
        return f"an own column: {column.why}"
    if column.part == "left out":
        return f"left out: {column.why}"
    how: dict[Sure, str] = {"certain": "sure", "likely": "fairly sure", "a guess": "a guess"}
    return f"{how[column.sure]}, by {column.why}"


def _meanings(schema: Schema) -> tuple[Choice, ...]:
    sale = [Choice(name, said) for name, said in _SALE.items() if name in SALE_COLUMNS]
    attributes = [Choice(one.name, f"the {one.title[:1].lower()}{one.title[1:]}") for one in schema.attributes]
    return (*sale, *attributes, Choice(OWN, "an own column, kept"), Choice(LEFT_OUT, "left out"))


def _scales(waiting: Waiting, found: Understanding) -> Iterator[AskedScale]:
    suggested = agreed(found.questions)
    for column in found.columns:
        if column.name == "outcome":
            levels = tuple(Choice(name, _OUTCOMES[name]) for name in OUTCOMES)
            yield _scale(column, "How it ended", levels, "outcome", waiting, suggested, own=False)
        elif column.part == "trade" and column.words and column.attribute is not None:
            attribute = _of_levels(column.attribute, waiting)
            if attribute.levels:
                levels = tuple(Choice(name, name) for name in attribute.level_names)
                own = column.open_scale and not waiting.is_known
                yield _scale(column, attribute.title, levels, f"level/{column.name}", waiting, suggested, own=own)


def _of_levels(attribute: Attribute, waiting: Waiting) -> Attribute:
    """The attribute with the levels that its words can be placed on: those of the trade, where it has none itself."""
    return attribute if attribute.levels else waiting.schema.attribute(attribute.name)


def _scale(
    column: Column,
    title: str,
    levels: tuple[Choice, ...],
    about: str,
    waiting: Waiting,
    suggested: dict[str, str],
    *,
    own: bool,
) -> AskedScale:
    order = [one.value for one in levels]
    words = [
        AskedWord(
            word=one.word,
            key=f"{about}/{level_key(one.word)}",
            rows=one.rows,
            level=one.level,
            why=_how(one.how, own=own),
            suggestion=suggested.get(f"{about}/{level_key(one.word)}", ""),
            new=waiting.before is not None and one.how != "schema",
        )
        for one in column.words[:MOST_WORDS]
    ]
    words.sort(key=lambda one: order.index(one.level) if one.level in order else -1)
    return AskedScale(title, column.header, levels, tuple(words), own)


def _how(how: str, *, own: bool) -> str:
    if own:
        return "your own word"
    return {
        "schema": "known",
        "trade": "a word of the trade",
        "begins with": "by how it begins",
        "spelling": "looks misspelt: see the rows",
        "told": "your answer",
        "": "not known",
    }[how]


def _steps(
    columns: tuple[AskedColumn, ...],
    scales: tuple[AskedScale, ...],
    questions: tuple[Question, ...],
    faults: tuple[FaultCard, ...],
    ready: bool,
) -> tuple[Step, ...]:
    doubtful = sum(one.open for one in columns) + len(questions)
    unknown = sum(not one.level for scale in scales if not scale.own for one in scale.words)
    open_faults = [one for one in faults if one.how in ("one answer", "ask") or (one.frees and one.how == "by hand")]
    in_rows = sum(one.frees for one in open_faults)
    if not ready:
        return (
            Step("columns", "say which column is the price", False),
            Step("words", "when the columns are known", False),
            Step("rows", "when the columns are known", False),
        )
    n_words = sum(len(scale.words) for scale in scales)
    return (
        Step("columns", _so(doubtful, f"{counted(len(columns), 'column')} read right", "to look at"), not doubtful),
        Step("words", _so(unknown, f"{counted(n_words, 'word')} read right", "not known"), not unknown),
        Step("rows", _rows_said(in_rows, open_faults), not open_faults),
    )


def _so(open_ones: int, right: str, what: str) -> str:
    return f"{open_ones} {what}" if open_ones else right


def _rows_said(rows: int, faults: list[FaultCard]) -> str:
    if not faults:
        return "every row reads right"
    causes = counted(len(faults), "cause")
    return f"{counted(rows, 'row')} set aside, {causes}" if rows else f"{counted(len(faults), 'thing')} to look at"


def _remembered(waiting: Waiting, columns: Iterable[AskedColumn], scales: Iterable[AskedScale]) -> str:
    before = waiting.before
    if before is None:
        return ""
    new_columns = sum(one.new for one in columns)
    new_words = sum(one.new for scale in scales for one in scale.words)
    new = [counted(n, what) for n, what in ((new_columns, "new column"), (new_words, "new word")) if n]
    said = f"Read as last time, by version {before.version} of {_day(before.written_at)}"
    return f"{said}: {' and '.join(new) or 'nothing is new'}."


def _mended_again(waiting: Waiting) -> str:
    n = len(waiting.remembered)
    return f"{counted(n, 'mend')} of that version {'was' if n == 1 else 'were'} made again." if n else ""


def _day(when: dt.datetime) -> str:
    return f"{when.day} {when:%B %Y}"


def _clash(waiting: Waiting) -> Iterator[str]:
    for one in waiting.clashes:
        mend = one.mend
        what = f"{mend.column}: {mend.old or 'blank'} to {mend.new or 'blank'}"
        now = "the file has no such row any more" if one.found is None else f"now {one.found or 'blank'}"
        yield f"row {mend.row}, {what}; {now}"
