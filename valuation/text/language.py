"""The language that answers are said in: gettext over a template, then its figures filled in.

English unless a face chooses another: the command line does for what it prints to people (``VALUATION_LANGUAGE``).
Records, JSON and the desk stay in English, so that a stored answer can be made again and compared.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

DOMAIN = "valuation"
FOLDER = Path(__file__).with_name("languages")
ENGLISH = "en"
"""The language of the templates themselves."""

_spoken: ContextVar[tuple[str, gettext.NullTranslations]] = ContextVar(
    "spoken", default=(ENGLISH, gettext.NullTranslations())
)


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
    if language not in languages():
        raise ValueError(f"there is no catalogue for {language!r}, only for {', '.join(languages())}")
    english = language == ENGLISH
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
        Filled in by ``str.format``; figures come as text, written for the reader.

    Examples
    --------
    >>> say("Pay no more than {most}.", most="13,700")
    'Pay no more than 13,700.'
    """
    return _spoken.get()[1].gettext(template).format(**values)


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
    return _spoken.get()[1].ngettext(one, many, n).format(n=f"{n:,}", **values)
