"""The language that answers are said in: gettext over a template, then its figures filled in.

English unless a face chooses another: the command line does for what it prints to people (``VALUATION_LANGUAGE``).
Records, JSON and the desk stay in English, so that a stored answer can be made again and compared.
"""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from string import Formatter

from valuation.text.dates import DAY_IN_WORDS, MONTHS
from valuation.text.locale import HARD, LOCALES
from valuation.text.spoken import (
    DOMAIN,
    ENGLISH,
    FOLDER,
    OF_THE_SCHEMA,
    Said,
    catalogue,
    language,
    languages,
    spoken,
    templates,
)

__all__ = [
    "DOMAIN", "ENGLISH", "FOLDER", "OF_THE_SCHEMA", "Said", "english", "english_day", "language", "languages",
    "on_day", "retold", "say", "say_count", "spoken", "written",
]  # fmt: skip

_FIGURE = re.compile(r"[+-]?\d{1,3}(?:,\d{3})*(?:\.\d+)?(?: ?%)?")
"""A figure as it is written in English; a year or a name of a sale is none."""


def say(template: str, /, **values: object) -> str:
    """The template in the chosen language, with its values filled in.

    Parameters
    ----------
    template : str
        English, a literal where it is called, so that the catalogue finds it; values in braces.
    **values : object
        Filled in by ``str.format``. Days and figures are written as the language of the sentence writes them.

    Examples
    --------
    >>> say("Pay no more than {most} before {day}.", most="13,700", day=dt.date(2027, 6, 14))
    'Pay no more than 13,700 before 14 June 2027.'
    """
    return _filled(template, catalogue().gettext(template), values)


def english(template: str, /, **values: object) -> str:
    """A text that is kept, in English whatever is spoken: the catalogue holds its template, and ``retold`` says it.

    Parameters
    ----------
    template : str
        A literal where it is called, so that the catalogue finds it.
    **values : object
        Filled in by ``str.format``, days in words.

    Examples
    --------
    >>> english("There are only {sold} sales to go by.", sold=9)
    'There are only 9 sales to go by.'
    """
    return template.format(
        **{name: english_day(value) if isinstance(value, dt.date) else value for name, value in values.items()}
    )


def say_count(one: str, many: str, n: int, /, **values: object) -> str:
    """A sentence on so many things, in the form that the chosen language has for that number.

    Parameters
    ----------
    one, many : str
        English templates, literals where it is called; ``{n}`` is the number.
    n : int
    **values : object
        As for ``say``.

    Examples
    --------
    >>> say_count("{n} sale", "{n} sales", 1), say_count("{n} sale", "{n} sales", 1_200)
    ('1 sale', '1,200 sales')
    """
    return _filled(one if n == 1 else many, catalogue().ngettext(one, many, n), {"n": f"{n:,}", **values})


def _filled(template: str, translated: str, values: dict[str, object]) -> str:
    """A sentence that no catalogue holds stays English, its figures too: 1.390 would be read as one and a bit."""
    if translated == template and language() != ENGLISH:
        with spoken(ENGLISH):
            return Said(template.format(**{name: written(value) for name, value in values.items()}))
    return Said(translated.format(**{name: written(value) for name, value in values.items()}))


def written(value: object) -> str:
    """A value as the chosen language writes it: a day in words, a figure with its marks, all else as it is.

    Parameters
    ----------
    value : object

    Examples
    --------
    >>> with spoken("de"):
    ...     written("13,700.50"), written(dt.date(2027, 3, 14)), written("2024-091"), written("1952")
    ('13.700,50', '14. März 2027', '2024-091', '1952')
    """
    if isinstance(value, dt.date):
        return say("{day} {month} {year}", day=str(value.day), month=_months()[value.month - 1], year=str(value.year))
    text = str(value)
    if isinstance(value, Said) or language() == ENGLISH or not _FIGURE.fullmatch(text):
        return text
    here = next((one for name, one in LOCALES.items() if name.startswith(f"{language()}-")), LOCALES["international"])
    return Said(text.translate({ord(","): here.thousands, ord("."): here.decimal}))


