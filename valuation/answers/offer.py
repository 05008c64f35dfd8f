"""What to answer to an offer."""

from __future__ import annotations

import datetime as dt

from valuation.build.terms import SaleTerms
from valuation.sell.bands import PriceBands
from valuation.sell.offer_log import OfferLog
from valuation.sell.offers import OfferAnswer, answer_offer


def offer(bands: PriceBands, terms: SaleTerms, log: OfferLog, today: dt.date | None = None) -> OfferAnswer:
    """Accept, counter or hold: the answer to the last offer of a log.

    Parameters
    ----------
    bands : PriceBands
        Of the vehicle for sale.
    terms : SaleTerms
        How it is sold.
    log : OfferLog
        The talks up to this offer, at least one; asked are the bands' own price unless the log names one.
    today : date or None
        On which it is answered; the offer's own day unless given.

    Raises
    ------
    OfferError
        The offer is in another currency, or the ask is not an amount.
    """
    *earlier, last = log.offers
    return answer_offer(bands, terms, last, earlier=tuple(earlier), asked=log.asked, currency=log.currency, today=today)
