"""What the owner is told when a sheet for a buyer is made: what a buyer will notice, and what had no room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from valuation.notes import Note
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.one_page import LONGEST_REMARK, Message, OnePage, one_page_pdf
from valuation.sheets.seal import Seal
from valuation.text.language import say, say_count, spoken

if TYPE_CHECKING:
    from valuation.sheets.photos import Photo
    from valuation.text.locale import Locale


def notes_for_the_owner(
    made: BuyerSheet | OnePage | Message, locale: Locale, photos: Sequence[Photo] = (), *, in_ledger: bool = False
) -> tuple[Note, ...]:
    """What who makes the sheet should know of it; none of it stands there.

    Parameters
    ----------
    made : BuyerSheet, OnePage or Message
    locale : Locale
    photos : sequence of Photo
        That were chosen.
    in_ledger : bool
        Whether a ledger keeps the sheet, which it then says.
    """
    sheet = made if isinstance(made, BuyerSheet) else made.sheet
    left: tuple[str, ...] = ()
    if isinstance(made, OnePage):
        with spoken(locale.language):
            _, left = one_page_pdf(made, locale, photos, Seal.of(made, locale, photos, in_ledger=in_ledger))
    return (
        *(Note("asking_outside_range", text) for text in _of_the_asking_price(sheet, locale)),
        *(Note("left_off_paper", text) for text in _left_out(made, photos, left)),
    )


def _of_the_asking_price(sheet: BuyerSheet, locale: Locale) -> Iterator[str]:
    asked = sheet.seller.asking_price
    if asked is None or sheet.low <= asked <= sheet.high:
        return
    figures = {
        "asked": locale.money(asked, sheet.currency),
        "low": locale.about(sheet.low, sheet.currency),
        "high": locale.about(sheet.high, sheet.currency),
    }
    if asked > sheet.high:
        yield say(
            "The asking price of {asked} is above the range that the sheet states, {low} to {high}; the sheet says so, "
            "and a buyer will see it.",
            **figures,
        )
    else:
        yield say(
            "The asking price of {asked} is below the range that the sheet states, {low} to {high}; the sheet says so, "
            "and a buyer will see it.",
            **figures,
        )


def _left_out(made: BuyerSheet | OnePage | Message, photos: Sequence[Photo], left: Sequence[str]) -> Iterator[str]:
    """What was given and is not on the paper."""
    if isinstance(made, BuyerSheet):
        return
    remark = made.sheet.remark.strip()
    if isinstance(made, Message):
        if remark:
            yield say("Your own words about the vehicle do not stand in the message; the whole sheet has them.")
    else:
        if "remark" in left:
            yield say("There is no room on one page for your own words about the vehicle; the whole sheet has them.")
        elif len(remark) > LONGEST_REMARK:
            yield say("Your own words about the vehicle are cut short on one page; the whole sheet has all of them.")
        if "photos" in left:
            yield say("There is no room on one page for the photograph; the whole sheet has it.")
            return
        if "place" in left:
            yield say("There is no room on one page for the chart; the whole sheet has it.")
    if len(photos) > 1:
        yield say_count(
            "Of the photographs the first is shown; the whole sheet has the other one, too.",
            "Of the photographs the first is shown; the whole sheet has the other {n}, too.",
            len(photos) - 1,
        )
