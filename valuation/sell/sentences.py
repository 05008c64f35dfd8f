"""What an owner hears: floor, target and ask, and the answer to an offer, each in one sentence."""

from __future__ import annotations

from datetime import date

from valuation.build.figures import about, at_least, money
from valuation.sell.prospect import in_words
from valuation.text.locale import Locale

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def on_day(day: date) -> str:
    """A day as people write it."""
    return Locale().date(day)


def bands_sentence(
    ask: float, target: float, floor: float, weeks: float | None, for_sale: date, until: date, *, waits: bool
) -> str:
    """What to ask, what to expect and where to stop.

    Parameters
    ----------
    ask, target, floor : float
        Money.
    weeks : float or None
        Expected until sold; None: hardly within two years.
    for_sale, until : date
        Day of the listing, and day up to which the floor holds.
    waits : bool
        Whether it is not for sale yet.
    """
    start = f"Once it is for sale, about {on_day(for_sale)}: ask" if waits else "Ask"
    if weeks is None:
        expect = f"expect about {about(target)}, though it would hardly sell within two years,"
    else:
        expect = f"expect about {about(target)} within {in_words(weeks)}"
    return f"{start} {about(ask)}, {expect} and take nothing under {at_least(floor)} before {on_day(until)}."


def offer_sentence(buyer: str, amount: float, said: str) -> str:
    """Who offers what, and what to say to it.

    Parameters
    ----------
    buyer : str
        May be empty.
    amount : float
        Money.
    said : str
    """
    return f"{buyer or 'The buyer'} offers {money(amount)}: {said}."


def bids_so_far(amounts: tuple[float, ...]) -> str:
    """What one buyer's bids tell.

    Examples
    --------
    >>> bids_so_far((35_000.0, 38_000.0, 41_000.0)), bids_so_far((41_000.0,))
    ('This is the third bid of this buyer, up by 6,000 in all.', '')
    """
    if len(amounts) < 2:
        return ""
    count = ORDINALS[len(amounts) - 1] if len(amounts) <= len(ORDINALS) else f"{len(amounts)}th"
    way = amounts[-1] - amounts[0]
    moved = "the same as the first" if way == 0 else f"{'up' if way > 0 else 'down'} by {money(abs(way))} in all"
    return f"This is the {count} bid of this buyer, {moved}."


def next_buyers(count: int) -> str:
    """So many buyers to come."""
    return "the next buyer" if count == 1 else f"the next {count} buyers"
