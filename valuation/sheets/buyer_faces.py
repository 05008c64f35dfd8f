"""The faces of the buyer sheet: a PDF to print or send, and one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from valuation.sheets.buyer_page import buyer_page, place_of_sheet
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.paper_charts import drawn, on_screen
from valuation.sheets.photos import Photo
from valuation.sheets.screen import data_address, render
from valuation.sheets.seal import Seal
from valuation.sheets.typesetting import page_count, typeset
from valuation.text.locale import Locale

MOST_PAGES = 3
"""Of a buyer sheet, as far as its texts allow: more is not read."""


def buyer_pdf(sheet: BuyerSheet, locale: Locale, photos: Sequence[Photo] = (), seal: Seal | None = None) -> bytes:
    """The sheet as a PDF; equal input gives equal bytes.

    The grid stands once more to the cent at its end where that leaves it at three pages; the HTML always has it.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    photos : sequence of Photo
        In the order in which they are shown.
    seal : Seal, optional
        That of a sheet which no ledger keeps unless given.

    Raises
    ------
    SheetError
        If it cannot be set.
    """
    page = buyer_page(sheet, locale, photos, seal)
    pictures = {entry["file"]: photo.jpeg for entry, photo in zip(page["photos"], photos, strict=True)}
    if sheet.place is not None:
        chart = drawn(place_of_sheet(sheet, sheet.place, locale), locale)
        page["place"]["file"] = f"place{chart.suffix}"
        pictures[page["place"]["file"]] = chart.content
    proved = typeset("buyer.typ", {**page, "proved": True}, pictures, sheet.as_of)
    if page_count(proved) <= MOST_PAGES:
        return proved
    return typeset("buyer.typ", {**page, "proved": False}, pictures, sheet.as_of)


def buyer_html(sheet: BuyerSheet, locale: Locale, photos: Sequence[Photo] = (), seal: Seal | None = None) -> str:
    """The sheet as one HTML file that holds its pictures and loads nothing.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    photos : sequence of Photo
        In the order in which they are shown.
    seal : Seal, optional
        That of a sheet which no ledger keeps unless given.
    """
    page: dict[str, Any] = buyer_page(sheet, locale, photos, seal)
    for entry, photo in zip(page["photos"], photos, strict=True):
        entry["address"] = data_address("image/jpeg", photo.jpeg)
        entry["width"], entry["height"] = photo.width, photo.height
    if sheet.place is not None:
        page["place"] |= on_screen(place_of_sheet(sheet, sheet.place, locale), locale)
    return render("buyer.html", page)
