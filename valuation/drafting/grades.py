"""Grades: which level of a scale a word of the owner's means, and how the words of an outcome are told."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from valuation.drafting.trade_words import LEVELS, OUTCOMES
from valuation.schema.attributes import Attribute
from valuation.schema.schema import OUTCOMES as OUTCOME_NAMES
from valuation.schema.schema import Schema
from valuation.text.spelling import level_key, nearest

How = Literal["schema", "trade", "begins with", "spelling", "told"]

_PIECE = re.compile(r"\s*[,;(/:]|\s[-–—]\s")
"""Where a word ends that a remark follows, as in "driver, needs paint"."""


@dataclass(frozen=True, slots=True)
class Word:
    """A word of the owner's, and what it is taken for.

    Parameters
    ----------
    word : str
        As the cells spell it.
    rows : int
        That hold it.
    level : str
        Of the scale, or an outcome; empty where nothing tells.
    how : str
        Where that is known from: the ``schema``, ``trade`` words, because it ``begins with`` such a word, its
        ``spelling``, or because it was ``told``.
    """

    word: str
    rows: int
    level: str
    how: How | Literal[""] = ""


class Scale:
    """Words by the level that they stand for: the schema's own, then those of the trade.

    Parameters
    ----------
    own : mapping of str to iterable of str
        The schema's words by level.
    trade : mapping of str to iterable of str
        Further words by level; those that the schema has already, and those of levels that it has not, are left out.
    """

    def __init__(self, own: Mapping[str, Iterable[str]], trade: Mapping[str, Iterable[str]]) -> None:
        self._own = {level_key(word): level for level, words in own.items() for word in words}
        self._trade = {level_key(word): level for level, words in trade.items() if level in own for word in words}
        self._spellings = [word for words in own.values() for word in words if len(word) >= 4]

    def place(self, text: str, *, by_spelling: bool = True) -> tuple[str, How | Literal[""]]:
        """The level that a cell's text means and where that is known from; both empty when nothing tells.

        Parameters
        ----------
        text : str
        by_spelling : bool
            Whether a word that is nearly a known one is taken for it.
        """
        key, piece = _spelled(text)
        if found := self._exact(key):
            return found
        if piece != key and (found := self._exact(piece)):
            return found[0], "begins with"
        if by_spelling and len(piece) >= 4 and (close := nearest(piece, self._spellings)):
            return self._own[level_key(close[0])], "spelling"
        return "", ""

    def _exact(self, key: str) -> tuple[str, How] | None:
        if key in self._own:
            return self._own[key], "schema"
        return (self._trade[key], "trade") if key in self._trade else None


@lru_cache(maxsize=10_000)
def _spelled(text: str) -> tuple[str, str]:
    """A word's spelling, and that of its part before a remark: kept, since each word is held against every scale."""
    key = level_key(text)
    return key, _PIECE.split(key, maxsplit=1)[0]


@lru_cache(maxsize=256)
def scale_of(attribute: Attribute) -> Scale:
    """The scale of an attribute with levels."""
    own = {level.name: (level.name, *level.aliases) for level in attribute.levels}
    return Scale(own, LEVELS.get(attribute.name, {}))


def outcome_scale(schema: Schema) -> Scale:
    """The outcomes as a scale."""
    own = {name: (name, *schema.outcome_aliases.get(name, ())) for name in OUTCOME_NAMES}
    return Scale(own, OUTCOMES)


def placed_words(
    counts: Mapping[str, int], scale: Scale, told: Mapping[str, str], *, by_spelling: bool = True
) -> tuple[Word, ...]:
    """Each word of a column with its level.

    Parameters
    ----------
    counts : mapping of str to int
        Rows by cell.
    scale : Scale
    told : mapping of str to str
        Levels by the spelling of words about which the owner was asked.
    by_spelling : bool
        Whether a word that is nearly a known one is taken for it.
    """
    words: list[Word] = []
    for text, rows in counts.items():
        if level := told.get(level_key(text), ""):
            words.append(Word(text, rows, level, "told"))
        else:
            words.append(Word(text, rows, *scale.place(text, by_spelling=by_spelling)))
    return tuple(words)


def share_placed(words: Iterable[Word]) -> float:
    """The share of rows whose word has a level; 0 without rows."""
    found = tuple(words)
    total = sum(word.rows for word in found)
    return sum(word.rows for word in found if word.level) / total if total else 0.0
