"""Profile: what kind of values a column of a table holds, told from a sample of its distinct cells."""

from __future__ import annotations

import datetime as dt
import heapq
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from valuation.comparables.texttable import TextTable
from valuation.comparables.written import stored_days, understood_date, understood_price
from valuation.drafting.trade_words import KILOMETRE_WORDS, MILE_WORDS
from valuation.schema.values import NO_WORDS, YES_WORDS
from valuation.text.dates import read_date
from valuation.text.numbers import is_missing, read_number
from valuation.text.reading import Reading

SAMPLE, LEAST_SAMPLE, SAMPLED_IN_ALL = 200, 40, 20_000
"""Distinct cells of a column that are looked at for its kind (the commonest, and of the others every so many): so many,
and fewer in a table so wide that all columns together would have more than the last. Bounds on the time, chosen."""

FEW_KINDS = 40
"""Distinct words up to which a column can be one of levels; chosen, above any shop's scale or list of bodies."""

LONG_TEXT = 40
"""Characters on average from which cells are remarks and not words; chosen."""

_UNITS = tuple(sorted((*MILE_WORDS, *KILOMETRE_WORDS), key=len, reverse=True))


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """What a column holds.

    Parameters
    ----------
    header : str
    rows : int
        Of the table.
    counts : dict of str to int
        Rows by distinct cell, in order of first appearance; blank cells are left out.
    shares : mapping of str to float
        Of the rows that are filled, how many hold a ``date``, ``number``, ``amount`` (of money), ``money`` (with its
        currency or in thousands), ``year``, ``flag``, ``link``, or ``code`` (one word with a figure in it).
    unit : str
        Unit of distance that most cells name; empty when none.
    sample : mapping of str to int
        Distinct cells that stand for all, with the rows of each; all of them unless given.

    Attributes
    ----------
    filled : int
        Rows that hold something.
    length : float
        Mean number of characters of a sampled cell.
    """

    header: str
    rows: int
    counts: dict[str, int]
    shares: Mapping[str, float]
    unit: str = ""
    sample: Mapping[str, int] = field(default_factory=dict)
    filled: int = field(init=False)
    length: float = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "filled", sum(self.counts.values()))
        object.__setattr__(self, "sample", self.sample or self.counts)
        object.__setattr__(self, "length", sum(map(len, self.sample)) / max(len(self.sample), 1))

    @property
    def is_of_few_kinds(self) -> bool:
        """Whether the same words come again and again, so that they can be levels."""
        kinds = len(self.counts)
        return 0 < kinds <= FEW_KINDS and (kinds <= 2 or 2 * kinds <= self.filled) and self.length <= LONG_TEXT


def profiles_of(table: TextTable, earliest: dt.date, today: dt.date) -> list[Profile]:
    """The profile of each column, in the table's order.

    Parameters
    ----------
    table : TextTable
    earliest, today : date
        Between which dates lie that a spreadsheet stored as numbers.
    """
    most = max(LEAST_SAMPLE, min(SAMPLE, SAMPLED_IN_ALL // len(table.headers)))
    return [_profile(header, table.cells[header], most, earliest, today) for header in table.headers]


def _profile(header: str, column: pd.Series[Any], most: int, earliest: dt.date, today: dt.date) -> Profile:
    codes, texts = pd.factorize(column.to_numpy(dtype=object))
    rows = np.bincount(codes, minlength=len(texts))
    counts: dict[str, int] = {}
    for text, count in zip(texts, rows.tolist(), strict=True):
        body = " ".join(str(text).split())
        if not is_missing(body) or body.casefold() == "none":  # "none" is a level of awards and papers
            counts[body] = counts.get(body, 0) + int(count)
    sample = _sample(counts, most)
    looked_at = sum(sample.values())
    totals: dict[str, int] = {}
    units: dict[str, int] = {}
    for text, count in sample.items():
        number, unit = _parted(text)
        if unit:
            units[unit] = units.get(unit, 0) + count
        for kind in _kinds(text, number, today):
            totals[kind] = totals.get(kind, 0) + count
    if stored_days(list(sample), earliest, today):
        totals["date"] = looked_at
    shares = {kind: total / looked_at for kind, total in totals.items()}
    unit = max(units, key=lambda name: units[name]) if units else ""
    return Profile(header, len(column), counts, shares, unit if unit and 2 * units[unit] >= looked_at else "", sample)


def _sample(counts: dict[str, int], most: int) -> dict[str, int]:
    if len(counts) <= most:
        return counts
    common = dict.fromkeys(heapq.nlargest(most // 2, counts, key=counts.__getitem__))
    others = [text for text in counts if text not in common]
    spread = others[:: -(-len(others) // (most // 2))]
    return {text: counts[text] for text in (*common, *spread)}


def _parted(text: str) -> tuple[str, str]:
    """A number's text without the unit of distance behind it, and the unit as it is written."""
    folded = text.casefold()
    for unit in _UNITS:
        if folded.endswith(unit) and folded[: -len(unit)].rstrip()[-1:].isdigit():
            return text[: -len(unit)].rstrip(), text[-len(unit) :]
    return text, ""


def _kinds(text: str, number: str, today: dt.date) -> Iterator[str]:
    folded = text.casefold()
    if folded in YES_WORDS or folded in NO_WORDS:
        yield "flag"
    if folded.startswith(("http://", "https://", "www.")):
        yield "link"
    if not any(character.isdigit() for character in text):
        return
    if " " not in text:
        yield "code"
    bare = text.lstrip("'’")
    if (len(bare) == 4 and bare.isdecimal() and "1850" <= bare <= "2099") or (bare != text and len(bare) == 2):
        yield "year"
    elif _is_date(text, today):
        yield "date"
    yield from _figures(text, number)


def _is_date(text: str, today: dt.date) -> bool:
    """Whether a cell holds a day, read one way or the other, or a month or season that stands for one."""
    try:
        read_date(text, day_first=True, today=today)
    except ValueError:
        return not isinstance(understood_date(text, today), str)
    return True


def _figures(text: str, number: str) -> Iterator[str]:
    price = understood_price(text, Reading())
    money = None if isinstance(price, str) else price[0]
    if money is not None:
        yield "amount"
        if money.currency or money.thousands:
            yield "money"
        if money.percent:
            yield "percent"
    if (money is not None and not money.currency and not money.percent) or _is_number(number):
        yield "number"


def _is_number(text: str) -> bool:
    try:
        read_number(text)
    except ValueError:
        return False
    return True
