"""The tables of a plan's file, and of the shop's: each read by itself, with refusals that name key, value and mend."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from valuation.build.bounds import MOST_JOBS, MOST_STEPS
from valuation.build.plan import NOTHING, ShopSettings, Step
from valuation.build.terms import USUAL_INTEREST, USUAL_WEEKS_TO_SELL, BuyersWish, Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import Overrun, Shape
from valuation.build.toml_table import TomlTable
from valuation.errors import PlanError, VehicleError, shown
from valuation.schema.schema import Schema
from valuation.schema.values import Value
from valuation.schema.vehicle import Vehicle, parse_vehicle
from valuation.text.numbers import finite_number

Made = TypeVar("Made")

_SALE_PERCENTS = (
    "reach_percent", "buyers_lost_percent", "auction_fee_percent", "auction_premium_percent",
    "trade_under_percent", "consignment_fee_percent",
)  # fmt: skip


def steps_of(top: TomlTable, schema: Schema, found: Vehicle, needed: bool) -> tuple[Step, ...]:
    """The steps of a plan, or of the shop's book.

    Parameters
    ----------
    top : TomlTable
        The whole file.
    schema : Schema
        By which what they set is read.
    found : Vehicle
        As found: has what the schema does not do without.
    needed : bool
        Whether a file without steps is refused.

    Raises
    ------
    PlanError
        A step contradicts itself or the schema.
    """
    rows = top.data.get("steps", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise top.refusal("steps", f"is {shown(rows)}.", "Start each step with a line [[steps]].")
    if len(rows) > MOST_STEPS:
        raise top.refusal("steps", f"has {len(rows)} steps.", f"At most {MOST_STEPS} are accepted. Put some together.")
    if needed and not rows:
        raise top.refusal(
            "steps", "is missing: a build plan needs at least one step.", "Add one that starts with a line [[steps]]; "
            "selling as found is always compared and needs no plan.",
        )  # fmt: skip
    return tuple(
        _step(TomlTable(top.file, f"[[steps]] {i + 1}", row, currency=top.currency), schema, found)
        for i, row in enumerate(rows)
    )


def _step(table: TomlTable, schema: Schema, found: Vehicle) -> Step:
    table.only("id", "what", "cost", "hours", "parts_weeks", "order_parts", "after", "after_if_done", "people", "sets")
    name = table.text("id")
    table.name = f"step '{name}':"
    order = table.choice("order_parts", "at start", ("at start", "when ready"))
    return _named(
        table,
        lambda: Step(
            id=name,
            what=table.text("what", ""),
            cost=table.three_point("cost", NOTHING, "money"),
            hours=table.three_point("hours", NOTHING, "hours"),
            parts_weeks=table.three_point("parts_weeks", NOTHING, "weeks"),
            order_when_ready=order == "when ready",
            after=table.words("after"),
            after_if_done=table.words("after_if_done"),
            people=table.whole("people", 1, "people"),
            sets=_sets(table, schema, found),
        ),
    )


def _sets(table: TomlTable, schema: Schema, found: Vehicle) -> dict[str, Value]:
    """The attributes after a step, read as the schema reads them."""
    sets = table.data.get("sets", {})
    if not isinstance(sets, dict):
        raise table.refusal("sets", f"is {shown(sets)}.", 'Write sets = { condition = "driver" }.')
    if not sets:
        return {}
    # What the schema does not do without is taken from the vehicle as found, only to satisfy it.
    indispensable = {a.name: found.attributes[a.name] for a in schema.attributes if a.missing == "refuse"}
    try:
        after = parse_vehicle({**indispensable, **sets}, schema, "step").attributes
    except VehicleError as problem:
        message = f"Cannot use the plan {table.file}: {table.name} sets: {problem}"
        raise PlanError(message, where=table.where("sets")) from None
    return {name: value for name, value in after.items() if indispensable.get(name) != value}


def shop_of(top: TomlTable, defaults: list[str]) -> ShopSettings:
    """The shop's settings under [shop] and [overrun].

    Parameters
    ----------
    top : TomlTable
        The whole file.
    defaults : list of str
        Filled with what is left to this program, in words.
    """
    table = top.table("shop") or TomlTable(top.file, "[shop]", {})
    table.only(
        "labour_rate", "crew", "hours_per_week", "bays", "holding_per_week", "overhead_per_week", "interest_percent"
    )
    builds = bool(top.data.get("steps"))  # of a vehicle that is sold as it stands nothing is built
    overrun_table = top.table("overrun")
    overrun, spread = _overrun(overrun_table) if overrun_table else (Overrun(), "triangular")
    if builds and overrun_table is None:
        defaults.append(
            f"Overrun: the plan gives none, so a typical build is taken to run {100 * (overrun.typical - 1):.0f} % "
            f"over its likely figures and one in ten {100 * (overrun.one_in_ten - 1):.0f} % or more (common practice, "
            "no source). Replace it under [overrun], or list past_jobs there."
        )
    usual = ShopSettings()
    interest = _interest(top, table, defaults)
    shop = _named(
        table,
        lambda: ShopSettings(
            labour_rate=table.number("labour_rate", usual.labour_rate, "money per hour"),
            crew=table.whole("crew", usual.crew, "people"),
            hours_per_week=table.number("hours_per_week", usual.hours_per_week, "hours of one person"),
            bays=table.whole("bays", usual.bays, "bays"),
            holding_per_week=table.number("holding_per_week", usual.holding_per_week, "money per week"),
            overhead_per_week=table.number("overhead_per_week", usual.overhead_per_week, "money per week"),
            interest_percent=interest,
            overrun=overrun,
            spread=cast(Shape, spread),
        ),
    )
    if builds and "hours_per_week" in table.absent:
        defaults.append(
            f"Hours: one person is taken to give {usual.hours_per_week:g} hours a week to it. Set hours_per_week under "
            "[shop]."
        )
    return shop


def _interest(top: TomlTable, shop: TomlTable, defaults: list[str]) -> float:
    """What money costs a year; older plans say it as ``discount_percent`` under [sale]."""
    sale = top.table("sale") or TomlTable(top.file, "[sale]", {})
    older = sale.number("discount_percent", USUAL_INTEREST, "percent a year")
    interest = shop.number("interest_percent", older, "percent a year")
    if "interest_percent" in shop.data and "discount_percent" in sale.data and older != interest:
        defaults.append(
            f"Money: it costs {interest:g} % a year, as interest_percent under [shop] says, when building and when "
            f"selling; discount_percent under [sale], {older:g} %, is left aside. Take that line out."
        )
    elif "interest_percent" not in shop.data and "discount_percent" not in sale.data:
        defaults.append(
            f"Money: it is taken to cost {interest:g} % a year from the day it is spent (common practice, no source). "
            "Set interest_percent under [shop]."
        )
    return interest


def _overrun(table: TomlTable) -> tuple[Overrun, str]:
    table.only("typical", "one_in_ten", "spread", "past_jobs")
    spread = table.choice("spread", "triangular", ("triangular", "pert"))
    jobs = table.data.get("past_jobs")
    if jobs is None:
        usual = Overrun()
        typical = table.number("typical", usual.typical, "a factor")
        one_in_ten = table.number("one_in_ten", max(usual.one_in_ten, typical), "a factor")
        return _named(table, lambda: Overrun(typical, one_in_ten)), spread
    pairs = isinstance(jobs, list) and all(isinstance(job, list) and len(job) == 2 for job in jobs)
    if not pairs or not all(finite_number(figure) is not None for job in jobs for figure in job):
        raise table.refusal(
            "past_jobs", f"is {shown(jobs)}.", "Write past_jobs = [[planned, actual], [planned, actual]]."
        )
    if len(jobs) > MOST_JOBS:
        raise table.refusal("past_jobs", f"has {len(jobs)} jobs.", f"At most {MOST_JOBS} are accepted: the newest.")
    return _named(table, lambda: Overrun.from_jobs([job[0] for job in jobs], [job[1] for job in jobs])), spread


def purchase_of(top: TomlTable) -> Purchase:
    """What buying costs, under [purchase]."""
    table = top.table("purchase") or TomlTable(top.file, "[purchase]", {})
    table.only("asked", "fee_percent", "fee_minimum", "fees", "tax_percent", "transport")
    return _named(
        table,
        lambda: Purchase(
            asked=table.number("asked", 0.0, "money") if "asked" in table.data else None,
            fee_percent=table.number("fee_percent", 0.0, "percent"),
            fee_minimum=table.number("fee_minimum", 0.0, "money"),
            fees=table.number("fees", 0.0, "money"),
            tax_percent=table.number("tax_percent", 0.0, "percent"),
            transport=table.number("transport", 0.0, "money"),
        ),
    )


def sale_of(top: TomlTable, defaults: list[str]) -> SaleTerms:
    """How a vehicle is sold, under [sale] and [wish].

    Parameters
    ----------
    top : TomlTable
        The whole file.
    defaults : list of str
        Filled with what is left to this program, in words.
    """
    table = top.table("sale") or TomlTable(top.file, "[sale]", {})
    table.only(
        "venue", "fee_percent", "fees", "transport", "tax_percent", "offers_per_month", "weeks_to_sell", "deadline",
        "last_resort", "discount_percent", "offer_spread_percent", "walk_away_percent", "settle_under_ask_percent",
        "auction_bidders", *_SALE_PERCENTS,
    )  # fmt: skip
    usual = SaleTerms()
    sale = _named(
        table,
        lambda: SaleTerms(
            venue=table.text("venue", ""),
            fee_percent=table.number("fee_percent", 0.0, "percent"),
            fees=table.number("fees", 0.0, "money"),
            transport=table.number("transport", 0.0, "money"),
            tax_percent=table.number("tax_percent", 0.0, "percent"),
            offers_per_month=table.number("offers_per_month", usual.offers_per_month, "offers"),
            weeks_to_sell=table.three_point("weeks_to_sell", USUAL_WEEKS_TO_SELL, "weeks"),
            deadline=table.day("deadline"),
            last_resort=table.number("last_resort", 0.0, "money") if "last_resort" in table.data else None,
            walk_away_percent=table.number("walk_away_percent", usual.walk_away_percent, "percent"),
            offer_spread_percent=table.number("offer_spread_percent", usual.offer_spread_percent, "percent"),
            settle_under_ask_percent=table.number(
                "settle_under_ask_percent", usual.settle_under_ask_percent, "percent"
            ),
            auction_bidders=table.whole("auction_bidders", usual.auction_bidders, "bidders"),
            wish=_wish(top),
            **{key: table.number(key, getattr(usual, key), "percent") for key in _SALE_PERCENTS},
        ),
    )
    if "weeks_to_sell" in table.absent:
        defaults.append(
            f"Sale: selling is taken to last {usual.weeks_to_sell.low:g} to {usual.weeks_to_sell.high:g} weeks, likely "
            f"{usual.weeks_to_sell.likely:g} (common practice, no source). Set weeks_to_sell under [sale]."
        )
    return sale


def _wish(top: TomlTable) -> BuyersWish | None:
    table = top.table("wish")
    if table is None:
        return None
    table.only("attribute", "level", "premium_percent", "sure_percent")
    return _named(
        table,
        lambda: BuyersWish(
            attribute=table.text("attribute"),
            level=table.text("level"),
            premium_percent=table.number("premium_percent", 0.0, "percent"),
            sure_percent=table.number("sure_percent", 100.0, "percent"),
        ),
    )


def goal_of(top: TomlTable, defaults: list[str]) -> Goal:
    """What is wanted of a deal, under [goal].

    Parameters
    ----------
    top : TomlTable
        The whole file.
    defaults : list of str
        Filled with what is left to this program, in words.
    """
    table = top.table("goal")
    if table is None:
        usual = Goal()
        defaults.append(f"Goal: the plan gives none, so it is {usual.words}. Write your own under [goal].")
        return usual
    table.only("margin_percent", "multiple_of_outlay", "profit", "sure_percent")
    given = [key for key in ("margin_percent", "multiple_of_outlay", "profit") if key in table.data]
    if not given:
        raise table.refusal("", "gives no goal.", "Write margin_percent = 20, multiple_of_outlay = 2 or profit = 5000.")
    if "margin_percent" in given and "multiple_of_outlay" in given:
        raise table.refusal("multiple_of_outlay", "stands beside margin_percent.", "Keep one of the two.")
    margin = table.number("margin_percent", 0.0, "percent of outlay")
    if "multiple_of_outlay" in given:
        margin = 100 * (table.number("multiple_of_outlay", 1.0, "times outlay") - 1)
    sure = table.number("sure_percent", 0.0, "percent") if "sure_percent" in table.data else None
    return _named(table, lambda: Goal(margin, table.number("profit", 0.0, "money"), sure))


def event_of(top: TomlTable) -> Event | None:
    """The show, under [event]; None where there is none."""
    table = top.table("event")
    if table is None:
        return None
    table.only("name", "date", "entry_cost", "chances", "condition_attribute", "award_attribute")
    day = table.day("date")
    if day is None:
        raise table.refusal("date", "is missing.", "Write the day of the show: date = 2027-05-30.")
    chances = table.data.get("chances", {})
    if not isinstance(chances, dict) or not all(isinstance(row, dict) for row in chances.values()):
        raise table.refusal("chances", f"is {shown(chances)}.", "Write a table [event.chances.show] with local = 0.3.")
    rows: dict[str, dict[str, float]] = {}
    for level, row in chances.items():
        one = TomlTable(top.file, f"[event.chances.{level}]", row)
        rows[level] = {award: one.number(award, 0.0, "a chance from 0 to 1") for award in row}
    return _named(
        table,
        lambda: Event(
            name=table.text("name", "the show"),
            date=day,
            entry_cost=table.number("entry_cost", 0.0, "money"),
            chances=rows,
            condition=table.text("condition_attribute", "condition"),
            award=table.text("award_attribute", "awards"),
        ),
    )


def _named(table: TomlTable, make: Callable[[], Made]) -> Made:
    """What ``make`` makes; its refusal gains the name of file and table."""
    try:
        return make()
    except PlanError as problem:
        if str(problem).startswith("Cannot use the plan"):
            raise
        where = table.where(problem.where)
        raise PlanError(f"Cannot use the plan {table.file}: {table.name} {problem}", where=where) from None
