"""Own columns: what becomes of the columns that the trade's schema does not know."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.drafting.header_likeness import words_of
from valuation.drafting.profile import LONG_TEXT, Profile
from valuation.drafting.trade_words import COUNT_WORDS, LEFT_OUT, MONEY_WORDS, RIGHT_HAND
from valuation.schema.attributes import Attribute, Role
from valuation.schema.values import YES_WORDS
from valuation.text.language import say, say_count
from valuation.text.numbers import read_number
from valuation.text.spelling import level_key

MOST_OWN = 25
"""Attributes of the owner's own that are taken from a table, the best filled first: more of them than sales would only
widen every range; chosen."""

_MOST_NAME = 40
"""Characters of an attribute's name; chosen, for lines that can be read."""

_LIKE_PRICE = 0.97
"""Correlation of logs from which a column is the price in other words; chosen."""


@dataclass(frozen=True, slots=True)
class Own:
    """An attribute made of a column that the trade does not know, or why there is none.

    Parameters
    ----------
    attribute : Attribute or None
    why : str
        The reason, in a few words.
    """

    attribute: Attribute | None
    why: str


def own_column(
    profile: Profile,
    taken: Mapping[str, str],
    log_prices: npt.NDArray[np.float64],
    figures: npt.NDArray[np.float64],
    *,
    wanted: bool = False,
) -> Own:
    """What becomes of a column that the trade's schema does not know.

    Parameters
    ----------
    profile : Profile
    taken : mapping of str to str
        Names that are used already.
    log_prices : ndarray of float
        Of each row, NaN where there is none; shape (n_rows,).
    figures : ndarray of float
        The column's own numbers by row, NaN where a cell holds none; shape (n_rows,).
    wanted : bool
        Whether its owner said that it is to be kept; then it is refused only where it holds nothing.
    """
    refused = _no_attribute(profile, log_prices, figures)
    if refused and not (wanted and profile.filled):
        return Own(None, refused)
    name = attribute_name(profile.header, taken)
    label = " ".join(profile.header.split())[:80]
    flag, number = profile.shares.get("flag", 0.0), profile.shares.get("number", 0.0)
    words = words_of(profile.header)
    if " ".join(words) in RIGHT_HAND and flag >= 0.9:
        name = "right_hand_drive" if "right_hand_drive" not in taken else name
    if flag >= 0.9 and not (number >= 0.9 and len(profile.counts) > 2):
        yes_alone = all(text.casefold() in YES_WORDS for text in profile.counts)
        missing = "lowest" if yes_alone and profile.filled < profile.rows else "average"
        said = say("a mark for yes; a blank cell is taken for no") if missing == "lowest" else say("yes or no")
        return Own(Attribute(name, Role.FLAG, label=label, missing=missing), said)  # type: ignore[arg-type]
    if number >= 0.9:
        if COUNT_WORDS & set(words) and _are_counts(figures):
            return Own(Attribute(name, Role.COUNT, label=label), say("a count"))
        return Own(Attribute(name, Role.NUMBER, label=label, unit=profile.unit), say("a number"))
    kinds = len({level_key(word) for word in profile.counts})
    return Own(
        Attribute(name, Role.NOMINAL, label=label),
        say_count("words of one kind", "words of {n} kinds, without an order", kinds),
    )


def _no_attribute(profile: Profile, log_prices: npt.NDArray[np.float64], figures: npt.NDArray[np.float64]) -> str:
    """Why a column becomes no attribute; empty when it does."""
    words = words_of(profile.header)
    shares = profile.shares
    if not profile.filled:
        return say("empty")
    if _counts_rows(figures):
        return say("numbers the rows")
    if shares.get("link", 0.0) >= 0.5:
        return say("links")
    if " ".join(words) in LEFT_OUT or profile.length > LONG_TEXT:
        return say("remarks")
    if len({level_key(text) for text in profile.sample}) < 2 and profile.filled == profile.rows:
        return say("says the same in every row")
    money = max(shares.get("money", 0.0), shares.get("percent", 0.0))
    if money >= 0.5 or (MONEY_WORDS & set(words) and shares.get("amount", 0.0) >= 0.5):
        return say("money that is not the price: not known before a sale")
    if shares.get("date", 0.0) >= 0.5 and shares.get("year", 0.0) < 0.5:
        return say("another date")
    if _says_the_price(figures, log_prices):
        return say("goes with the price so closely that it must be the price in other words")
    if shares.get("number", 0.0) >= 0.9 or shares.get("flag", 0.0) >= 0.9:
        return "" if profile.filled >= 0.2 * profile.rows or shares.get("flag", 0.0) >= 0.9 else say("mostly blank")
    if not profile.is_of_few_kinds:
        return (
            "free text"
            if any(" " in text for text in profile.sample)
            else "names or numbers that hardly ever come again"
        )
    return ""


def _are_counts(figures: npt.NDArray[np.float64]) -> bool:
    known = figures[np.isfinite(figures)]
    return bool(len(known) and (known >= 0).all() and (known == np.rint(known)).all())


def _counts_rows(figures: npt.NDArray[np.float64]) -> bool:
    known = figures[np.isfinite(figures)]
    if len(known) < 5 or len(known) < 0.8 * len(figures) or not (known == np.rint(known)).all():
        return False
    return bool((np.diff(known) > 0).mean() > 0.95 and known[-1] - known[0] < 3 * len(known))


def _says_the_price(figures: npt.NDArray[np.float64], log_prices: npt.NDArray[np.float64]) -> bool:
    both = np.isfinite(figures) & np.isfinite(log_prices) & (figures > 0)
    if both.sum() < 8 or np.ptp(figures[both]) == 0 or np.ptp(log_prices[both]) == 0:
        return False
    return bool(np.corrcoef(np.log(figures[both]), log_prices[both])[0, 1] > _LIKE_PRICE)


def attribute_name(header: str, taken: Mapping[str, str]) -> str:
    """A name for an attribute made of a header: its letters and figures, with a number where the name is taken.

    Parameters
    ----------
    header : str
    taken : mapping of str to str
        Names that are used already.

    Examples
    --------
    >>> attribute_name("Bed length (ft)", {}), attribute_name("Date", {"date": ""})
    ('bed_length_ft', 'date_2')
    """
    words = ["".join(character for character in word if character.isalnum()) for word in words_of(header)]
    start = "_".join(filter(None, words))[:_MOST_NAME].strip("_") or "column"
    name, count = start, 1
    while name in taken:
        count += 1
        name = f"{start}_{count}"
    return name


def figures_of(texts: Sequence[str]) -> npt.NDArray[np.float64]:
    """Numbers by row, NaN where a cell holds none."""
    known: dict[str, float] = {}
    for text in set(texts):
        try:
            known[text] = read_number(text)
        except ValueError:
            known[text] = math.nan
    return np.asarray([known[text] for text in texts])
