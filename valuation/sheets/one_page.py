"""The buyer sheet on one page, and a message for a listing or an e-mail: the same evidence, said in less room.

Both hold the buyer sheet and nothing else, so that they are as private as that is.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from valuation.sheets.buyer_grid import cell_text, sources_words
from valuation.sheets.buyer_ground import trial_words
from valuation.sheets.buyer_page import buyer_page, estimate_words, place_of_sheet
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.cleaning import LONGEST_TITLE, clean_text, shorten
from valuation.sheets.paper_charts import drawn
from valuation.sheets.photos import Photo
from valuation.sheets.screen import data_address, render
from valuation.sheets.seal import Seal
from valuation.sheets.typesetting import page_count, typeset, typeset_picture
from valuation.text.language import Said, retold, say, say_count
from valuation.text.locale import HARD, Locale
from valuation.view import View, Viewed

LONGEST_REMARK = 420
"""Characters of the shop's own words that one page has room for; chosen by eye."""
LESS: Mapping[str, Any] = {"remark": [], "photos": [], "place": None}
"""What is left out, one after the other, until the rest has room on one page; and what stands in its stead."""
MOST_FACTS = 8
"""Attributes that a message names; whoever wants all of them asks for the sheet."""


@dataclass(frozen=True, slots=True, repr=False)
class OnePage(Viewed):
    """The buyer sheet on one page."""

    sheet: BuyerSheet

    def _view(self) -> View:
        return self.sheet._view()


@dataclass(frozen=True, slots=True, repr=False)
class Message(Viewed):
    """A few lines and a picture of the buyer sheet, for a listing or an e-mail."""

    sheet: BuyerSheet

    def _view(self) -> View:
        return self.sheet._view()


def one_page_pdf(made: OnePage, locale: Locale, photos: Sequence[Photo], seal: Seal) -> tuple[bytes, tuple[str, ...]]:
    """The sheet as a PDF of one page, and which of its parts (keys of ``LESS``) had no room there.

    Parameters
    ----------
    made : OnePage
    locale : Locale
    photos : sequence of Photo
        The first is shown.
    seal : Seal

    Raises
    ------
    SheetError
        If it cannot be set.
    """
    page, pictures = _laid_out(made, locale, photos, seal), {}
    for entry, photo in zip(page["photos"], photos, strict=False):
        pictures[entry["file"]] = photo.jpeg
    if made.sheet.place is not None:
        chart = drawn(place_of_sheet(made.sheet, made.sheet.place, locale), locale)
        page["place"]["file"] = f"place{chart.suffix}"
        pictures[page["place"]["file"]] = chart.content
    there = [part for part in LESS if page[part]]
    for count in range(len(there) + 1):
        shown = {**page, **{part: LESS[part] for part in there[:count]}}
        content = typeset("one_page.typ", shown, pictures, made.sheet.as_of)
        if page_count(content) == 1:
            break
    return content, tuple(there[:count])


def one_page_html(made: OnePage, locale: Locale, photos: Sequence[Photo], seal: Seal) -> str:
    """The sheet as one HTML file that holds its pictures and loads nothing.

    Parameters
    ----------
    made : OnePage
    locale : Locale
    photos : sequence of Photo
        The first is shown.
    seal : Seal
    """
    page = _laid_out(made, locale, photos, seal)
    for entry, photo in zip(page["photos"], photos, strict=False):
        entry["address"] = data_address("image/jpeg", photo.jpeg)
        entry["width"], entry["height"] = photo.width, photo.height
    if made.sheet.place is not None:
        from valuation.sheets.paper_charts import on_screen

        page["place"] |= on_screen(place_of_sheet(made.sheet, made.sheet.place, locale), locale)
    return render("one_page.html", page)


def _laid_out(made: OnePage, locale: Locale, photos: Sequence[Photo], seal: Seal) -> dict[str, Any]:
    page = buyer_page(made.sheet, locale, photos[:1], seal)
    words = shorten(made.sheet.remark, LONGEST_REMARK)
    page["remark"] = [{**part, "text": clean_text(words)[0]} for part in page["remark"][:1]]
    page["near"] = _near(made.sheet, locale)
    short = [
        _rests_on(made.sheet, locale),
        " ".join(sources_words(made.sheet)[1:]),
        trial_words(made.sheet.ground.trial, locale),
        *page["seller"]["words"],
        say("This page is short. Ask for the whole sheet: each adjustment, what was assumed, and every caution."),
    ]
    page["short"] = [text for text in short if text]
    page["caution"] = say(
        "An estimate from the seller's own table of sales, not a licensed appraisal, and no promise of a price. Title, "
        "identification number, odometer and roadworthiness follow local law: check before money changes hands."
    )
    return page


