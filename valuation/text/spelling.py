"""Spelling: when two words are the same word, and which known word an unknown one was probably meant to be."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache

_SPACES = re.compile(r"[\s_]+")
_TELLING = frozenset("?+-/~<>±=&")
"""Signs that may tell two words apart, or say that the writer was not sure."""
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


@lru_cache(maxsize=4096)
def header_key(text: str) -> str:
    """A header's spelling without case, spaces and punctuation; a percent sign counts as the word.

    A header that is the sign of a currency alone, such as ``$``, is spelled by it.

    Examples
    --------
    >>> header_key("Model Year") == header_key("model_year")
    True
    """
    folded = unicodedata.normalize("NFKC", text).casefold().replace("%", "percent")
    key = "".join(character for character in folded if character.isalnum())
    return key or "".join(character for character in folded if unicodedata.category(character) == "Sc")


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


def one_meant(word: str, names: Mapping[str, str]) -> str:
    """The one name that a word can only be a slip of; empty when there is none, or a second that is about as near.

    The word and a spelling of the name differ in punctuation and accents only, or they begin with the same letter,
    hold the same digits, and differ by one letter (two in words of eight letters or more). So ``unsold`` is never
    ``sold``, and ``A-`` is never ``A``. The bounds are chosen.

    Parameters
    ----------
    word : str
    names : mapping of str to str
        What each accepted spelling stands for.

    Examples
    --------
    >>> grades = {"driver": "driver", "roadworthy": "driver", "show": "show"}
    >>> one_meant("drvier", grades), one_meant("Show.", grades), one_meant("diver or show", grades)
    ('driver', 'show', '')
    """
    key = level_key(word)
    bare = _bare(key)
    keys = [(level_key(spelling), name) for spelling, name in names.items()]
    alike = {name for spelling, name in keys if bare and bare == _bare(spelling)}
    if alike:
        return alike.pop() if len(alike) == 1 else ""
    apart: dict[str, int] = {}
    near: dict[str, int] = {}
    for spelling, name in keys:
        slips = letters_apart(key, spelling)
        apart[name] = min(slips, apart.get(name, slips))
        if slips <= _slips_allowed(key, spelling):
            near[name] = min(slips, near.get(name, slips))
    best = min(near, key=near.__getitem__, default="")
    rivals = [name for name, slips in apart.items() if name != best and best and slips <= near[best] + 1]
    return "" if rivals else best


def _bare(key: str) -> str:
    """A spelling's letters and digits, without accents; empty where a sign stands that may tell words apart."""
    if _TELLING & set(key):
        return ""
    return "".join(character for character in unicodedata.normalize("NFKD", key) if character.isalnum())


def _slips_allowed(word: str, spelling: str) -> int:
    digits = [re.sub(r"\D", "", text) for text in (word, spelling)]
    shorter = min(len(word), len(spelling))
    if shorter < 4 or word[0] != spelling[0] or digits[0] != digits[1] or _TELLING & set(word):
        return -1
    return 1 if shorter < 8 else 2


def letters_apart(first: str, second: str) -> int:
    """Letters to insert, delete, change, or swap with their neighbour, to make one word the other; 4 for any more.

    Parameters
    ----------
    first, second : str

    References
    ----------
    F. J. Damerau, "A technique for computer detection and correction of spelling errors", 1964.

    Examples
    --------
    >>> letters_apart("drvier", "driver"), letters_apart("sold", "unsold")
    (1, 2)
    """
    if abs(len(first) - len(second)) > 3:
        return 4
    before: list[int] = []
    row = list(range(len(second) + 1))
    for i, a in enumerate(first):
        last, before, row = before, row, [i + 1]
        for j, b in enumerate(second):
            steps = min(before[j + 1] + 1, row[j] + 1, before[j] + (a != b))
            if i and j and a == second[j - 1] and b == first[i - 1]:
                steps = min(steps, last[j - 1] + 1)
            row.append(steps)
    return min(row[-1], 4)


def shortens(word: str, whole: str) -> bool:
    """Whether a word is another one, cut short, or without some of its letters.

    Parameters
    ----------
    word, whole : str
        In lower case.

    Examples
    --------
    >>> shortens("cond", "condition"), shortens("yr", "year"), shortens("swap", "shape")
    (True, True, False)
    """
    if word == whole:
        return True
    if len(word) < 2 or len(word) >= len(whole) or not word.isalpha() or word[0] != whole[0]:
        return False
    if whole.startswith(word):
        return len(word) >= 3
    # Vowels are what people leave out, so the letters left must hold every consonant but the last.
    letters = iter(whole)
    if not all(letter in letters for letter in word):
        return False
    consonants = [letter for letter in whole if letter not in "aeiou"]
    return sum(letter not in "aeiou" for letter in word) >= max(len(consonants) - 1, 2)


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
