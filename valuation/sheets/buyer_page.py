"""The buyer sheet laid out: every figure written in the locale's way, ready for paper and for the screen alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from valuation.sheets.buyer_grid import cell_text, grid_on_page, proof_on_page
from valuation.sheets.buyer_ground import ground_words
from valuation.sheets.buyer_labels import labels
from valuation.sheets.buyer_summary import BuyerSheet, Change
from valuation.sheets.cautions import cautions
from valuation.sheets.chart_style import Chart
from valuation.sheets.cleaning import LONGEST_PARAGRAPH, LONGEST_TITLE, clean_tree, direction, shorten
from valuation.sheets.photos import Photo
from valuation.sheets.place import Place
from valuation.sheets.place_chart import place_picture
from valuation.sheets.seal import Seal
from valuation.text.language import Said, retold, say, say_count
from valuation.text.locale import HARD, Locale

LONGEST_UNIT = 12
"""Characters of a currency's name."""


def buyer_page(
    sheet: BuyerSheet, locale: Locale, photos: Sequence[Photo] = (), seal: Seal | None = None
) -> dict[str, Any]:
    """Every word of the sheet, in the order in which it is read; plain data with cleaned text.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    photos : sequence of Photo
    seal : Seal, optional
        That of a sheet which no ledger keeps unless given.
    """
    seal = seal or Seal.of(sheet, locale, photos)
    currency = shorten(sheet.currency, LONGEST_UNIT)
    sheet = replace(sheet, currency=currency)
    page: dict[str, Any] = {
        "paper": locale.paper,
        "author": shorten(sheet.shop, LONGEST_TITLE),
        "keywords": [seal.keyword],
        "title": shorten(sheet.vehicle, LONGEST_TITLE) or say("Vehicle without a name"),
        "lang": locale.language,
        "said": labels(),
        "kicker": say("Price and evidence, prepared by {shop}, the seller", shop=shorten(sheet.shop, LONGEST_TITLE))
        if sheet.shop
        else say("Price and evidence, prepared by the seller"),
        "subtitle": say("As of {day}", day=locale.date(sheet.as_of)),
        "footer": say(
            "{vehicle}, as of {day}. An estimate, not an appraisal.",
            vehicle=Said(shorten(sheet.vehicle, 60)),
            day=locale.date(sheet.as_of),
        ),
        "remark": [{"text": part, "dir": direction(part)} for part in _cut(sheet.remark).split("\n") if part.strip()],
        "facts": [{"label": shorten(retold(f.title)), "value": cell_text(f.cell, locale)} for f in sheet.facts],
        "estimate": {
            "label": say("Estimate of the total that a buyer pays before tax"),
            "figure": locale.about(sheet.estimate, currency),
            "words": estimate_words(sheet, locale),
            "warnings": [_cut(locale.sentence(retold(text))) for text in sheet.warnings],
        },
        "photos": [
            {
                "file": f"photo-{number}.jpg",
                "alt": shorten(photo.caption, LONGEST_TITLE)
                or say("Photograph {number} of the vehicle", number=number),
                "caption": shorten(photo.caption, LONGEST_TITLE),
                "ratio": photo.width / photo.height,
            }
            for number, photo in enumerate(photos, start=1)
        ],
        "place": None if sheet.place is None else _place(sheet, sheet.place, locale),
        "grid": grid_on_page(sheet, locale),
        "proof": proof_on_page(sheet, locale),
        "worth": _worth(sheet, locale),
        "changes": _changes(sheet, locale),
        "ground": ground_words(sheet.ground, locale),
        "seller": _seller(sheet, locale),
        "meanings": [
            {
                "label": f"{shorten(retold(one.title))}: {shorten(retold(one.level))}",
                "value": _cut(retold(one.text)),
            }
            for one in sheet.meanings
        ],
        "assumptions": [_cut(retold(text)) for text in sheet.assumptions if text.strip()],
        "notes": [_cut(locale.sentence(retold(text))) for text in sheet.notes],
        "cautions": list(cautions()),
        "seal": seal.for_buyer(photographs=bool(photos)),
    }
    if not currency:
        page["notes"].append(say("The table names no currency: amounts are in the unit in which prices were entered."))
    page, removed = clean_tree(page)
    if removed:
        page["notes"].append(
            say_count(
                "Left out of the texts above: {n} character that cannot be printed (control characters, marks that "
                "change the reading direction).",
                "Left out of the texts above: {n} characters that cannot be printed (control characters, marks that "
                "change the reading direction).",
                removed,
            )
        )
    return page


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_PARAGRAPH else text[:LONGEST_PARAGRAPH] + " " + say("(cut here)")