def on_day(day: dt.date) -> str:
    """A day as people write it in the language of the answer, its parts kept on one line."""
    return written(day).replace(" ", HARD)


def english_day(day: dt.date) -> str:
    """A day as people write it in a text that is kept, in English whatever is spoken."""
    with spoken(ENGLISH):
        return written(day)


def _months() -> tuple[str, ...]:
    return (
        say("January"), say("February"), say("March"), say("April"), say("May"), say("June"), say("July"),
        say("August"), say("September"), say("October"), say("November"), say("December"),
    )  # fmt: skip


LEAST_WORDS = 8
"""Letters of its own that a template must have to be recognised in a text; a bare ``{low} to {high}`` fits anything."""


def retold(text: str) -> str:
    """An English text that was said before, such as one of a record, in the language that is spoken now.

    It is recognised by the catalogue's templates, as a whole or sentence by sentence; what none fits stays as it is.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> with spoken("de"):
    ...     str(retold("Not told, so counted: 30 USD."))
    'Nicht angegeben und daher angenommen: 30 USD.'
    """
    if language() == ENGLISH or not text:
        return text
    exact = _exact(text)
    if exact is not None:
        return exact
    whole = _told_again(text)
    if whole is not None:
        return whole
    sentences = _SENTENCE_END.split(text)
    if len(sentences) == 1:
        return text
    return " ".join(found if (found := _told_again(one)) is not None else one for one in sentences)


def _exact(text: str) -> str | None:
    """A text that the catalogue holds as it is, first what the schema that ships calls things."""
    found = (catalogue().pgettext(OF_THE_SCHEMA, text), catalogue().gettext(text))
    return next((one for one in found if one != text), None)


def _value(text: str) -> Said:
    """What stands in a hole of a template: a day, a figure, a text of its own, or a title with what follows it."""
    if _ISO_DAY.fullmatch(text):
        return Said(written(dt.date.fromisoformat(text)))
    if (day := DAY_IN_WORDS.fullmatch(text)) is not None:
        return Said(written(dt.date(int(day[3]), MONTHS.index(day[2]) + 1, int(day[1]))))
    told = retold(text)
    if told != text:
        return Said(told)
    words = text.split(" ")
    for count in range(len(words) - 1, 0, -1):
        title = _exact(" ".join(words[:count]))
        if title is not None:
            return Said(f"{title} {_value(' '.join(words[count:]))}")
    return Said(written(text))


_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_SENTENCE_END = re.compile(r"(?<=[.:;]) (?=[A-Z])")


def _told_again(text: str) -> str | None:
    for pattern, one, many in _patterns(language()):
        found = pattern.fullmatch(text)
        if found is None:
            continue
        values = {name: _value(value) for name, value in found.groupdict().items()}
        if not many:
            return catalogue().gettext(one).format(**values)
        count = int(found.group("n").replace(",", "")) if "n" in found.groupdict() else 1
        return catalogue().ngettext(one, many, count).format(**{"n": written(f"{count:,}"), **values})
    return None


@cache
def _patterns(name: str) -> tuple[tuple[re.Pattern[str], str, str], ...]:
    """Each template of a catalogue as a pattern, the wordiest first, with its singular and plural."""
    found = []
    for one, many in templates(name):
        for template in filter(None, (one, many)):
            parts = list(Formatter().parse(template))
            letters = sum(len(literal) for literal, *_ in parts)
            if letters >= LEAST_WORDS:
                found.append((letters, re.compile(_as_pattern(parts)), one, many))
    return tuple((pattern, one, many) for _, pattern, one, many in sorted(found, key=lambda entry: -entry[0]))


def _as_pattern(parts: list[tuple[str, str | None, str | None, str | None]]) -> str:
    pattern, met = "", set()
    for literal, name, *_ in parts:
        pattern += re.escape(literal)
        if name:
            pattern += f"(?P={name})" if name in met else f"(?P<{name}>.+?)"
            met.add(name)
    return pattern
