"""Which language is spoken here and now, and its catalogue: gettext, chosen for a while by ``spoken``."""

from __future__ import annotations

import gettext
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

DOMAIN = "valuation"
FOLDER = Path(__file__).with_name("languages")
ENGLISH = "en"
"""The language of the templates themselves."""

OF_THE_SCHEMA = "schema"
"""Context in the catalogue of what the schema that ships calls things: its ``show`` is a condition, not a meeting."""

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


def catalogue() -> gettext.NullTranslations:
    """The catalogue of that language; an empty one for English."""
    return _spoken.get()[1]


def templates(language: str) -> list[tuple[str, str]]:
    """The English templates that a catalogue holds: each with its plural, which is empty where there is none.

    Read off the compiled file (GNU gettext manual, "The Format of GNU MO Files"): a table of lengths and offsets.
    """
    content = (FOLDER / language / "LC_MESSAGES" / f"{DOMAIN}.mo").read_bytes()
    count, table = struct.unpack_from("<II", content, 8)
    found = []
    for at in range(table, table + 8 * count, 8):
        length, offset = struct.unpack_from("<II", content, at)
        one, _, many = content[offset : offset + length].decode().partition("\0")
        if one and "\4" not in one:  # what has a context is looked up as it is
            found.append((one, many))
    return found
