"""The faces of the buyer sheet: a PDF to print or send, and one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from valuation.sheets.buyer_page import buyer_page
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.paper_charts import Drawing, drawn
from valuation.sheets.photos import Photo
from valuation.sheets.place import Place
from valuation.sheets.place_chart import place_picture
from valuation.sheets.screen import data_address, render
from valuation.sheets.seal import Seal
from valuation.sheets.typesetting import typeset
from valuation.text.locale import Locale


def buyer_pdf(sheet: BuyerSheet, locale: Locale, photos: Sequence[Photo] = (), seal: Seal | None = None) -> bytes:
    """The sheet as a PDF; equal input gives equal bytes.

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
        chart = _chart(sheet, sheet.place, locale)
        page["place"]["file"] = f"place{chart.suffix}"
        pictures[page["place"]["file"]] = chart.content
    return typeset("buyer.typ", page, pictures, sheet.as_of)


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
        chart = _chart(sheet, sheet.place, locale)
        page["place"]["address"] = data_address(chart.kind, chart.content)
    return render("buyer.html", page)


def _chart(sheet: BuyerSheet, place: Place, locale: Locale) -> Drawing:
    picture = place_picture(place, sheet.estimate, sheet.low, sheet.high, sheet.currency, locale.about)
    return drawn(picture, locale)
