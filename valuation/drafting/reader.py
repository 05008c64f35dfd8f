"""From a table as its owner keeps it to what it means: each column, each word, and the habits of whole columns."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import numpy.typing as npt

from valuation.comparables.headers import without_brackets
from valuation.comparables.texttable import TextTable
from valuation.comparables.written import understood_price
from valuation.drafting.grades import Word, outcome_scale, placed_words, scale_of, share_placed
from valuation.drafting.habits import common_mark, currencies_of, date_order, distance
from valuation.drafting.header_likeness import EXACT, SHORT, TRADE, WITHIN, likeness, words_of
from valuation.drafting.matching import Match, likeliest_price, match_columns, names_by_target
from valuation.drafting.own_columns import MOST_OWN, figures_of, own_column
from valuation.drafting.price_order import suggested_level, suggested_order
from valuation.drafting.profile import FEW_KINDS, Profile, profiles_of
from valuation.drafting.question import Question
from valuation.drafting.questions import (
    FALLING,
    RISING,
    best_first,
    blank_currency_question,
    date_question,
    outcome_default_question,
    outcome_questions,
    price_question,
    rate_questions,
    scale_questions,
)
from valuation.drafting.trade_words import ASKED, BID_FOR, PAID
from valuation.drafting.understanding import LEFT_OUT, OWN, Column, Sure, Understanding
from valuation.errors import TableError, shortlist
from valuation.schema.attributes import Attribute, Level, Role
from valuation.schema.schema import OUTCOMES, SALE_COLUMNS, Schema
from valuation.text.language import say
from valuation.text.money import read_money
from valuation.text.numbers import finite_number
from valuation.text.reading import Reading
from valuation.text.spelling import header_key

LOOKED_AT = 2_000
"""Rows from which is told whether a column counts the rows or goes with the price; a bound on the time, chosen."""

LONGEST_HEADER = 300
"""Characters of a header that a schema can name; the column of a longer one is left out. Chosen."""


def understand(whole: TextTable, base: Schema, today: dt.date, told: Mapping[str, str] | None = None) -> Understanding:
    """What a table means, as far as it shows, by a schema of the trade.

    Parameters
    ----------
    whole : TextTable
        Rows that are no sales, such as a line of totals, are left aside.
    base : Schema
        Of the trade, such as the default.
    today : date
        For years of two digits.
    told : mapping of str to str, optional
        What its owner answered to earlier questions, by their keys; an empty answer leaves a question open. Under
        ``header/HEADER`` stands what a column is: a column of the sale, an attribute, ``own`` or ``left out``; under
        ``premium/VENUE`` the buyer's premium in percent.

    Raises
    ------
    TableError
        If no column can be the price.
    """
    told = {key: answer for key, answer in (told or {}).items() if answer}
    table = whole.sales_alone()
    profiles = profiles_of(table, dt.date.fromisoformat(base.earliest_sale), today)
    said = _told(told, "header")
    known = _told(told, "column") | {name: header for header, name in said.items() if name not in (OWN, LEFT_OUT)}
    writable = [
        profile
        if _can_be_named(profile.header) and said.get(profile.header) not in (OWN, LEFT_OUT)
        else _emptied(profile)
        for profile in profiles
    ]
    matches = match_columns(writable, base, known)
    guess = "" if any(match.target == "price" for match in matches.values()) else likeliest_price(writable, matches)
    if guess:
        matches = match_columns(writable, base, {**known, "price": guess})
    at = {match.target: place for place, match in matches.items()}
    if "price" not in at:
        raise TableError(
            f"Cannot draft a schema for '{table.name}': no column can be told to be the price. Its headers are "
            f"{shortlist([repr(header[:60]) for header in table.headers])}. Head the column of prices 'price'."
        )
    price = profiles[at["price"]]
    dates = profiles[at["date"]] if "date" in at else None
    counts = currencies_of(table, price, profiles[at["currency"]] if "currency" in at else None)
    currency, others, blanks = _currency(counts, told, base.currency)
    mark = common_mark(price, [p for i, p in enumerate(profiles) if _is_number(matches.get(i), base)], table)
    order = date_order(dates, counts, mark == ",", today)
    if "day_first" in told:
        order = replace(order, day_first=told["day_first"] == "true")
    logs = _log_prices(table, price.header, mark)
    columns = _columns(table, profiles, matches, base, told, logs)
    if guess:
        by = say("being the largest figures left")
        columns = [replace(one, sure="a guess", why=by) if one.name == "price" else one for one in columns]
    columns = _own_columns(table, profiles, columns, logs, said)
    default, open_default = _default_outcome(table, columns, told)
    questions = _questions(table, columns, matches[at["price"]], base, told, logs)
    if guess:
        questions.append(price_question(guess, [], len(table.cells)))
    if open_default:
        questions.append(outcome_default_question(default, len(table.cells)))
    if not order.is_told:
        questions.append(date_question(order))
    if blanks:
        questions.append(blank_currency_question(counts))
    questions += rate_questions(currency or max(counts, key=lambda name: counts[name]), others, told)
    rates = {name: rate for name in others if (rate := _rate(told.get(f"rate/{name}", "")))}
    premiums = {venue: rate for venue, text in _told(told, "premium").items() if (rate := _rate(text))}
    return Understanding(
        table_name=table.name,
        sheet=table.sheet,
        rows=len(table.cells),
        base=base,
        columns=tuple(columns),
        currency=currency,
        other_currencies=others,
        rates=rates if currency else {},
        dates=order,
        decimal_mark=mark,
        default_outcome=default,
        questions=best_first(questions, told),
        told=dict(told),
        notes=table.notes,
        asides=dict(whole.asides),
        premiums=premiums,
    )


def known_somehow(base: Schema) -> Callable[[str], bool]:
    """A test of whether a header looks like one that a table of sales has, in whatever words."""
    names = names_by_target(base).values()

    @cache
    def known(header: str) -> bool:
        return any(likeness(header, one) >= SHORT for one in names)

    return known


def _can_be_named(header: str) -> bool:
    """Whether a schema, which is a text file, can hold a header."""
    return len(header) <= LONGEST_HEADER and header == _as_written(header) and header_key(header) != ""


def _as_written(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8").strip()


def _emptied(profile: Profile) -> Profile:
    return Profile(profile.header, profile.rows, {}, {})


def _is_number(match: Match | None, base: Schema) -> bool:
    return match is not None and match.target in base.names and base.attribute(match.target).role is Role.NUMBER


def _currency(counts: Mapping[str, int], told: Mapping[str, str], usual: str) -> tuple[str, dict[str, int], bool]:
    """The table's currency, rows in others, and whether prices that name none leave it open."""
    named = {name: rows for name, rows in counts.items() if name}
    if not named:
        return told.get("currency") or usual, {}, False
    common = told.get("currency") or max(named, key=lambda name: (name == usual, named[name], name))
    others = {name: rows for name, rows in named.items() if name != common}
    blanks = bool(others and counts.get("") and not told.get("currency") and common != usual)
    return "" if blanks else common, others, blanks


