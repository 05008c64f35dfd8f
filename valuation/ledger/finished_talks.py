"""Talks that ended in a sale, as the ledger tells them."""

from __future__ import annotations

import datetime as dt
import json

from valuation.ledger.reader import Reader
from valuation.sell.experience import FinishedTalks
from valuation.year import DAYS_PER_WEEK


def finished_talks(book: Reader) -> tuple[FinishedTalks, ...]:
    """Private sales on the open market whose price was set before, in one currency, with the offers that came.

    Parameters
    ----------
    book : Reader
        An open ledger.
    """
    found = []
    for sale in book.sales():
        if sale.kind != "private" or not sale.arms_length:
            continue
        for deal in reversed(book.deals(sale.subject)):
            if deal.kind != "bands":
                continue
            asked_on = dt.date.fromisoformat(json.loads(deal.inputs)["as_of"])
            bands = book.deal_result(deal.id)
            if asked_on > sale.sold_on or bands["currency"] != sale.currency:
                continue
            came = [offer for offer in book.offers(sale.subject) if asked_on <= offer.offered_on <= sale.sold_on]
            names = {offer.who.strip().casefold() or offer.id for offer in came}
            weeks = max((sale.sold_on - asked_on).days, 1) / DAYS_PER_WEEK
            found.append(FinishedTalks(bands["estimate"], bands["ask"], sale.price, max(len(names), 1), weeks))
            break
    return tuple(found)
