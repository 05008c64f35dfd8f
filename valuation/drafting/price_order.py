"""Price order: what prices suggest of words that nothing else places; a suggestion for a question, never a reading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from valuation.drafting.grades import Word


def suggested_order(counts: Mapping[str, int], prices: Mapping[str, list[float]]) -> tuple[str, ...]:
    """Words of a scale in the order that prices suggest, lowest first; empty where they cannot tell.

    Figures and single letters have an order of their own, of which prices tell the direction; other words are put in
    the order of the medians of their log prices.

    Parameters
    ----------
    counts : mapping of str to int
        Rows by word.
    prices : mapping of str to list of float
        Log prices by word.
    """
    own = _own_order(list(counts))
    if own:
        ranks = [rank for rank, word in enumerate(own) for _ in prices.get(word, ())]
        logs = [log for word in own for log in prices.get(word, ())]
        if len(logs) < _PRICES_IN_ALL or len(set(ranks)) < 2 or len(set(logs)) < 2:
            return ()
        return own if np.corrcoef(ranks, logs)[0, 1] >= 0 else own[::-1]
    if len(counts) < 2 or any(len(prices.get(word, ())) < _PRICES_A_WORD for word in counts):
        return ()
    return tuple(sorted(counts, key=lambda word: (float(np.median(prices[word])), word)))


def _own_order(words: list[str]) -> tuple[str, ...]:
    """Words in the order that figures or letters of the alphabet have of themselves; empty for others."""
    if len(words) >= 2 and all(len(word) == 1 and word.isalpha() for word in words):
        return tuple(sorted(words, key=str.casefold))
    try:
        return tuple(sorted(words, key=lambda word: float(word.replace(",", "."))))
    except ValueError:
        return ()


def suggested_level(word: str, words: Iterable[Word], levels: Sequence[str], prices: Mapping[str, list[float]]) -> str:
    """The level that the prices of a word suggest; empty where they are too few.

    It is the level whose own words were sold at the nearest median of the log prices; where a level that no word was
    found for lies beside it, on the side to which the word's prices lie, it is that one.

    Parameters
    ----------
    word : str
        That nothing places.
    words : iterable of Word
        All of the column.
    levels : sequence of str
        Lowest first.
    prices : mapping of str to list of float
        Log prices by word.
    """
    if len(prices.get(word, ())) < _PRICES_A_WORD:
        return ""
    by_level: dict[str, list[float]] = {}
    for one in words:
        if one.level:
            by_level.setdefault(one.level, []).extend(prices.get(one.word, ()))
    middles = {level: float(np.median(logs)) for level, logs in by_level.items() if len(logs) >= _PRICES_A_WORD}
    found = [middles[level] for level in levels if level in middles]
    if len(found) < 2 or found != sorted(found) or found[-1] - found[0] < _APART:
        return ""  # prices do not tell the levels apart that they could tell of
    own = float(np.median(prices[word]))
    nearest = min(middles, key=lambda level: abs(middles[level] - own))
    beside = levels.index(nearest) + (1 if own > middles[nearest] else -1)
    if 0 <= beside < len(levels) and levels[beside] not in by_level:
        return levels[beside]
    return nearest


_APART = 0.4
"""Logs that the lowest and the highest known level must lie apart, a factor of one and a half; chosen."""

_PRICES_A_WORD, _PRICES_IN_ALL = 3, 8
"""Prices with which one word can be put in an order (the median of fewer is one sale's), and all of a scale that has an
order of its own; chosen."""
