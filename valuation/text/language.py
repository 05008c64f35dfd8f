"""The language that answers are said in: gettext over a template, then its figures filled in.

English unless a face chooses another: the command line does for what it prints to people (``VALUATION_LANGUAGE``).
Records, JSON and the desk stay in English, so that a stored answer can be made again and compared.
"""

from __future__ import annotations

import datetime as dt
import gettext
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from valuation.text.locale import LOCALES

DOMAIN = "valuation"
FOLDER = Path(__file__).with_name("languages")
ENGLISH = "en"
"""The language of the templates themselves."""

_FIGURE = re.compile(r"[+-]?\d{1,3}(?:,\d{3})*(?:\.\d+)?(?: ?%)?")
"""A figure as it is written in English; a year or a name of a sale is none."""

_spoken: ContextVar[tuple[str, gettext.NullTranslations]] = ContextVar(
    "spoken", default=(ENGLISH, gettext.NullTranslations())
)


class Said(str):
    """A text that is written for its reader already: a figure in it is not taken for an English one again."""

    __slots__ = ()


def languages() -> tuple[str, ...]:
    """Languages that there is a catalogue for, English first."""
    return ENGLISH, *sorted(path.parents[1].name for path in FOLDER.glob(f"*/LC_MESSAGES/{DOMAIN}.mo"))


@contextmanager
def spoken(language: str) -> Iterator[None]:
    """Say what is said within in one of ``languages()``.

    Raises
    ------
    ValueError
        If there is no catalogue for it.
    """
    english = language == ENGLISH
    if not english and language not in languages():
        raise ValueError(f"there is no catalogue for {language!r}, only for {', '.join(languages())}")
    found = gettext.NullTranslations() if english else gettext.translation(DOMAIN, FOLDER, [language])
    token = _spoken.set((language, found))
    try:
        yield
    finally:
        _spoken.reset(token)


def language() -> str:
    """The language in which answers are said here and now."""
    return _spoken.get()[0]


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
    return _filled(template, _spoken.get()[1].gettext(template), values)


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
    return _filled(one if n == 1 else many, _spoken.get()[1].ngettext(one, many, n), {"n": f"{n:,}", **values})


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


def _months() -> tuple[str, ...]:
    return (
        say("January"), say("February"), say("March"), say("April"), say("May"), say("June"), say("July"),
        say("August"), say("September"), say("October"), say("November"), say("December"),
    )  # fmt: skip
