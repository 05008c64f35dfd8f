"""The faces of the buyer sheet: a PDF to print or send, and one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from valuation.sheets.buyer_page import buyer_page, place_of_sheet
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.paper_charts import drawn, on_screen
from valuation.sheets.photos import Photo
from valuation.sheets.screen import data_address, render
from valuation.sheets.typesetting import typeset
from valuation.text.locale import Locale


def buyer_pdf(sheet: BuyerSheet, locale: Locale, photos: Sequence[Photo] = ()) -> bytes:
    """The sheet as a PDF; equal input gives equal bytes.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    photos : sequence of Photo
        In the order in which they are shown.

    Raises
    ------
    SheetError
        If it cannot be set.
    """
    page = buyer_page(sheet, locale, photos)
    pictures = {entry["file"]: photo.jpeg for entry, photo in zip(page["photos"], photos, strict=True)}
    if sheet.place is not None:
        chart = drawn(place_of_sheet(sheet, sheet.place, locale), locale)
        page["place"]["file"] = f"place{chart.suffix}"
        pictures[page["place"]["file"]] = chart.content
    return typeset("buyer.typ", page, pictures, sheet.as_of)


def buyer_html(sheet: BuyerSheet, locale: Locale, photos: Sequence[Photo] = ()) -> str:
    """The sheet as one HTML file that holds its pictures and loads nothing.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    photos : sequence of Photo
        In the order in which they are shown.
    """
    page: dict[str, Any] = buyer_page(sheet, locale, photos)
    for entry, photo in zip(page["photos"], photos, strict=True):
        entry["address"] = data_address("image/jpeg", photo.jpeg)
        entry["width"], entry["height"] = photo.width, photo.height
    if sheet.place is not None:
        page["place"] |= on_screen(place_of_sheet(sheet, sheet.place, locale), locale)
    return render("buyer.html", page)
