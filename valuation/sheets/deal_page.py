"""The deal sheet laid out: every figure written in the locale's way, ready for paper and for the screen alike."""

from __future__ import annotations

import datetime as dt
from typing import Any

from valuation.build.figures import odds_words
from valuation.notes import Note, each_once
from valuation.sheets.cautions import cautions
from valuation.sheets.chart_style import Chart
from valuation.sheets.cleaning import LONGEST_TITLE, clean_tree, shorten
from valuation.sheets.deal_builds import build_on_page, charts_of, to_the_error
from valuation.sheets.deal_charts import paths_picture
from valuation.sheets.deal_sheet import DealSheet
from valuation.sheets.seal import Seal
from valuation.text.locale import HARD, Locale
from valuation.text.spelling import counted

PRIVATE = "Private: not for the buyer"
_ANSWERS = {"accept": "take it", "counter": "counter", "hold": "hold"}


def deal_page(sheet: DealSheet, locale: Locale, seal: Seal | None = None) -> dict[str, Any]:
    """Every word of the sheet, in the order in which it is read; plain data with cleaned text.

    Parameters
    ----------
    sheet : DealSheet
    locale : Locale
    seal : Seal, optional
        That of a sheet which no ledger keeps unless given.
    """
    seal = seal or Seal.of(sheet, locale)
    title = shorten(sheet.vehicle, LONGEST_TITLE) or "Vehicle without a name"
    page: dict[str, Any] = {
        "paper": locale.paper,
        "lang": "en",
        "author": shorten(sheet.shop, LONGEST_TITLE),
        "keywords": ["private", seal.keyword],
        "title": title,
        "marked": PRIVATE,
        "kicker": "The deal" + (f", for {shorten(sheet.shop, LONGEST_TITLE)} alone" if sheet.shop else ""),
        "subtitle": f"As of {locale.date(sheet.as_of)}; all money"
        + (f" in {shorten(sheet.currency, 12)}" if sheet.currency else " in the table's unit"),
        "footer": f"{shorten(sheet.vehicle, 60)}, as of {locale.date(sheet.as_of)}. {PRIVATE}.",
        "decision": _decision(sheet),
        "goal": f"{_asked(sheet, locale)} The goal: {sheet.paths['goal']['words']}.",
        "spent": _spent(sheet, locale),
        "paths": _paths(sheet, locale),
        "builds": [build_on_page(build, sheet, locale) for build in sheet.shown_builds],
        "terms": _terms(sheet, locale),
        "bands": _bands(sheet, locale),
        "offers": _offers(sheet, locale),
        "notes": _notes(sheet),
        "cautions": list(cautions()),
        "seal": seal.for_shop(),
    }
    page, removed = clean_tree(page)
    if removed:
        page["notes"].append(f"Left out of the texts above: {counted(removed, 'character')} that cannot be printed.")
    return page


def _decision(sheet: DealSheet) -> str:
    """The decision, and when the path to go is ready."""
    if sheet.paths.get("today"):
        return str(sheet.paths["why"])
    best = next((path for path in sheet.paths["paths"] if path["name"] == sheet.paths["best"]), None)
    return " ".join(filter(None, [sheet.paths["why"], best["ready"] if best else ""]))


def _asked(sheet: DealSheet, locale: Locale) -> str:
    """The price at which everything holds, to the unit, as the page has it."""
    if sheet.price is None:
        return "No price was named: outlay, profit and odds leave it out."
    return f"Worked out at a purchase price of {locale.money(sheet.price, _unit(sheet))}."


def _notes(sheet: DealSheet) -> list[str]:
    """All that must be known of the paths, the builds and the price, each note once."""
    told = [
        *(note for path in sheet.paths["paths"] for note in path["notes"]),
        *sheet.paths.get("notes", []),  # sheets recorded by older versions have none here and in the steps
        *(note for build in sheet.builds for note in build["schedule"]["notes"]),
        *(note for build in sheet.builds for note in build["steps"].get("notes", [])),
        *sheet.bands["notes"],
        *(note for offer in sheet.offers[-1:] for note in offer["answer"]["notes"]),
    ]
    return [note.text for note in each_once(Note(note["code"], note["text"]) for note in told)]


def pictures(sheet: DealSheet, locale: Locale) -> list[Chart]:
    """The charts of the sheet in the order of :func:`places`.

    Parameters
    ----------
    sheet : DealSheet
    locale : Locale
    """
    return [
        paths_picture(sheet.paths["paths"], _unit(sheet), locale.about),
        *(chart for build in sheet.shown_builds for chart in charts_of(build, _unit(sheet), locale)),
    ]


