"""Matching: which column of a table is which column of a sale or attribute of the trade, all of them weighed together.

Each pair of a column and what it could be gets points: for its header, for the words in its cells, and for the kind of
value. What the cells cannot be is ruled out, whatever the header says. The pairs are then chosen so that the sum of all
points is largest and nothing is given twice (the assignment problem: Kuhn, 1955, The Hungarian method). A rule that
went column by column would depend on their order: "Shape" would take the condition before "Cond." came.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from valuation.comparables.written import understood_number
from valuation.drafting.grades import Scale, outcome_scale, placed_words, scale_of, share_placed
from valuation.drafting.header_likeness import EXACT, TRADE, Names, likeness
from valuation.drafting.profile import FEW_KINDS, LONG_TEXT, Profile
from valuation.drafting.trade_words import HEADERS, KINDS, WEAK_HEADERS
from valuation.schema.attributes import Attribute, Role
from valuation.schema.checks import NUMERIC
from valuation.schema.schema import SALE_COLUMNS, Schema
from valuation.schema.values import CellFault
from valuation.text.money import is_currency
from valuation.text.reading import Reading

WORDS, KIND = 1.2, 0.2
"""Points for cells whose words are all known, and for values of the right kind, beside 1 for a header of the schema:
chosen, so that words go before a header that contradicts them ("Shape" over pickup, sedan) and kinds settle ties."""

LEAST = 0.6
"""Points under which a column is not taken for anything: more than a word within a header (0.5) brings; chosen."""

MOST = 0.5
"""Share of the filled rows that must be values of the right kind for a column to be taken for it; chosen, low, since
untidy tables are what this is for."""

_TELLING = 0.6
"""Share of the rows with known words from which a column shows by its words alone what it is; chosen."""

_BY_WORDS = 0.8
"""The same, where the header says nothing."""


_SHOWN_BY_VALUES = {"date": "date", "price": "money", "model_year": "year"}
"""What values show without a header, and by which kind: few tables have a second column of dates, money or years."""

_NOT_SOLD = {"no": "asking", "n": "asking"}
"""Words that say that it was not sold, one way or the other."""


@dataclass(frozen=True, slots=True)
class Match:
    """What a column was taken for.

    Parameters
    ----------
    target : str
        A column of the sale or an attribute's name.
    points : float
    header : float
        Likeness of the header, from 0 to 1.
    words : float
        Share of the rows whose word is known; 0 where words do not matter.
    kind : float
        Share of the filled rows that hold the right kind of value.
    rivals : tuple of str
        Headers of other columns that could be this as well, by points close to these.
    """

    target: str
    points: float
    header: float
    words: float
    kind: float
    rivals: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Pair:
    points: float
    header: float
    words: float
    kind: float


def match_columns(profiles: Sequence[Profile], base: Schema, told: Mapping[str, str]) -> dict[int, Match]:
    """What each column is taken for, by its place; columns that nothing is known of are left out.

    Parameters
    ----------
    profiles : sequence of Profile
    base : Schema
        The trade's.
    told : mapping of str to str
        The header that the owner named for a target.
    """
    targets = [*SALE_COLUMNS, *base.names]
    pairs = _all_pairs(profiles, base, targets)
    for at, target in enumerate(targets):
        if header := told.get(target):
            for place, profile in enumerate(profiles):
                named = profile.header == header
                pairs[place][at] = _Pair(10.0, 1.0, 0.0, 1.0) if named else None  # outweighs whatever else it could be
    points = np.array([[pair.points if pair else 0.0 for pair in row] for row in pairs])
    points[points < LEAST] = 0.0
    from scipy.optimize import linear_sum_assignment

    found: dict[int, Match] = {}
    chosen, given = linear_sum_assignment(points, maximize=True)
    for place, at in zip(chosen.tolist(), given.tolist(), strict=True):
        pair = pairs[place][at]
        if pair is not None and points[place, at] > 0:
            close = points[:, at] >= pair.points - 0.25  # a quarter of what a header brings; chosen
            rivals = tuple(profiles[i].header for i in np.flatnonzero(close).tolist() if i != place)
            found[place] = Match(targets[at], pair.points, pair.header, pair.words, pair.kind, rivals)
    return found


def _all_pairs(profiles: Sequence[Profile], base: Schema, targets: Sequence[str]) -> list[list[_Pair | None]]:
    attributes = {attribute.name: attribute for attribute in base.attributes}
    names = names_by_target(base)
    outcomes = outcome_scale(base)
    rows: list[list[_Pair | None]] = []
    for profile in profiles:
        if not profile.filled:
            rows.append([None] * len(targets))
            continue
        words = {name: _words(profile, one) for name, one in attributes.items() if one.levels or name in KINDS}
        if len(profile.counts) <= FEW_KINDS:
            words["outcome"] = share_placed(placed_words(profile.counts, outcomes, _NOT_SOLD, by_spelling=False))
        rows.append([_pair(profile, target, attributes.get(target), names[target], words) for target in targets])
    return rows


def names_by_target(base: Schema) -> dict[str, Names]:
    """The names that each column of the sale and each attribute goes by, in the schema and in the trade."""
    own = {column: base.sale_aliases.get(column, ()) for column in SALE_COLUMNS}
    own.update({attribute.name: attribute.aliases for attribute in base.attributes})
    return {
        target: Names((target, *aliases), HEADERS.get(target, ()), WEAK_HEADERS.get(target, ()))
        for target, aliases in own.items()
    }


def _words(profile: Profile, attribute: Attribute) -> float:
    """The share of rows whose word belongs to an attribute."""
    if profile.length > LONG_TEXT:
        return 0.0
    if attribute.levels:
        return share_placed(placed_words(profile.sample, scale_of(attribute), {}, by_spelling=False))
    return share_placed(placed_words(profile.sample, _kinds_of(attribute.name), {}, by_spelling=False))


@cache
def _kinds_of(name: str) -> Scale:
    """The words that show what an open scale is about, as a scale of one level."""
    return Scale({name: ()}, {name: KINDS[name]})


def _pair(
    profile: Profile, target: str, attribute: Attribute | None, names: Names, words: Mapping[str, float]
) -> _Pair | None:
    header = likeness(profile.header, names)
    own = words.get(target, 0.0)
    others = max((share for name, share in words.items() if name != target), default=0.0)
    if not header and target not in words and target not in _SHOWN_BY_VALUES:
        return None
    kind = _kind_of_attribute(profile, attribute) if attribute else _kind_of_sale(profile, target, header)
    if target == "outcome" and own >= MOST:
        kind = 1.0
    if kind < MOST:
        return None
    if target in words:
        if own < 0.2 and (others >= _TELLING or header < _header_needed(attribute)):
            return None  # the words say plainly that it is something else, or too little says that it is this
        if not header and (own < _BY_WORDS or own - others < 0.3 or len(profile.counts) < 2):
            return None  # words alone must be this attribute's and no other's
    elif attribute and not header:
        own = 0.0
    points = header + WORDS * own + KIND * kind
    if not header and target in _SHOWN_BY_VALUES:
        points += _without_header(profile, target)
    return _Pair(points, header, own, kind)


def _header_needed(attribute: Attribute | None) -> float:
    """How sure a header must be over words that are not known: a grade may be in any words, a kind may not."""
    return TRADE if attribute is not None and attribute.role is Role.ORDINAL else EXACT


def _without_header(profile: Profile, target: str) -> float:
    """What values alone say."""
    return 0.5 * profile.shares.get(_SHOWN_BY_VALUES[target], 0.0)


def _kind_of_sale(profile: Profile, target: str, header: float) -> float:
    shares = profile.shares
    text = 1.0 - shares.get("number", 0.0)
    unique = len(profile.counts) / profile.filled
    if target == "date":
        years = shares.get("year", 0.0) if header >= TRADE else 0.0  # the year alone, where the header says of what
        return max(shares.get("date", 0.0), years)
    if target == "price":
        return max(shares.get("amount", 0.0) - shares.get("percent", 0.0), 0.0)
    if target in ("premium", "fees"):
        return max(shares.get("amount", 0.0), shares.get("number", 0.0))
    if target in ("confirmed",):
        return shares.get("flag", 0.0)
    if target == "currency":
        known = sum(rows for word, rows in profile.sample.items() if is_currency(word.strip().upper(), Reading()))
        return known / sum(profile.sample.values())
    if target == "vehicle":
        return min(shares.get("code", 0.0), 1.0 if unique >= MOST else 0.0)
    if target == "sale":
        return 1.0 if unique >= 0.9 and profile.length <= LONG_TEXT else 0.0
    if target in ("outcome", "arms_length"):
        return 1.0 if profile.is_of_few_kinds and (text >= MOST or shares.get("flag", 0.0) >= MOST) else 0.0
    if target == "venue":
        return text if profile.length <= LONG_TEXT and (unique <= _TELLING or header >= 1.0) else 0.0
    return text  # source: anything that is not a number


def _kind_of_attribute(profile: Profile, attribute: Attribute) -> float:
    shares = profile.shares
    if attribute.role in NUMERIC:
        return _possible_numbers(profile, attribute)
    if attribute.role is Role.FLAG:
        return shares.get("flag", 0.0)
    if attribute.role is Role.DATE:
        return shares.get("date", 0.0)
    if attribute.levels:
        return 1.0 if len(profile.counts) <= FEW_KINDS or profile.length <= LONG_TEXT else 0.0
    wordy = 1.0 - max(shares.get("number", 0.0), shares.get("date", 0.0), shares.get("money", 0.0))
    again = len(profile.counts) <= max(0.7 * profile.filled, 3)  # a level must come again; the share is chosen
    return wordy if again and profile.length <= LONG_TEXT and shares.get("flag", 0.0) < MOST else 0.0


def _possible_numbers(profile: Profile, attribute: Attribute) -> float:
    """The share of rows that hold a number which an attribute can have, with whichever decimal mark."""
    rows = sum(rows for text, rows in profile.sample.items() if any(_is_possible(attribute, text, m) for m in ".,"))
    return rows / sum(profile.sample.values())


def _is_possible(attribute: Attribute, text: str, mark: str) -> bool:
    if not any(character.isdigit() for character in text):
        return False
    value = understood_number(attribute, text, Reading(mark))
    return value is not None and not isinstance(value, CellFault)
