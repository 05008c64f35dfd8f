"""What an owner hears: floor, target and ask, and the answer to an offer, each in one sentence."""

from __future__ import annotations

from datetime import date

from valuation.build.figures import about, at_least, money
from valuation.sell.prospect import time_said
from valuation.text.language import on_day, say, say_count


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
    said = {"ask": about(ask), "target": about(target), "floor": at_least(floor), "day": on_day(until)}
    start = on_day(for_sale)
    if weeks is not None and waits:
        return say(
            "Once it is for sale, about {start}: ask {ask}, expect about {target} within {time} and take nothing under "
            "{floor} before {day}.",
            start=start,
            time=time_said(weeks),
            **said,
        )
    if weeks is not None:
        return say(
            "Ask {ask}, expect about {target} within {time} and take nothing under {floor} before {day}.",
            time=time_said(weeks),
            **said,
        )
    if waits:
        return say(
            "Once it is for sale, about {start}: ask {ask}, expect about {target}, though it would hardly sell within "
            "two years, and take nothing under {floor} before {day}.",
            start=start,
            **said,
        )
    return say(
        "Ask {ask}, expect about {target}, though it would hardly sell within two years, and take nothing under "
        "{floor} before {day}.",
        **said,
    )


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
    if not buyer:
        return say("The buyer offers {amount}: {said}.", amount=money(amount), said=said)
    return say("{buyer} offers {amount}: {said}.", buyer=buyer, amount=money(amount), said=said)


def bids_so_far(amounts: tuple[float, ...]) -> str:
    """What one buyer's bids tell.

    Examples
    --------
    >>> bids_so_far((35_000.0, 38_000.0, 41_000.0)), bids_so_far((41_000.0,))
    ('This buyer has bid 3 times, up by 6,000 in all.', '')
    """
    if len(amounts) < 2:
        return ""
    way = amounts[-1] - amounts[0]
    moved = say("the same as the first")
    if way:
        size = money(abs(way))
        moved = say("up by {amount} in all", amount=size) if way > 0 else say("down by {amount} in all", amount=size)
    return say("This buyer has bid {n} times, {moved}.", n=len(amounts), moved=moved)


def next_buyers(count: int) -> str:
    """So many buyers to come."""
    return say_count("the next buyer", "the next {n} buyers", count)
