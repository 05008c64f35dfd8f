"""Header likeness: how surely a header is the name of a column, by its spelling alone."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from valuation.comparables.headers import without_brackets
from valuation.drafting.trade_words import KILOMETRE_WORDS, MILE_WORDS
from valuation.text.spelling import header_key, shortens

EXACT, TRADE, SHORT, SPELLED, WITHIN = 1.0, 0.9, 0.8, 0.7, 0.5
"""How much a header says that is one of the schema's, one of the trade's, an abbreviation, misspelt, or holds such a
word among others: chosen, in the order of how often each would mislead."""

_WORDS = re.compile(r"[\w']+|[$€£#]")
_UNIT_WORDS = frozenset({*MILE_WORDS, *KILOMETRE_WORDS, "usd", "eur", "gbp", "$", "€", "£", "in", "the", "of"})


@dataclass(frozen=True, slots=True)
class Names:
    """The names that a column goes by.

    Parameters
    ----------
    own : iterable of str
        In the schema.
    trade : iterable of str
        In the trade.
    weak : iterable of str
        Names that it goes by where no other column has a better one.
    """

    own: Iterable[str]
    trade: Iterable[str]
    weak: Iterable[str] = ()
    keys: dict[str, float] = field(init=False)
    phrases: tuple[tuple[str, ...], ...] = field(init=False)

    def __post_init__(self) -> None:
        keys = {header_key(name): SHORT for name in self.weak}
        keys.update({header_key(name): TRADE for name in self.trade})
        keys.update({header_key(name): EXACT for name in self.own})
        phrases = {tuple(words_of(name)) for name in (*self.own, *self.trade, *self.weak)}
        object.__setattr__(self, "keys", keys)
        object.__setattr__(self, "phrases", tuple(sorted(phrase for phrase in phrases if phrase)))


def words_of(header: str) -> list[str]:
    """The words of a header, in lower case.

    Examples
    --------
    >>> words_of("Engine/gearbox"), words_of("sale_date"), words_of("ModelYear")
    (['engine', 'gearbox'], ['sale', 'date'], ['model', 'year'])
    """
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", unicodedata.normalize("NFKC", header[:200]))
    return _WORDS.findall(spaced.casefold().replace("_", " "))


def likeness(header: str, names: Names) -> float:
    """How surely a header is one of the names, from 0 to 1.

    Parameters
    ----------
    header : str
    names : Names

    Examples
    --------
    >>> year = Names(["model_year", "year"], [])
    >>> [likeness(text, year) for text in ("Year", "Mod. year", "Yr", "Model yeaar", "Sold in year", "Colour")]
    [1.0, 0.8, 0.8, 0.7, 0.5, 0.0]
    """
    keys, words = _spelled(header)
    for key in keys:
        if (found := names.keys.get(key)) is not None:
            return found
    if not words:
        return 0.0
    key = keys[-1]
    if any(_is_short_for(words, phrase) for phrase in names.phrases):
        return SHORT
    if len(key) >= 5 and any(_nearly(key, known) for known in names.keys):
        return SPELLED
    held = set(words)
    return WITHIN if any(held.issuperset(phrase) and len("".join(phrase)) >= 3 for phrase in names.phrases) else 0.0


@lru_cache(maxsize=1_000)
def _spelled(header: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The spellings of a header, and its words without units; kept, since all names are held against it."""
    bare = without_brackets(header)
    words = tuple(word for word in words_of(bare) if word not in _UNIT_WORDS)
    return (header_key(header), header_key(bare), *(["".join(words)] if words else [])), words


def _is_short_for(words: tuple[str, ...], phrase: tuple[str, ...]) -> bool:
    return len(words) == len(phrase) and words != phrase and all(map(shortens, words, phrase))


def _nearly(key: str, known: str) -> bool:
    if not known or known[0] != key[0] or abs(len(known) - len(key)) > 2 or len(known) < 5:
        return False
    return difflib.SequenceMatcher(None, key, known).ratio() >= 0.84
