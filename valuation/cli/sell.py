"""``valuation bands`` and ``offer``: the sell side."""

from __future__ import annotations

import argparse
import datetime as dt
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

from valuation.answers.bands import bands as bands_answer
from valuation.answers.bands import with_own_talks
from valuation.answers.given import amount_in, told_plans
from valuation.answers.offer import offer as offer_answer
from valuation.build.figures import about, at_least, chance, odds_said
from valuation.build.plan import BuildPlan
from valuation.build.under_way import with_progress
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for, next_command, progress_words, quoted
from valuation.cli.progress import progress
from valuation.cli.show import bullet, listing, one_screen, paragraph, print_json, table
from valuation.day import day_of
from valuation.errors import OfferError, PlanError
from valuation.regression.model import PriceModel
from valuation.sell.bands import PriceBands
from valuation.sell.offer_log import OfferLog, held_offer_log, read_offer_log, write_offer_log
from valuation.sell.offers import Offer, OfferAnswer
from valuation.sell.prospect import time_said
from valuation.text.language import say
from valuation.text.rounding import rounded


def bands(arguments: argparse.Namespace) -> int:
    """Floor, target and ask."""
    told = told_plans(arguments.subject, as_written=arguments.as_written)
    if len(told) > 1:
        raise PlanError(
            f"Cannot name floor, target and ask for {len(told)} subjects at once: they are for one vehicle. Give one "
            "plan or one vehicle."
        )
    model = model_for(arguments, near=told[0].file)
    price = amount_in(arguments.price, model.currency, "--price")
    [own] = with_progress([told[0].plan(model)], arguments.bought, arguments.done, model.currency)
    report = _bands(model, _own(own, arguments.ledger), arguments.as_of, price)
    if arguments.json:
        print_json(report)
    else:
        words = ("talks.json", "AMOUNT", "--asked", f"{rounded(report.ask):.0f}")
        subject = ["--plan", quoted([told[0].file])] if told[0].file and not told[0].words else []
        then = next_command("offer", arguments, *words, *subject, *progress_words(arguments))
        _show_bands(report, say("Next, when somebody offers: {command}", command=then), all_of_it=arguments.all)
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
    [own] = with_progress([told_plans([str(subject)])[0].plan(model)], arguments.bought, arguments.done, model.currency)
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
        then = say("Next, what each step of the talks leads to: {command}", command=_bands_of(arguments, subject))
        _show_answer(answer, day, then, all_of_it=arguments.all)
    return DONE


def _bands_of(arguments: argparse.Namespace, subject: Path) -> str:
    return next_command("bands", arguments, quoted([str(subject)]), "--all", *progress_words(arguments))


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


def _show_bands(report: PriceBands, then: str, *, all_of_it: bool) -> None:
    """Print the three prices and the ways to sell; with all of it, what these rest on and what other asks lead to."""
    with one_screen(report.notes, then, all_of_them=all_of_it):
        paragraph(report.sentence)
        print()
        meaning = say("under this, waiting is worth more")
        for later in report.floors[1:2]:
            meaning += say("; {floor} from {day}", floor=at_least(later.floor), day=later.day)
        rows = [
            (say("floor"), at_least(report.floor), meaning),
            (say("target"), about(report.target), say("expected after talks")),
            (say("ask"), about(report.ask), say("the opening price")),
            (say("estimate"), about(report.estimate), say("the middle price on {day}", day=report.sale_date)),
        ]
        if report.break_even is not None:
            rows.append((say("break-even"), at_least(report.break_even), say("what was spent does not move the floor")))
        listing(rows)
        if report.markdown:
            asks = ", ".join(say("{ask} from {day}", ask=about(one.ask), day=one.from_day) for one in report.markdown)
            paragraph(say("It must go: while it stays unsold, ask {asks}.", asks=asks), indent="  ")
        print()
        table(
            (say("where to sell"), say("net to you"), say("one in ten under"), say("weeks"), say("unsold there")),
            [
                (way.name, about(way.net), about(way.bad_tenth), _weeks(way.weeks), chance(way.odds_unsold))
                for way in report.ways
            ],
            spare=(2, 4),
        )
        if all_of_it:
            _show_more(report)


def _show_more(report: PriceBands) -> None:
    """What the ways to sell rest on, and what other asks lead to."""
    print()
    for way in report.ways:
        reserve = ""
        if way.reserve is not None:
            reserve = say("; the best reserve is a hammer price of {price}", price=about(way.reserve))
        bullet(f"{way.name}: {way.how}{reserve}.")
    print()
    table(
        (say("if this were asked"), say("expected price"), say("weeks")),
        [(about(one.ask), about(one.expected_price), _weeks(one.expected_weeks)) for one in report.asks],
        left=0,
    )


def _weeks(weeks: float | None) -> str:
    return say("over two years") if weeks is None else f"{weeks:.0f}"


def _show_answer(answer: OfferAnswer, day: dt.date, then: str, *, all_of_it: bool) -> None:
    """Print what to answer."""
    with one_screen(answer.notes, then, all_of_them=all_of_it) as more:
        paragraph(f"{answer.sentence} {say('This holds on {day}.', day=day)}")
        more(answer.why)
        more(answer.place)
        more(
            say(
                "Odds of a better offer within {weeks}: {odds}. Talks with this buyer usually meet at {price} "
                "({source}).",
                weeks=time_said(answer.weeks),
                odds=odds_said(answer.odds_of_better),
                price=about(answer.usual_meeting.price),
                source=answer.usual_meeting.source,
            )
        )
        if answer.profit is not None:
            more(say("Profit at this price: {profit}.", profit=about(answer.profit)))