def in_ten(coverage: float) -> str:
    """A coverage as people say it: ``eight cases in ten``, ``95 % of cases``."""
    count = _tenths(coverage)
    if count:
        return say("{count} cases in ten", count=count)
    return say("{percent} of cases", percent=Said(f"{100 * coverage:g}{HARD}%"))


def _sales_in_ten(coverage: float) -> str:
    count = _tenths(coverage)
    if count:
        return say("{count} such sales in ten", count=count)
    return say("{percent} of such sales", percent=Said(f"{100 * coverage:g}{HARD}%"))


def _tenths(coverage: float) -> str:
    """The tenths of a coverage in letters; empty where it is none."""
    tenths = round(10 * coverage)
    if abs(10 * coverage - tenths) >= 1e-9 or not 0 < tenths < 10:
        return ""
    return (
        say("one"), say("two"), say("three"), say("four"), say("five"), say("six"), say("seven"), say("eight"),
        say("nine"),
    )[tenths - 1]  # fmt: skip


def estimate_words(sheet: BuyerSheet, locale: Locale) -> list[str]:
    """The estimate in the words that a buyer understands.

    Parameters
    ----------
    sheet : BuyerSheet
    locale : Locale
    """
    low, high = (locale.about(value, sheet.currency) for value in (sheet.low, sheet.high))
    many = _sales_in_ten(sheet.coverage)
    if math.isfinite(sheet.high) and sheet.low > 0:
        between = say("In {many} the price is expected to lie between {low} and {high}.", low=low, high=high, many=many)
    else:
        between = say(
            "There are too few sales to close the range that holds {many}: it goes from {low} to {high}.",
            low=low, high=high, many=many,
        )  # fmt: skip
    return [
        say("A sale of a vehicle like this one on this date is as likely to bring more than this as less."),
        between,
    ]


def place_of_sheet(sheet: BuyerSheet, place: Place, locale: Locale) -> Chart:
    """The chart of the sheet.

    Parameters
    ----------
    sheet : BuyerSheet
    place : Place
        The sheet's own.
    locale : Locale
    """
    return place_picture(
        place,
        locale,
        shorten(sheet.currency, LONGEST_UNIT),
        estimate=sheet.estimate,
        low=sheet.low,
        high=sheet.high,
        day=locale.date(sheet.as_of),
    )


def _place(sheet: BuyerSheet, place: Place, locale: Locale) -> dict[str, Any]:
    chart = place_of_sheet(sheet, place, locale)
    if place.brought:
        level = say(
            "Each mark is one row of the table, brought to the prices of {day} by the drift that all sales show.",
            day=locale.date(sheet.as_of),
        )
    else:
        level = say("Each mark is one row of the table, as paid.")
    words = say(
        "{level} Triangles pointing right are bids that did not meet the reserve, pointing left asking prices. The "
        "diamond is this vehicle, the bar and the tinted band its interval.",
        level=level,
    )
    if place.left_out:
        words += " " + say("The latest {count} rows are drawn.", count=len(place.points))
    return {
        "title": chart.title,
        "alt": chart.alt,
        "words": words,
        "head": [
            retold(place.title) or say("Group"),
            say("Rows"),
            say("Lowest"),
            say("In the middle"),
            say("Highest"),
        ],
        "rows": _by_level(place, locale),
    }