def _rate(text: str) -> float | None:
    try:
        rate = finite_number(read_money(text).amount) if text else None
    except ValueError:
        return None
    return rate if rate and rate > 0 else None


def _log_prices(table: TextTable, header: str, mark: str) -> npt.NDArray[np.float64]:
    reading = Reading(mark=mark)
    known: dict[str, float] = {}
    texts = [str(text).strip() for text in table.cells[header]]
    for text in set(texts):
        price = understood_price(text, reading)
        amount = math.nan if isinstance(price, str) else price[0].amount
        known[text] = math.log(amount) if amount > 0 else math.nan
    return np.asarray([known[text] for text in texts])


def _columns(
    table: TextTable,
    profiles: Sequence[Profile],
    matches: Mapping[int, Match],
    base: Schema,
    told: Mapping[str, str],
    logs: npt.NDArray[np.float64],
) -> list[Column]:
    columns: list[Column] = []
    for place, profile in enumerate(profiles):
        match = matches.get(place)
        if match is None:
            columns.append(Column(profile.header, "left out", "", "certain", ""))
        elif match.target in SALE_COLUMNS:
            words: tuple[Word, ...] = ()
            if match.target == "outcome":
                words = placed_words(profile.counts, outcome_scale(base), _told(told, "outcome"))
            elif match.target == "venue" and len(profile.counts) <= FEW_KINDS:
                words = tuple(Word(text, rows, "") for text, rows in profile.counts.items())
            sure, why = _sure(match), _why(match, profile, told)
            columns.append(Column(profile.header, "sale", match.target, sure, why, words=words))
        else:
            columns.append(_trade_column(profile, match, base.attribute(match.target), told))
            if base.attribute(match.target).role is Role.ORDINAL:
                columns[-1] = _with_order(columns[-1], _prices_by_word(table, profile, logs), told)
    return columns


