"""Spelling: when two words are the same word, and which known word an unknown one was probably meant to be."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable

_SPACES = re.compile(r"[\s_]+")
_INNER_HYPHEN = re.compile(r"(?<=\w)-(?=\w)")


def level_key(text: str) -> str:
    """A level's spelling without what people vary: case, outer and doubled spaces, underscores, inner hyphens.

    Other characters stay, so that ``A`` and ``A-`` remain two levels.

    Examples
    --------
    >>> level_key(" Show_Finish ") == level_key("show-finish")
    True
    >>> level_key("A-") == level_key("A")
    False
    """
    folded = unicodedata.normalize("NFKC", text).casefold().replace("’", "'")
    return _SPACES.sub(" ", _INNER_HYPHEN.sub(" ", folded)).strip()


def header_key(text: str) -> str:
    """A header's spelling without case, spaces and punctuation; a percent sign counts as the word.

    Examples
    --------
    >>> header_key("Model Year") == header_key("model_year")
    True
    """
    folded = unicodedata.normalize("NFKC", text).casefold().replace("%", "percent")
    return "".join(character for character in folded if character.isalnum())


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun, in the plural where it needs one.

    Parameters
    ----------
    number : int
    one : str
        The noun for one.
    many : str
        The noun for more; ``one`` with an s unless given.

    Examples
    --------
    >>> counted(1, "date"), counted(1200, "date")
    ('1 date', '1,200 dates')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def nearest(word: str, known: Iterable[str], limit: int = 1) -> list[str]:
    """The known words that look most like ``word``, best first; empty when none is close.

    Parameters
    ----------
    word : str
    known : iterable of str
        Words to choose from.
    limit : int
        How many to give at most.

    Examples
    --------
    >>> nearest("drivr", ["derelict", "driver", "show"])
    ['driver']
    """
    by_key: dict[str, str] = {}
    for name in known:
        by_key.setdefault(level_key(name), name)
    matches = difflib.get_close_matches(level_key(word), list(by_key), n=limit)
    return [by_key[match] for match in matches]


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The question `` Did you mean 'x'?`` with a leading space; empty when no known word is close.

    Parameters
    ----------
    word : str
    known : iterable of str
        Words to choose from.
    """
    close = nearest(word, known)
    return f" Did you mean '{close[0]}'?" if close else ""
