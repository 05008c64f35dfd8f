"""The deal room's questions as pieces of work: read the plans, ask, keep the answer."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from api.desk import Desk
from api.finite import finite
from api.jobs import Job
from api.problems import Refusal
from valuation.notes import Note
from valuation.schema import Schema

if TYPE_CHECKING:
    from valuation.build.plan import BuildPlan
    from valuation.build.terms import Goal
    from valuation.ledger import EstimateRecord, OfferRecord, SaleRecord, TableRecord
    from valuation.sell.bands import PriceBands
    from valuation.sell.offers import OfferAnswer

PlanData = str | Mapping[str, Any]
R = TypeVar("R", "OfferRecord", "SaleRecord")


def read_plans(plans: Sequence[PlanData], schema: Schema, *, steps_needed: bool = True) -> list[BuildPlan]:
    """Plans from TOML text or plain data; without ``steps_needed`` also vehicles that are sold as they stand."""
    from valuation.build.plan_file import parse_plan, plan_from_dict

    read: list[BuildPlan] = []
    for i, plan in enumerate(plans, 1):
        name = f"plan {i}"
        if isinstance(plan, str):
            read.append(parse_plan(plan, schema, name, steps_needed=steps_needed))
        else:
            read.append(plan_from_dict(plan, schema, name, steps_needed=steps_needed))
    return read


def read_goal(goal: Mapping[str, Any] | None) -> Goal | None:
    """A goal from plain data."""
    from valuation.build.terms import Goal

    return None if goal is None else Goal(**goal)


def compare_paths(
    desk: Desk,
    job: Job,
    table: TableRecord,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    price: float | None,
    goal: Goal | None,
) -> dict[str, Any]:
    """Paths side by side, inside a job."""
    from valuation.paths.compare import evaluate_paths

    model = desk.fit_first(job, table)
    job.report("comparing the paths", 0.6)
    with job.stoppable():
        return dict(finite(evaluate_paths(model, plans, as_of, price=price, goal=goal).as_dict()))


def whole_build(
    desk: Desk,
    job: Job,
    table: TableRecord,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    price: float | None,
    goal: Goal | None,
) -> dict[str, Any]:
    """All that the build page shows: paths, profit curves, and for each plan its steps, schedule and drivers."""
    from valuation.paths.drivers import profit_drivers
    from valuation.paths.profit_curve import profit_curves
    from valuation.paths.schedule import evaluate_schedule
    from valuation.paths.steps import evaluate_steps

    found: dict[str, Any] = {"paths": compare_paths(desk, job, table, plans, as_of, price, goal)}
    model = desk.model(table)
    job.report("drawing the profit", 0.7)
    with job.stoppable():
        found["curves"] = [curve.as_dict() for curve in profit_curves(model, plans, as_of, price=price)]
    found["plans"] = {}
    built = [plan for plan in plans if plan.steps]
    for i, plan in enumerate(built):
        job.report(f"the steps of '{plan.name}'", 0.75 + 0.24 * i / len(built))
        with job.stoppable():
            found["plans"][plan.name] = {
                "steps": evaluate_steps(model, plan, as_of, price=price).as_dict(),
                "schedule": evaluate_schedule(model, plan, as_of).as_dict(),
                "drivers": [one.as_dict() for one in profit_drivers(model, plan, as_of, price=price)],
            }
    return dict(finite(found))


def keep_deal(
    desk: Desk, table: TableRecord, subject: str, kind: str, inputs: Mapping[str, Any], result: Mapping[str, Any]
) -> int:
    """Write a result of the deal room to the ledger."""
    plain = json.loads(json.dumps(inputs, default=str))
    return desk.ledger.add_deal(
        subject=subject, kind=kind, inputs=plain, result=result, model_id=desk.model_number(table)
    ).id


def bands_of(
    desk: Desk,
    table: TableRecord,
    plan: BuildPlan,
    as_of: dt.date,
    price: float | None = None,
    goal: Goal | None = None,
) -> PriceBands:
    """Floor, target and ask."""
    from valuation.sell.bands import price_bands

    return price_bands(desk.model(table), plan, as_of, price=price, goal=goal)


def kept_bands(desk: Desk, subject: str) -> tuple[int, PriceBands, Mapping[str, Any]] | None:
    """The bands last kept for a vehicle, made again from what the ledger holds; with the number and inputs."""
    from valuation.ledger import ModelRecord
    from valuation.sell.bands import price_bands

    kept = [deal for deal in desk.ledger.deals(subject) if deal.kind == "bands"]
    if not kept or kept[-1].model_id is None:
        return None
    inputs = json.loads(kept[-1].inputs)
    number = kept[-1].model_id
    table = desk.table(desk.record(ModelRecord, number).table_id)
    (plan,) = read_plans([inputs["plan"]], desk.schema(table), steps_needed=False)
    as_of = dt.date.fromisoformat(inputs["as_of"])
    bands = desk.remember(
        ("bands", kept[-1].id),
        lambda: price_bands(
            desk.model_kept(number), plan, as_of, price=inputs.get("price"), goal=read_goal(inputs.get("goal"))
        ),
    )
    return kept[-1].id, bands, inputs


def offers_for(desk: Desk, subject: str) -> list[OfferRecord]:
    """Offers for a vehicle, oldest first."""
    return sorted(desk.ledger.offers(subject), key=lambda offer: (offer.history or (offer,))[0].id)


def advice_on(desk: Desk, offer: OfferRecord, bands: PriceBands, asked: float | None = None) -> OfferAnswer:
    """Accept, counter or hold."""
    from valuation.sell.offers import Offer, answer_offer

    first = (offer.history or (offer,))[0].id
    earlier = [one for one in offers_for(desk, offer.subject) if (one.history or (one,))[0].id < first]
    told = [Offer(one.amount, one.offered_on, one.who, one.remark) for one in earlier]
    this = Offer(offer.amount, offer.offered_on, offer.who, offer.remark)
    return answer_offer(bands, this, earlier=tuple(told), asked=asked, currency=offer.currency)


def take_offer(
    desk: Desk,
    estimate: EstimateRecord,
    amount: float,
    day: dt.date | None,
    who: str,
    currency: str,
    remark: str,
    *,
    confirmed: bool,
) -> OfferRecord:
    """Write an offer to the ledger as it comes; an unlikely one only when it is confirmed."""
    return desk.ledger.add_offer(
        subject=estimate.subject,
        amount=amount,
        offered_on=day or desk.today(),
        currency=currency or estimate.currency,
        who=who,
        remark=remark,
        estimate_id=estimate.id,
        confirmed=confirmed,
    )


def corrected(desk: Desk, record: R, reason: str, changes: Mapping[str, Any], *, withdraw: bool, confirmed: bool) -> R:
    """Write what was wrong in a sale or an offer, or that it never was."""
    if withdraw and changes:
        raise Refusal(
            422, "service.request", "Cannot both withdraw and change a record. Leave out the changes, or 'withdraw'."
        )
    if withdraw:
        return desk.ledger.withdraw(record, reason)
    return desk.ledger.correct(record, reason, changes, confirmed=confirmed)


def clock_notes(desk: Desk) -> list[Note]:
    """What must be known of this computer's clock; as a rule nothing."""
    note = desk.ledger.clock_note()
    return [] if note is None else [note]
