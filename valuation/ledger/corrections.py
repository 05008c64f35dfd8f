"""What a corrected record said before, field by field."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from valuation.ledger.records import Record
from valuation.text.plain import plain

ANSWERED = "answer given"
"""Reason of the record that adds an answer to an offer: the next step of the talks, not a correction."""


@dataclass(frozen=True, slots=True)
class Change:
    """One field that a later record of the chain changed.

    Attributes
    ----------
    id : int
        Number of the record that changed it.
    written_at : datetime
        When that was written.
    reason : str
        Why, in the shop's own words.
    field : str
        Name of the field; ``withdrawn`` where the chain was ended.
    was, became : object
        Plain values.
    """

    id: int
    written_at: datetime
    reason: str
    field: str
    was: Any
    became: Any


def corrections_of(record: Record) -> tuple[Change, ...]:
    """What was corrected in a record, oldest first; an answer given to an offer is not a correction.

    Parameters
    ----------
    record : Record
        With its history.
    """
    chain: tuple[Record, ...] = (*record.history, record)
    names = (*record.own_fields(), "withdrawn")
    return tuple(
        Change(newer.id, newer.written_at, newer.reason, name, plain(getattr(older, name)), plain(getattr(newer, name)))
        for older, newer in pairwise(chain)
        if newer.reason != ANSWERED
        for name in names
        if getattr(older, name) != getattr(newer, name)
    )