def places(page: dict[str, Any]) -> list[dict[str, Any]]:
    """The parts of a page that take a chart."""
    return [page["paths"], *(build[part] for build in page["builds"] for part in ("steps", "schedule"))]


def _unit(sheet: DealSheet) -> str:
    return shorten(sheet.currency, 12)


def _range(figures: dict[str, float], locale: Locale) -> str:
    return f"{locale.about(figures['mean'])}\n{locale.about(figures['low'])} to {locale.about(figures['high'])}"


def _spent(sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    rows = [[shorten(entry.what) or "not said", locale.money(entry.amount, cents=True)] for entry in sheet.spent]
    if rows:
        rows.append(["In all", locale.money(sheet.spent_in_all, cents=True)])
    price = "no price was named" if sheet.price is None else f"the price is {locale.money(sheet.price)}"
    return {
        "head": ["What", "Money"],
        "rows": rows,
        "strong": [len(rows) - 1] if rows else [],
        "words": f"Nothing is entered as spent so far; {price}."
        if not rows
        else " ".join([*_today(sheet, locale), "What was spent does not move the floor."]),
    }


def _today(sheet: DealSheet, locale: Locale) -> list[str]:
    """Where each build under way stands, and what each way to go on brings over selling it as it stands."""
    told = []
    for one in sheet.paths.get("today", []):
        ways = "; ".join(f"{way['name']} {locale.about(way['better_by'])}" for way in one["ways"])
        told.append(f"{one['state']['words']} Better than selling it as it stands by: {ways}.")
    return told


def _paths(sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    paths = sheet.paths["paths"]

    def row(label: str, figure: Any) -> list[str]:
        return [label, *(figure(path) for path in paths)]

    def most(path: dict[str, Any]) -> str:
        amount = path["most_to_pay"]
        return "walk away" if amount <= 0 else locale.at_most(amount)

    rows = [
        row("Most to pay", most),
        row("Outlay", lambda path: _range(path["outlay"], locale)),
        row("Sale price", lambda path: _range(path["sale_price"], locale)),
        row(
            "Expected profit",
            lambda path: to_the_error(path["expected_profit"], path["simulation_errors"]["expected_profit"], locale),
        ),
        row("One in ten ends below", lambda path: locale.about(path["bad_tenth"])),
        row("Odds of a loss", lambda path: odds_words(path["odds_of_loss"])),
        row("Return on outlay", lambda path: locale.percent(path["return_percent"] / 100)),
        row("The same, a year", lambda path: locale.percent(path["yearly_percent"] / 100)),
        row("Profit per week in the bay", lambda path: _or_none(path["profit_per_bay_week"], locale.about)),
        row("Multiple of outlay", lambda path: locale.number(path["multiple_of_outlay"], 2)),
        row("Weeks until paid", lambda path: _weeks(path["weeks"], locale)),
        row("Odds of making the event", lambda path: _or_none(path["odds_of_event"], odds_words)),
        row("Odds of beating the sale as found", lambda path: _or_none(path["odds_better_than_as_found"], odds_words)),
    ]
    return {
        "head": ["", *(shorten(path["name"], 40) for path in paths)],
        "rows": [one for one in rows if any(cell != "none" for cell in one[1:])],
        "strong": [0, 3],
        "title": pictures(sheet, locale)[0].title,
        "alt": pictures(sheet, locale)[0].alt,
        "proofs": [f"{shorten(path['name'])}: {path['most_to_pay_proof']['proof']}" for path in paths],
        "rules": [sheet.paths["rule_of_thumb"]],
    }


def _or_none(value: Any, write: Any) -> str:
    return "none" if value is None else write(value)


def _weeks(figures: dict[str, float], locale: Locale) -> str:
    return f"{locale.number(figures['mean'])}\n{locale.number(figures['low'])} to {locale.number(figures['high'])}"


def _bands(sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    bands = sheet.bands
    usual = bands["usual_settlement"]
    rows = [
        [
            "Floor",
            "under this, waiting is worth more; what was spent does not move it",
            locale.at_least(bands["floor"]),
        ],
        ["Target", "expected after talks", locale.about(bands["target"])],
        ["Ask", "the opening price", locale.about(bands["ask"])],
        ["Estimate", f"the middle price on {_day(bands['sale_date'], locale)}", locale.about(bands["estimate"])],
        [
            "Usual settlement",
            f"{usual['under_ask_percent']:.3g} % under the ask ({usual['source']})",
            locale.about(usual["price"]),
        ],
        ["Buy at or below", "the goal is just met", locale.at_most(bands["buy_at_or_below"])],
        ["Walk away above", "the goal is not met even on average", locale.at_most(bands["walk_away_above"])],
    ]
    if bands["break_even"] is not None:
        rows.insert(3, ["Break-even", "the expected outlay comes back", locale.at_least(bands["break_even"])])
    return {
        "name": shorten(sheet.bands_for),
        "head": ["", "Meaning", "Money"],
        "rows": rows,
        "strong": [0, 1, 2],
        "asks": {
            "head": ["If this were asked", "Expected price", "Weeks"],
            "rows": [
                [
                    locale.about(one["ask"]),
                    locale.about(one["expected_price"]),
                    "over two years" if one["expected_weeks"] is None else locale.number(one["expected_weeks"]),
                ]
                for one in bands["asks"]
            ],
        },
        "proof": bands["most_to_pay_proof"],
        "sentence": bands.get("sentence", ""),  # sheets recorded by older versions have none, nor ways to sell
        "ways": {
            "head": ["Where to sell", "Net to you", "One in ten under", "Unsold there"],
            "rows": [
                [way["name"], locale.about(way["net"]), locale.about(way["bad_tenth"]), odds_words(way["odds_unsold"])]
                for way in bands.get("ways", [])
            ],
        },
    }


def _day(text: str, locale: Locale) -> str:
    return locale.date(dt.date.fromisoformat(text))


def _terms(sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    """What the three prices and the outlay assume of the sale and of the shop; none on older sheets."""
    if sheet.terms is None:
        return {"head": [], "rows": []}
    sale, shop = sheet.terms["sale"], sheet.terms["shop"]
    weeks = sale["weeks_to_sell"]

    def amount(value: float) -> str:
        return locale.money(value) if value else "nothing"

    def share(value: float) -> str:
        return f"{value:g}{HARD}%"

    rows = [
        ["Serious offers to expect", f"{sale['offers_per_month']:g} a month"],
        ["Weeks until it is sold and paid", f"{weeks['likely']:g}, from {weeks['low']:g} to {weeks['high']:g}"],
        ["Talks end under the opening ask by", share(sale["settle_under_ask_percent"])],
        ["Offers for one vehicle scatter by at least", share(sale["offer_spread_percent"])],
        ["Of buyers who get a counter, so many leave", share(sale["walk_away_percent"])],
        ["Of buyers of two minds, an ask higher by a tenth keeps away", share(sale["buyers_lost_percent"])],
        ["Buyers reached, of those who usually come", share(sale["reach_percent"])],
        ["Sold at the latest by", "no deadline" if sale["deadline"] is None else _day(sale["deadline"], locale)],
        ["Seller's fee and tax on the price", share(sale["fee_percent"] + sale["tax_percent"])],
        ["Fixed costs of the sale", amount(sale["fees"] + sale["transport"])],
        ["At auction: seller's fee, buyer's premium, bidders",
         f"{share(sale['auction_fee_percent'])}, {share(sale['auction_premium_percent'])}, {sale['auction_bidders']}"],
        ["The trade pays under the estimate by", share(sale["trade_under_percent"])],
        ["On consignment the dealer keeps", share(sale["consignment_fee_percent"])],
        ["An hour of the shop's own work", amount(shop["labour_rate"])],
        ["Holding a week; the shop's overhead a week, over bays",
         f"{amount(shop['holding_per_week'])}; {amount(shop['overhead_per_week'])}, {shop['bays']}"],
        ["Money costs a year", share(shop["interest_percent"])],
    ]  # fmt: skip
    return {"head": ["What was assumed of the sale and the shop", ""], "rows": rows}


def _by_buyer(sheet: DealSheet) -> list[dict[str, Any]]:
    """The offers buyer by buyer, each buyer's in their order; buyers as they first came."""
    buyers = list(dict.fromkeys(_who(offer) for offer in sheet.offers))
    return sorted(sheet.offers, key=lambda offer: buyers.index(_who(offer)))


def _who(offer: dict[str, Any]) -> str:
    return str(offer["buyer"]).strip().casefold()


def _offers(sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    rows = []
    for offer in _by_buyer(sheet):
        answer = offer["answer"]
        said = _ANSWERS[answer["answer"]]
        if answer["counter"] is not None:
            said += f" {locale.about(answer['counter'])}"
        rows.append(
            [
                shorten(offer["buyer"], 40) or "not said",
                _day(offer["date"], locale) if offer["date"] else "undated",
                locale.money(offer["amount"]),
                said,
                "not known" if answer["profit"] is None else locale.about(answer["profit"]),
                odds_words(answer["odds_of_better"]),
            ]
        )
    words = list(sheet.standing)
    if sheet.offers and not words:
        answer = sheet.offers[-1]["answer"]
        words = [f"{answer.get('sentence', '')} {answer['why']}".strip()]
    return {
        "head": ["From", "Date", "Offer", "Answer", "Profit", "Odds of better"],
        "rows": rows,
        "words": words or ["No offer so far."],
    }
