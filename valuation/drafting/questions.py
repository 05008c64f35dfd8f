"""Questions: what a table leaves open, in the order of how many rows an answer frees."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from valuation.drafting.grades import Word
from valuation.drafting.habits import DateOrder
from valuation.drafting.question import Choice, Question
from valuation.drafting.understanding import Column
from valuation.schema.schema import OUTCOMES
from valuation.text.language import say, say_count
from valuation.text.spelling import level_key

MOST_QUESTIONS = 6
"""Questions that are put at most; what lies beyond stays open in the schema: chosen, a handful."""

RISING, FALLING, UNORDERED = "rising", "falling", "unordered"
"""Answers about the order of a scale."""


def _outcomes() -> tuple[Choice, ...]:
    said = {
        "sold": say("sold at that price"),
        "bid_not_met": say("the highest bid, and not sold"),
        "asking": say("an asking price, and not sold"),
    }
    return tuple(Choice(name, said[name]) for name in OUTCOMES)


def price_question(header: str, rivals: Sequence[str], rows: int) -> Question:
    """Which of several columns holds the price.

    Parameters
    ----------
    header : str
        That is taken for it.
    rivals : sequence of str
        Others that could be.
    rows : int
    """
    choices = tuple(Choice(name, f"'{name}'") for name in (header, *rivals[:4]))
    return Question("column/price", say("Which column is the price of the sale?"), choices, header, rows)


def outcome_default_question(suggestion: str, rows: int) -> Question:
    """How the prices came about, where no column says so.

    Parameters
    ----------
    suggestion : str
    rows : int
    """
    text = say("No column says how a price came about. What are these prices?")
    return Question("default_outcome", text, _outcomes(), suggestion, rows)


def outcome_questions(words: Iterable[Word], suggestion: str) -> Iterator[Question]:
    """What words of the outcome mean that nothing tells.

    Parameters
    ----------
    words : iterable of Word
    suggestion : str
    """
    for word in words:
        if not word.level:
            text = say_count(
                "What does '{word}' say of a price ({n} row)?",
                "What does '{word}' say of a price ({n} rows)?",
                word.rows,
                word=word.word[:60],
            )
            yield Question(f"outcome/{level_key(word.word)}", text, _outcomes(), suggestion, word.rows)


def scale_questions(
    column: Column, order: Sequence[str], levels: Mapping[str, str], told: Mapping[str, str]
) -> Iterator[Question]:
    """The order of a scale of the owner's own, or the grade of single words.

    Parameters
    ----------
    column : Column
    order : sequence of str
        As the prices suggest it; empty when they cannot.
    levels : mapping of str to str
        The level that prices suggest for single words.
    told : mapping of str to str
    """
    attribute = column.attribute
    if attribute is None or f"order/{column.name}" in told:
        return
    rows = sum(word.rows for word in column.words)
    if column.open_scale and order:
        listed = " < ".join(order)
        text = say(
            "Do the words of '{header}' go from worst to best like this: {order}?",
            header=column.header[:60],
            order=listed,
        )
        orders = (
            Choice(RISING, say("yes, from worst to best")),
            Choice(FALLING, say("the other way round")),
            Choice(UNORDERED, say("they have no order")),
        )
        yield Question(f"order/{column.name}", text, orders, RISING, rows)
    elif attribute.levels and not column.open_scale:
        choices = tuple(Choice(name, name) for name in attribute.level_names)
        for word in column.words:
            key = f"level/{column.name}/{level_key(word.word)}"
            if not word.level and key not in told:
                text = say_count(
                    "Which {attribute} is '{word}' ({n} row)?",
                    "Which {attribute} is '{word}' ({n} rows)?",
                    word.rows,
                    attribute=attribute.title.casefold(),
                    word=word.word[:60],
                )
                yield Question(key, text, choices, levels.get(word.word, ""), word.rows)


def date_question(order: DateOrder) -> Question:
    """Which part of a date comes first, where the column does not tell."""
    text = say("Which comes first in a date such as {example}?", example=order.example)
    choices = (Choice("true", say("the day")), Choice("false", say("the month")))
    return Question("day_first", text, choices, str(order.day_first).lower(), order.either)


def rate_questions(currency: str, others: Mapping[str, int], told: Mapping[str, str]) -> Iterator[Question]:
    """What other currencies are worth.

    Parameters
    ----------
    currency : str
    others : mapping of str to int
        Rows by other currency.
    told : mapping of str to str
    """
    for name, rows in others.items():
        if f"rate/{name}" not in told:
            text = say_count(
                "How many {currency} is one {other} ({n} row)?",
                "How many {currency} is one {other} ({n} rows)?",
                rows,
                currency=currency,
                other=name,
            )
            yield Question(f"rate/{name}", text, (), "", rows)


def blank_currency_question(counts: Mapping[str, int]) -> Question:
    """The currency of prices that name none, where the table holds several.

    Parameters
    ----------
    counts : mapping of str to int
        Rows by currency; under "" those that name none.
    """
    named = sorted((name for name in counts if name), key=lambda name: -counts[name])
    text = say_count(
        "In which currency is the price that names none?",
        "In which currency are the {n} prices that name none?",
        counts[""],
    )
    return Question("currency", text, tuple(Choice(name, name) for name in named), named[0], counts[""])


def best_first(questions: Iterable[Question], told: Mapping[str, str]) -> tuple[Question, ...]:
    """Questions that were not answered yet, those that free most rows first.

    Parameters
    ----------
    questions : iterable of Question
    told : mapping of str to str
        Answers, by what they are about.
    """
    left = [question for question in questions if question.key not in told]
    return tuple(sorted(left, key=lambda question: -question.rows))


def agreed(questions: Iterable[Question]) -> dict[str, str]:
    """The suggested answer to each question that has one."""
    return {question.key: question.suggestion for question in questions if question.suggestion}