def _seller(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """Who hands out the sheet, what he adds, and where both sign."""
    own = sheet.seller
    who, day = _cut(own.graded_by), locale.date(own.graded_on)
    if own.graded_by and own.graded_on:
        graded = say("The vehicle was graded by {who} on {day}.", who=Said(who), day=day)
    elif own.graded_by:
        graded = say("The vehicle was graded by {who}; the day is not said.", who=Said(who))
    elif own.graded_on:
        graded = say("The vehicle was graded by the seller on {day}.", day=day)
    else:
        graded = say("The vehicle was graded by the seller; the day is not said.")
    left = "; ".join(_cut(text) for text in own.not_inspected)
    said = [
        say(
            "The seller prepared this sheet and has an interest in the price. The figures follow from the table of "
            "sales that the seller keeps, by the method described here."
        ),
        graded,
        say("Not inspected: {parts}.", parts=Said(left))
        if left
        else say("What was not inspected is not said. Ask, or have it inspected."),
    ]
    if own.contact:
        said.append(say("Contact: {contact}", contact=Said(_cut(own.contact))))
    asked = "" if own.asking_price is None else locale.money(own.asking_price, sheet.currency)
    return {
        "words": said,
        "asking": asked,
        "asking_lies": _asking_lies(sheet, locale),
        "signs": [say("Seller, date"), say("Buyer, date")],
    }


def _asking_lies(sheet: BuyerSheet, locale: Locale) -> str:
    """Where the asking price lies, since a buyer holds it against the estimate; empty where none is printed."""
    asked = sheet.seller.asking_price
    if asked is None:
        return ""
    apart = asked / sheet.estimate - 1
    share = locale.percent(abs(apart))
    if asked > sheet.high:
        return say("It lies above the stated range, {share} above the estimate.", share=share)
    if asked < sheet.low:
        return say("It lies below the stated range, {share} below the estimate.", share=share)
    if share == locale.percent(0):
        return say("It is the estimate.")
    if apart > 0:
        return say("It lies within the stated range, {share} above the estimate.", share=share)
    return say("It lies within the stated range, {share} below the estimate.", share=share)


def _by_level(place: Place, locale: Locale) -> list[list[str]]:
    """What the chart shows, level by level from the highest down: how many rows, and how far their prices go."""
    rows = []
    for group in [*reversed(place.groups), ""]:
        prices = sorted(point.shown for point in place.points if point.group == group)
        if prices:
            ends = prices[0], prices[(len(prices) - 1) // 2], prices[-1]
            rows.append(
                [
                    shorten(retold(group)) or say("not said"),
                    locale.number(len(prices)),
                    *(locale.about(price) for price in ends),
                ]
            )
    return rows


def _worth(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    price = sheet.base
    rows = [[say("The average vehicle of the table"), "", "", locale.money(price, sheet.currency)]]
    for share in sheet.shares:
        price *= share.factor
        level = cell_text(share.cell, locale) if share.cell.text else ""
        effect = _effect(share.factor - 1, share.low - 1, share.high - 1, locale)
        rows.append([shorten(retold(share.title)), level, effect, locale.money(price, sheet.currency)])
    rows.append([say("This vehicle"), "", "", locale.money(sheet.estimate, sheet.currency)])
    return {
        "head": [say("Attribute"), say("This vehicle"), say("Against the average"), say("Price so far")],
        "rows": rows,
        "strong": [0, len(rows) - 1],
        "words": say(
            "From the average vehicle of the table to this one, one attribute at a time; the effects multiply. The "
            "range in brackets holds the effect in {many}.",
            many=in_ten(sheet.coverage),
        ),
    }


def _changes(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """One row for each attribute, with up to two changes side by side."""
    rows = []
    for name in dict.fromkeys(change.attribute for change in sheet.changes):
        own = [change for change in sheet.changes if change.attribute == name]
        said = [_change_words(change, locale) for change in own[:2]]
        here = "" if own[0].kind in ("per_year", "yes_no") else cell_text(own[0].from_cell, locale)
        rows.append([shorten(retold(own[0].title)), here, *said, *[""] * (2 - len(said))])
    return {
        "head": [say("Attribute"), say("This vehicle"), say("Instead"), say("Or")],
        "rows": rows,
        "words": say(
            "One attribute at a time, all else unchanged: the change of the price, in brackets the range that holds it "
            "in {many}, and the amount.",
            many=in_ten(sheet.coverage),
        ),
    }


def _change_words(change: Change, locale: Locale) -> str:
    start, end = cell_text(change.from_cell, locale), cell_text(change.to_cell, locale)
    what = end
    if change.kind == "per_year":
        what = say("a year's drift, {start} to {end}", start=start, end=end)
    elif change.kind == "yes_no":
        what = say("{end} against {start}", start=Said(start), end=Said(end))
    amount = locale.about(change.money)
    sign = "+" if change.money > 0 and amount != "0" else ""
    effect = _effect(change.percent / 100, change.low_percent / 100, change.high_percent / 100, locale)
    return f"{what}: {effect}, {sign}{amount}"


def _effect(middle: float, low: float, high: float, locale: Locale) -> str:
    """A relative change and its range, such as ``+29 % (+25 to +33)``."""
    ends = [locale.percent(end, sign=True).removesuffix(f"{HARD}%") for end in (low, high)]
    return say(
        "{effect} ({low} to {high})",
        effect=locale.percent(middle, sign=True), low=Said(ends[0]), high=Said(ends[1]),
    )  # fmt: skip
