"""``valuation bands`` and ``offer``: the sell side."""

from __future__ import annotations

import argparse
import datetime as dt
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

from valuation.answers.bands import bands as bands_answer
from valuation.answers.bands import with_own_talks
from valuation.answers.given import amount_in, plan_of_file
from valuation.answers.offer import offer as offer_answer
from valuation.build.figures import about, at_least, odds_words
from valuation.build.plan import BuildPlan
from valuation.build.under_way import with_progress
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for
from valuation.cli.progress import progress
from valuation.cli.show import bullet, notes, one_screen, paragraph, print_json, table
from valuation.day import day_of
from valuation.errors import OfferError
from valuation.regression.model import PriceModel
from valuation.sell.bands import PriceBands
from valuation.sell.offer_log import OfferLog, held_offer_log, read_offer_log, write_offer_log
from valuation.sell.offers import Offer, OfferAnswer
from valuation.sell.prospect import in_words
from valuation.sell.sentences import on_day


def bands(arguments: argparse.Namespace) -> int:
    """Floor, target and ask."""
    model = model_for(arguments, near=arguments.subject)
    price = amount_in(arguments.price, model.currency, "--price")
    [own] = with_progress([plan_of_file(arguments.subject, model)], arguments.bought, arguments.done, model.currency)
    report = _bands(model, _own(own, arguments.ledger), arguments.as_of, price)
    if arguments.json:
        print_json(report)
    else:
        _show_bands(report, all_of_it=arguments.all)
    return DONE


def offer(arguments: argparse.Namespace) -> int:
    """Answer an offer and add it to the log."""
    file = Path(arguments.log)
    plan = arguments.plan or _log(file).plan
    if not plan:
        raise OfferError(
            f"Cannot answer the offer: the log {file.name} does not say what is sold. Name the plan or the vehicle "
            "once with --plan FILE."
        )
    subject = Path(plan) if arguments.plan else _from_log(file, plan)
    model = model_for(arguments, near=str(subject))
    day = day_of(arguments.as_of)
    price = amount_in(arguments.price, model.currency, "--price")
    asked = amount_in(arguments.asked, model.currency, "--asked")
    [own] = with_progress([plan_of_file(str(subject), model)], arguments.bought, arguments.done, model.currency)
    sold = _own(own, arguments.ledger)
    report = _bands(model, sold, day, price)
    made = Offer(amount_in(arguments.amount, arguments.currency or model.currency, "the offer"), day, arguments.buyer)
    # The slow part is done: from here on the offers that others enter at the same moment come before this or after it.
    with nullcontext(_log(file)) if arguments.dry_run else held_offer_log(file) as log:
        log = replace(log, plan=plan, asked=asked if asked is not None else log.asked)
        talks = replace(log, offers=(*log.offers, made), currency=arguments.currency or log.currency)
        answer = offer_answer(report, sold.sale, talks)
        if not arguments.dry_run:
            write_offer_log(file, log.added(made))
    if arguments.json:
        print_json(answer)
    else:
        _show_answer(answer)
    return DONE


def _log(file: Path) -> OfferLog:
    return read_offer_log(file) if file.exists() else OfferLog(subject=file.stem)


def _from_log(log: Path, plan: str) -> Path:
    """The subject's file as the log names it: from the log's folder, else from here."""
    beside = log.parent / plan
    return beside if beside.exists() else Path(plan)


def _own(plan: BuildPlan, ledger: str | None) -> BuildPlan:
    """The plan with what the shop's finished talks teach, where a ledger is named."""
    if ledger is None:
        return plan
    from valuation.ledger import Ledger
    from valuation.ledger.finished_talks import finished_talks

    with Ledger.open(ledger) as book:
        return with_own_talks(plan, finished_talks(book))


def _bands(model: PriceModel, plan: BuildPlan, day: dt.date | None, price: float | None) -> PriceBands:
    with progress("Working out floor, target and ask"):
        return bands_answer(model, plan, day, price=price)


def _show_bands(report: PriceBands, *, all_of_it: bool) -> None:
    """Print the three prices and the ways to sell; with all of it, what these rest on and what other asks lead to."""
    with one_screen(report.notes, "Next: valuation offer LOG AMOUNT (what to answer).", all_of_them=all_of_it):
        paragraph(report.sentence)
        print()
        later = "".join(f"; {at_least(one.floor)} from {on_day(one.day)}" for one in report.floors[1:2])
        rows = [
            ("floor", at_least(report.floor), f"under this, waiting is worth more{later}"),
            ("target", about(report.target), "expected after talks"),
            ("ask", about(report.ask), "the opening price"),
            ("estimate", about(report.estimate), f"the middle price on {on_day(report.sale_date)}"),
        ]
        if report.break_even is not None:
            rows.append(("break-even", at_least(report.break_even), "what was spent does not move the floor"))
        for name, figure, meaning in rows:
            print(f"  {name:<11}{figure:>9}  {meaning}")
        if report.markdown:
            asks = ", ".join(f"{about(one.ask)} from {on_day(one.from_day)}" for one in report.markdown)
            paragraph(f"It must go: while it stays unsold, ask {asks}.", indent="  ")
        print()
        table(
            ("where to sell", "net to you", "one in ten under", "weeks", "unsold there"),
            [
                (way.name, about(way.net), about(way.bad_tenth), _weeks(way.weeks), odds_words(way.odds_unsold))
                for way in report.ways
            ],
        )
        if all_of_it:
            _show_more(report)


def _show_more(report: PriceBands) -> None:
    """What the ways to sell rest on, and what other asks lead to."""
    print()
    for way in report.ways:
        reserve = "" if way.reserve is None else f"; the best reserve is a hammer price of {about(way.reserve)}"
        bullet(f"{way.name}: {way.how}{reserve}.")
    print()
    table(
        ("if this were asked", "expected price", "weeks"),
        [(about(one.ask), about(one.expected_price), _weeks(one.expected_weeks)) for one in report.asks],
        left=0,
    )


def _weeks(weeks: float | None) -> str:
    return "over two years" if weeks is None else f"{weeks:.0f}"


def _show_answer(answer: OfferAnswer) -> None:
    """Print what to answer."""
    paragraph(answer.sentence)
    print()
    paragraph(answer.why, indent="  ")
    paragraph(answer.place, indent="  ")
    paragraph(
        f"Odds of a better offer within {in_words(answer.weeks)}: {odds_words(answer.odds_of_better)}. Talks with this "
        f"buyer usually meet at {about(answer.usual_meeting.price)} ({answer.usual_meeting.source}).",
        indent="  ",
    )
    if answer.profit is not None:
        print(f"  Profit at this price: {about(answer.profit)}.")
    notes(answer.notes)
