"""The faces of the deal sheet: a PDF and one HTML file, both marked private on every page."""

from __future__ import annotations

from valuation.sheets.deal_page import deal_page, pictures, places
from valuation.sheets.deal_sheet import DealSheet
from valuation.sheets.paper_charts import drawn, on_screen
from valuation.sheets.screen import render
from valuation.sheets.seal import Seal
from valuation.sheets.typesetting import typeset
from valuation.text.locale import Locale


def deal_pdf(sheet: DealSheet, locale: Locale, seal: Seal | None = None) -> bytes:
    """The sheet as a PDF; equal input gives equal bytes.

    Parameters
    ----------
    sheet : DealSheet
    locale : Locale
    seal : Seal, optional
        That of a sheet which no ledger keeps unless given.

    Raises
    ------
    SheetError
        If it cannot be set.
    """
    page = deal_page(sheet, locale, seal)
    files: dict[str, bytes] = {}
    for place, chart in zip(places(page), pictures(sheet, locale), strict=True):
        drawing = drawn(chart, locale)
        place["file"] = f"chart-{len(files) + 1}{drawing.suffix}"
        files[place["file"]] = drawing.content
    return typeset("deal.typ", page, files, sheet.as_of)


def deal_html(sheet: DealSheet, locale: Locale, seal: Seal | None = None) -> str:
    """The sheet as one HTML file that holds its pictures and loads nothing.

    Parameters
    ----------
    sheet : DealSheet
    locale : Locale
    seal : Seal, optional
        That of a sheet which no ledger keeps unless given.
    """
    page = deal_page(sheet, locale, seal)
    for place, chart in zip(places(page), pictures(sheet, locale), strict=True):
        place |= on_screen(chart, locale)
    return render("deal.html", page)
