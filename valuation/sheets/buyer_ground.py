"""What an estimate rests on, in sentences for a buyer."""

from __future__ import annotations

from valuation.sheets.buyer_summary import Ground, Trial
from valuation.sheets.cleaning import shorten
from valuation.text.language import Said, say, say_count
from valuation.text.locale import Locale


def ground_words(ground: Ground, locale: Locale) -> list[str]:
    """Which sales the estimate rests on, and how the method fared on them.

    Parameters
    ----------
    ground : Ground
    locale : Locale
    """
    first = [say_count("{n} sale", "{n} sales", ground.sold)]
    if ground.first_sale and ground.last_sale:
        days = locale.date(ground.first_sale), locale.date(ground.last_sale)
        first = [say("{sales}, from {first} to {last}", sales=first[0], first=days[0], last=days[1])]
    if ground.median_age_months is not None and ground.median_age_months >= 0:
        first.append(
            say_count(
                "half of the rows are younger than {n} month",
                "half of the rows are younger than {n} months",
                round(ground.median_age_months),
            )
        )
    said = ["; ".join(first) + "."]
    sided = []
    if ground.bid_not_met:
        sided.append(
            say_count(
                "Also {n} bid that did not meet the reserve, which says only that the price lies about there or above.",
                "Also {n} bids that did not meet the reserve, which say only that the price lies about there or above.",
                ground.bid_not_met,
            )
        )
    if ground.asking:
        sided.append(
            say_count(
                "Also {n} asking price, which says only that the price lies about there or below.",
                "Also {n} asking prices, which say only that the price lies about there or below.",
                ground.asking,
            )
        )
    said += sided
    if ground.not_shown:
        said.append(
            say_count(
                "{n} row of the table is the shop's own affair and not shown on this sheet; it counts in the estimate "
                "like any other.",
                "{n} rows of the table are the shop's own affair and not shown on this sheet; they count in the "
                "estimate like any other.",
                ground.not_shown,
            )
        )
    if ground.set_aside:
        said.append(
            say_count(
                "{n} row of the table set aside for faults or as a sale that was not between strangers.",
                "{n} rows of the table set aside for faults or as sales that were not between strangers.",
                ground.set_aside,
            )
        )
    said.append(trial_words(ground.trial, locale))
    said.append(
        say(
            "Table {name}, fingerprint {digits}.",
            name=Said(shorten(ground.table) or say("without a name")),
            digits=Said(ground.table_fingerprint[:16]),
        )
    )
    return said


def trial_words(trial: Trial | None, locale: Locale) -> str:
    """How the method fared on sales that it had not seen.

    Parameters
    ----------
    trial : Trial or None
        None where it was not tested.
    locale : Locale
    """
    if trial is None:
        return say("How the method does on sales it has not seen was not tested for this sheet.")
    figures = {
        "sales": locale.number(trial.sales),
        "inside": locale.number(trial.inside),
        "promised": locale.number(trial.coverage * trial.sales),
        "error": locale.percent(trial.median_error_percent / 100),
    }
    if trial.how == "left out":
        return say(
            "The method was tested on {sales} sales of the same table, each priced from all the others as if unseen: "
            "{inside} fell inside the interval, where {promised} were promised, and half of the estimates were within "
            "{error} of the price.",
            **figures,
        )
    return say(
        "The method was tested on {sales} sales of the same table, each priced from earlier ones only as if unseen: "
        "{inside} fell inside the interval, where {promised} were promised, and half of the estimates were within "
        "{error} of the price.",
        **figures,
    )
