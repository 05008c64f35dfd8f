"""The buyer sheet laid out: every figure written in the locale's way, ready for paper and for the screen alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from valuation.sheets.buyer_grid import cell_text, grid_on_page, proof_on_page
from valuation.sheets.buyer_summary import BuyerSheet, Change, Trial
from valuation.sheets.cautions import CAUTIONS
from valuation.sheets.chart_style import Chart
from valuation.sheets.cleaning import LONGEST_PARAGRAPH, LONGEST_TITLE, clean_tree, direction, shorten
from valuation.sheets.photos import Photo
from valuation.sheets.place import Place
from valuation.sheets.place_chart import place_picture
from valuation.sheets.seal import Seal
from valuation.text.locale import HARD, Locale
from valuation.text.spelling import counted

LONGEST_UNIT = 12
"""Characters of a currency's name."""

_COUNT_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


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
        "title": shorten(sheet.vehicle, LONGEST_TITLE) or "Vehicle without a name",
        "kicker": "Price and evidence, prepared by "
        + (f"{shorten(sheet.shop, LONGEST_TITLE)}, the seller" if sheet.shop else "the seller"),
        "subtitle": f"As of {locale.date(sheet.as_of)}",
        "footer": f"{shorten(sheet.vehicle, 60)}, as of {locale.date(sheet.as_of)}. An estimate, not an appraisal.",
        "remark": [{"text": part, "dir": direction(part)} for part in _cut(sheet.remark).split("\n") if part.strip()],
        "facts": [{"label": shorten(f.title), "value": cell_text(f.cell, locale)} for f in sheet.facts],
        "estimate": {
            "label": "Estimate of the total that a buyer pays before tax",
            "figure": locale.about(sheet.estimate, currency),
            "words": _estimate_words(sheet, locale),
            "warnings": [_cut(text) for text in sheet.warnings],
        },
        "photos": [
            {
                "file": f"photo-{number}.jpg",
                "alt": shorten(photo.caption, LONGEST_TITLE) or f"Photograph {number} of the vehicle",
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
        "ground": _ground(sheet, locale),
        "seller": _seller(sheet, locale),
        "meanings": [
            {"label": f"{shorten(one.title)}: {shorten(one.level)}", "value": _cut(one.text)} for one in sheet.meanings
        ],
        "assumptions": [_cut(text) for text in sheet.assumptions if text.strip()],
        "notes": [_cut(text) for text in sheet.notes],
        "cautions": list(CAUTIONS),
        "seal": seal.words("the seller's", photographs=bool(photos)),
    }
    if not currency:
        page["notes"].append("The table names no currency: amounts are in the unit in which prices were entered.")
    page, removed = clean_tree(page)
    if removed:
        page["notes"].append(
            f"Left out of the texts above: {counted(removed, 'character')} that cannot be printed (control characters, "
            "marks that change the reading direction)."
        )
    return page


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_PARAGRAPH else text[:LONGEST_PARAGRAPH] + " (cut here)"


def _in_ten(coverage: float) -> str:
    """A coverage as people say it: ``eight cases in ten``, ``95 % of cases``."""
    tenths = 10 * coverage
    if abs(tenths - round(tenths)) < 1e-9 and 0 < round(tenths) < 10:
        return f"{_COUNT_WORDS[round(tenths)]} cases in ten"
    return f"{100 * coverage:g}{HARD}% of cases"


def _estimate_words(sheet: BuyerSheet, locale: Locale) -> list[str]:
    low, high = (locale.about(value, sheet.currency) for value in (sheet.low, sheet.high))
    many = _in_ten(sheet.coverage).replace("cases", "such sales")
    if math.isfinite(sheet.high) and sheet.low > 0:
        between = f"In {many} the price is expected to lie between {low} and {high}."
    else:
        between = f"There are too few sales to close the range that holds {many}: it goes from {low} to {high}."
    return [
        "A sale of a vehicle like this one on this date is as likely to bring more than this as less.",
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
    level = (
        f"brought to the prices of {locale.date(sheet.as_of)} by the drift that all sales show"
        if place.brought
        else "as paid"
    )
    words = (
        f"Each mark is one row of the table, {level}. Triangles pointing right are bids that did not meet the reserve, "
        "pointing left asking prices. The diamond is this vehicle, the bar and the tinted band its interval."
    )
    if place.left_out:
        words += f" The latest {len(place.points)} rows are drawn."
    return {
        "title": chart.title,
        "alt": chart.alt,
        "words": words,
        "head": [place.title or "Group", "Rows", "Lowest", "In the middle", "Highest"],
        "rows": _by_level(place, locale),
    }


def _seller(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """Who hands out the sheet, what he adds, and where both sign."""
    own = sheet.seller
    by = f" by {_cut(own.graded_by)}" if own.graded_by else " by the seller"
    when = f" on {locale.date(own.graded_on)}" if own.graded_on else "; the day is not said"
    left = "; ".join(_cut(text) for text in own.not_inspected)
    said = [
        "The seller prepared this sheet and has an interest in the price. The figures follow from the table of sales "
        "that the seller keeps, by the method described here.",
        f"The vehicle was graded{by}{when}.",
        f"Not inspected: {left}." if left else "What was not inspected is not said. Ask, or have it inspected.",
    ]
    if own.contact:
        said.append(f"Contact: {_cut(own.contact)}")
    asked = "" if own.asking_price is None else locale.money(own.asking_price, sheet.currency)
    return {"words": said, "asking": asked, "signs": ["Seller", "Buyer"]}


def _by_level(place: Place, locale: Locale) -> list[list[str]]:
    """What the chart shows, level by level from the highest down: how many rows, and how far their prices go."""
    rows = []
    for group in [*reversed(place.groups), ""]:
        prices = sorted(point.shown for point in place.points if point.group == group)
        if prices:
            ends = prices[0], prices[(len(prices) - 1) // 2], prices[-1]
            rows.append([shorten(group) or "not said", f"{len(prices):,}", *(locale.about(price) for price in ends)])
    return rows


def _worth(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    price = sheet.base
    rows = [["The average vehicle of the table", "", "", locale.money(price, sheet.currency)]]
    for share in sheet.shares:
        price *= share.factor
        level = cell_text(share.cell, locale) if share.cell.text else ""
        effect = _effect(share.factor - 1, share.low - 1, share.high - 1, locale)
        rows.append([shorten(share.title), level, effect, locale.money(price, sheet.currency)])
    rows.append(["This vehicle", "", "", locale.money(sheet.estimate, sheet.currency)])
    return {
        "head": ["Attribute", "This vehicle", "Against the average", "Price so far"],
        "rows": rows,
        "strong": [0, len(rows) - 1],
        "words": "From the average vehicle of the table to this one, one attribute at a time; the effects multiply. "
        f"The range in brackets holds the effect in {_in_ten(sheet.coverage)}.",
    }


def _changes(sheet: BuyerSheet, locale: Locale) -> dict[str, Any]:
    """One row for each attribute, with up to two changes side by side."""
    rows = []
    for name in dict.fromkeys(change.attribute for change in sheet.changes):
        own = [change for change in sheet.changes if change.attribute == name]
        said = [_change_words(change, locale) for change in own[:2]]
        here = "" if own[0].kind in ("per_year", "yes_no") else cell_text(own[0].from_cell, locale)
        rows.append([shorten(own[0].title), here, *said, *[""] * (2 - len(said))])
    return {
        "head": ["Attribute", "This vehicle", "Instead", "Or"],
        "rows": rows,
        "words": "One attribute at a time, all else unchanged: the change of the price, in brackets the range that "
        f"holds it in {_in_ten(sheet.coverage)}, and the amount.",
    }


def _change_words(change: Change, locale: Locale) -> str:
    start, end = cell_text(change.from_cell, locale), cell_text(change.to_cell, locale)
    what = {"per_year": f"a year's drift, {start} to {end}", "yes_no": f"{end} against {start}"}.get(change.kind, end)
    amount = locale.about(change.money)
    sign = "+" if change.money > 0 and amount != "0" else ""
    effect = _effect(change.percent / 100, change.low_percent / 100, change.high_percent / 100, locale)
    return f"{what}: {effect}, {sign}{amount}"


def _effect(middle: float, low: float, high: float, locale: Locale) -> str:
    """A relative change and its range, such as ``+29 % (+25 to +33)``."""
    ends = [locale.percent(end, sign=True).removesuffix(f"{HARD}%") for end in (low, high)]
    return f"{locale.percent(middle, sign=True)} ({ends[0]} to {ends[1]})"


def _ground(sheet: BuyerSheet, locale: Locale) -> list[str]:
    ground = sheet.ground
    first = f"{_several(ground.sold, 'sale')}"
    if ground.first_sale and ground.last_sale:
        first += f", from {locale.date(ground.first_sale)} to {locale.date(ground.last_sale)}"
    if ground.median_age_months is not None and ground.median_age_months >= 0:
        first += f"; half of the rows are younger than {_several(round(ground.median_age_months), 'month')}"
    said = [first + "."]
    sided = []
    if ground.bid_not_met:
        sided.append(f"{_several(ground.bid_not_met, 'bid')} that did not meet the reserve")
    if ground.asking:
        sided.append(f"{_several(ground.asking, 'asking price')}")
    if sided:
        said.append(f"Also {' and '.join(sided)}, which say only on which side of them the price lies.")
    if ground.not_shown:
        said.append(
            f"{_several(ground.not_shown, 'row')} of the table {'is' if ground.not_shown == 1 else 'are'} the shop's "
            f"own affair and not shown on this sheet; {'it counts' if ground.not_shown == 1 else 'they count'} in the "
            "estimate like any other."
        )
    if ground.set_aside:
        said.append(
            f"{_several(ground.set_aside, 'row')} of the table set aside for faults or as sales that were not "
            "between strangers."
        )
    said.append(_trial_words(ground.trial, locale))
    said.append(f"Table {shorten(ground.table) or 'without a name'}, fingerprint {ground.table_fingerprint[:16]}.")
    return said


def _trial_words(trial: Trial | None, locale: Locale) -> str:
    if trial is None:
        return "How the method does on sales it has not seen was not tested for this sheet."
    how = "from all the others" if trial.how == "left out" else "from earlier ones only"
    return (
        f"The method was tested on {_several(trial.sales, 'sale')} of the same table, each priced {how} as if unseen: "
        f"{trial.inside} fell inside the interval, where {trial.coverage * trial.sales:.0f} were promised, and half of "
        f"the estimates were within {locale.percent(trial.median_error_percent / 100)} of the price."
    )


def _several(count: int, thing: str) -> str:
    return f"{count:,} {thing}" + ("" if count == 1 else "s")