def _near(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """The grid's sales, one to a row: when, where if any says it, what was paid, and what that is for this vehicle."""
    where = any(one.source for one in sheet.grid)
    rows = [
        [
            str(number),
            locale.date(one.date),
            *([shorten(one.source, 40) or say("not said")] if where else []),
            locale.money(one.price_cents / 100),
            locale.about(one.adjusted_cents / 100),
            f"{locale.number(100 * one.weight)}{HARD}%",
        ]
        for number, one in enumerate(sheet.grid, start=1)
    ]
    head = ["", say("Date"), *([say("Where")] if where else [])]
    return {
        "left": len(head),
        "head": [*head, say("Paid"), say("Adjusted to this vehicle"), say("Weight")],
        "rows": rows,
        "title": say("The nearest sales of the seller's own table"),
    }


def _rests_on(sheet: BuyerSheet, locale: Locale) -> str:
    sales = say_count("{n} sale", "{n} sales", sheet.ground.sold)
    if sheet.reconciled is None:
        return say("The estimate rests on {sales} of the seller's own table.", sales=Said(sales))
    return say(
        "The estimate rests on {sales} of the seller's own table; the nearest of them, each adjusted to this vehicle, "
        "come to {nearest}.",
        sales=Said(sales),
        nearest=locale.about(sheet.reconciled, shorten(sheet.currency, 12)),
    )


def message_text(made: Message, locale: Locale, seal: Seal) -> str:
    """The message: some ten lines without any markup.

    Parameters
    ----------
    made : Message
    locale : Locale
    seal : Seal
    """
    page = buyer_page(made.sheet, locale, (), seal)
    known = [fact for fact in made.sheet.facts if fact.cell.text not in ("", "unknown")][:MOST_FACTS]
    facts = [f"{shorten(retold(fact.title))}: {cell_text(fact.cell, locale)}" for fact in known]
    said = [
        page["title"],
        say(
            "Estimate: {figure} on {day}.",
            figure=Said(page["estimate"]["figure"]),
            day=locale.date(made.sheet.as_of),
        )
        + " "
        + estimate_words(made.sheet, locale)[1],
        f"{page['said']['asking']}: {page['seller']['asking']}. {page['seller']['asking_lies']}"
        if page["seller"]["asking"]
        else "",
        *page["estimate"]["warnings"],
        "; ".join(facts),
        _rests_on(made.sheet, locale),
        *page["seller"]["words"][1:],
        page["kicker"] + ". " + say("An estimate, not an appraisal."),
        page["seal"],
    ]
    return clean_text("\n".join(text.replace(HARD, " ") for text in said if text) + "\n")[0]


def picture_alt(made: Message, locale: Locale) -> str:
    """What the picture of a message shows, for who cannot see it.

    Parameters
    ----------
    made : Message
    locale : Locale
    """
    figure = locale.about(made.sheet.estimate, shorten(made.sheet.currency, 12))
    text = say(
        "{vehicle}: estimate {figure} on {day}.",
        vehicle=Said(shorten(made.sheet.vehicle, LONGEST_TITLE) or say("Vehicle without a name")),
        figure=figure,
        day=locale.date(made.sheet.as_of),
    )
    return f"{text} {estimate_words(made.sheet, locale)[1]}".replace(HARD, " ")


def message_picture(made: Message, locale: Locale, photos: Sequence[Photo], seal: Seal) -> bytes:
    """The picture of a message, PNG: the first photograph, the estimate and its range. Its text says what it shows.

    Parameters
    ----------
    made : Message
    locale : Locale
    photos : sequence of Photo
        The first is shown.
    seal : Seal
    """
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    page = buyer_page(made.sheet, locale, photos[:1], seal)
    pictures = {page["photos"][0]["file"]: photos[0].jpeg} if photos else {}
    drawing = typeset_picture("message.typ", page, pictures)
    told = PngInfo()
    told.add_itxt("Description", picture_alt(made, locale))
    told.add_itxt("Keywords", seal.keyword)
    out = io.BytesIO()
    Image.open(io.BytesIO(drawing)).convert("RGB").save(out, "PNG", pnginfo=told, optimize=True)
    return out.getvalue()