def _told(told: Mapping[str, str], about: str) -> dict[str, str]:
    return {key.removeprefix(f"{about}/"): text for key, text in told.items() if key.startswith(f"{about}/")}


def _trade_column(profile: Profile, match: Match, attribute: Attribute, told: Mapping[str, str]) -> Column:
    sure, why = _sure(match), _why(match, profile, told)
    if not attribute.levels:
        attribute = distance(attribute, profile)
        return Column(profile.header, "trade", attribute.name, sure, why, attribute)
    said = _told(told, f"level/{attribute.name}")
    by_spelling = len(profile.counts) <= FEW_KINDS
    words = placed_words(profile.counts, scale_of(attribute), said, by_spelling=by_spelling)
    if said or share_placed(words) >= 0.5:
        return Column(profile.header, "trade", attribute.name, sure, why, attribute, words)
    unordered = replace(attribute, role=Role.NOMINAL, levels=(), direction=None, expected=None, missing="average")
    own = tuple(Word(word.word, word.rows, "") for word in words)
    return Column(profile.header, "trade", attribute.name, sure, why, unordered, own, open_scale=True)


def _prices_by_word(table: TextTable, profile: Profile, logs: npt.NDArray[np.float64]) -> dict[str, list[float]]:
    if len(profile.counts) > FEW_KINDS:
        return {}
    found: dict[str, list[float]] = {}
    for text, log in zip(table.cells[profile.header], logs.tolist(), strict=True):
        if log == log:
            found.setdefault(" ".join(str(text).split()), []).append(log)
    return found


def _with_order(column: Column, prices: Mapping[str, list[float]], told: Mapping[str, str]) -> Column:
    """A scale of the owner's own in the order that he agreed to."""
    answer = told.get(f"order/{column.name}", "")
    if not column.open_scale or answer not in (RISING, FALLING) or column.attribute is None:
        return column
    order = _order_of(column, prices)
    if not order:
        return column
    levels = tuple(Level(word) for word in (order if answer == RISING else order[::-1]))
    ordered = replace(column.attribute, role=Role.ORDINAL, levels=levels, direction="up")
    return replace(column, attribute=ordered, open_scale=False,
                   words=tuple(replace(word, level=word.word, how="told") for word in column.words))  # fmt: skip


def _order_of(column: Column, prices: Mapping[str, list[float]]) -> tuple[str, ...]:
    return suggested_order({word.word: word.rows for word in column.words}, prices)


def _levels_suggested(column: Column, prices: Mapping[str, list[float]], base: Schema) -> dict[str, str]:
    """The level that prices suggest for each word of an ordered scale that nothing places."""
    attribute = base.attribute(column.name)
    if column.open_scale or attribute.role is not Role.ORDINAL:
        return {}
    unknown = [word.word for word in column.words if not word.level]
    return {word: suggested_level(word, column.words, attribute.level_names, prices) for word in unknown}


def _sure(match: Match) -> Sure:
    if match.header >= EXACT and match.kind >= 0.8:
        return "certain"
    return "likely" if match.header >= TRADE - 0.1 or match.words >= 0.8 else "a guess"


