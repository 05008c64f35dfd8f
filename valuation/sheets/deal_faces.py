"""The faces of the deal sheet: a PDF and one HTML file, both marked private on every page."""

from __future__ import annotations

from valuation.sheets.deal_page import deal_page, pictures
from valuation.sheets.deal_sheet import DealSheet
from valuation.sheets.locale import Locale
from valuation.sheets.paper_charts import paper_svg
from valuation.sheets.screen import data_address, render
from valuation.sheets.typesetting import typeset


def deal_pdf(sheet: DealSheet, locale: Locale) -> bytes:
    """The sheet as a PDF; equal input gives equal bytes.

    Raises
    ------
    SheetError
        If it cannot be set.
    """
    drawings = {name: paper_svg(chart, locale).encode() for name, chart in pictures(sheet, locale).items()}
    return typeset("deal.typ", deal_page(sheet, locale), drawings, sheet.as_of)


def deal_html(sheet: DealSheet, locale: Locale) -> str:
    """The sheet as one HTML file that holds its pictures and loads nothing."""
    page = deal_page(sheet, locale)
    drawings = {
        name: data_address("image/svg+xml", paper_svg(chart, locale).encode())
        for name, chart in pictures(sheet, locale).items()
    }
    page["paths"]["address"] = drawings[page["paths"]["file"]]
    for build in page["builds"]:
        build["steps"]["address"] = drawings[build["steps"]["file"]]
    return render("deal.html", page)