def _why(match: Match, profile: Profile, told: Mapping[str, str]) -> str:
    if told.get(f"header/{profile.header}") == match.target:
        return say("your answer")
    examples = ", ".join(list(profile.counts)[:2])[:60]
    by_words, by_header = match.words >= 0.5, match.header >= WITHIN
    if by_words and by_header:
        return say("its header and its words ({examples})", examples=examples)
    if by_words:
        return say("its words ({examples})", examples=examples)
    return say("its header") if by_header else say("its values")


def _own_columns(
    table: TextTable,
    profiles: Sequence[Profile],
    columns: Sequence[Column],
    logs: npt.NDArray[np.float64],
    said: Mapping[str, str],
) -> list[Column]:
    """Attributes of the owner's own out of the columns that nothing else was found for."""
    taken = dict.fromkeys((*SALE_COLUMNS, "sale_date", "reason"), "")
    taken.update({column.name: column.header for column in columns if column.name})
    keys = {header_key(column.header) for column in columns if column.name} | {header_key(name) for name in taken}
    found = list(columns)
    by_filled = sorted((i for i, column in enumerate(columns) if not column.name), key=lambda i: -profiles[i].filled)
    own = 0
    for i in by_filled:
        profile, key = profiles[i], header_key(profiles[i].header)
        why, wanted = "", said.get(profile.header) == OWN
        if said.get(profile.header) == LEFT_OUT:
            why = say("your answer")
        elif not _can_be_named(profile.header):
            why = say("its header is too long or has no letters")
        elif key in keys or header_key(without_brackets(profile.header)) in keys:
            why = say("a second column of that name")
        elif own >= MOST_OWN and not wanted:
            why = say("beyond the {n} best filled columns of your own", n=MOST_OWN)
        if not why:
            texts = [str(text).strip() for text in table.cells[profile.header].head(LOOKED_AT)]
            figures = figures_of(texts) if profile.shares.get("number", 0.0) >= 0.5 else np.full(len(texts), np.nan)
            made = own_column(profile, taken, logs[: len(figures)], figures, wanted=wanted)
            if made.attribute is not None:
                own += 1
                taken[made.attribute.name] = profile.header
                keys |= {key, header_key(made.attribute.name)}
                sure: Sure = "certain" if wanted else "a guess"
                found[i] = Column(profile.header, "own", made.attribute.name, sure, made.why, made.attribute)
                continue
            why = made.why
        found[i] = Column(profile.header, "left out", "", "certain", why)
    return found


def _default_outcome(table: TextTable, columns: Sequence[Column], told: Mapping[str, str]) -> tuple[str, bool]:
    """The outcome of every row where no column tells, and whether that is left open."""
    if any(column.name == "outcome" for column in columns):
        return "", False
    if told.get("default_outcome") in OUTCOMES:
        return told["default_outcome"], False
    named = [column.header for column in columns if column.name in ("price", "date")]
    words = {word for text in (*named, table.sheet, table.name) for word in words_of(text)}
    if words & ASKED:
        return "asking", True
    return "sold", not words & PAID


def _questions(
    table: TextTable,
    columns: Sequence[Column],
    price: Match,
    base: Schema,
    told: Mapping[str, str],
    logs: npt.NDArray[np.float64],
) -> list[Question]:
    questions: list[Question] = []
    at = {column.name: column for column in columns if column.name}
    if price.rivals and "column/price" not in told and "premium" not in at:  # which is added to the price alone
        questions.append(price_question(at["price"].header, price.rivals, len(table.cells)))
    headers = {word for header in table.headers for word in words_of(header)}
    unsold = "bid_not_met" if headers & BID_FOR else "asking"
    if "outcome" in at:
        sold_is_known = any(word.level == "sold" for word in at["outcome"].words)
        questions += outcome_questions(at["outcome"].words, unsold if sold_is_known else "")
    for column in columns:
        if column.part == "trade" and column.words:
            profile = Profile(column.header, 0, {word.word: word.rows for word in column.words}, {})
            ordinal = column.open_scale and base.attribute(column.name).role is Role.ORDINAL
            prices = _prices_by_word(table, profile, logs)
            order = _order_of(column, prices) if ordinal else ()
            questions += scale_questions(column, order, _levels_suggested(column, prices, base), told)
    return questions
