"""The deal room's questions as pieces of work: read the plans, ask, keep the answer."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from api import tasks
from api.desk import Desk
from api.jobs import Job
from api.problems import Refusal
from valuation.notes import Note
from valuation.schema import Schema
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.answers.build import BuildAnswer
    from valuation.build.plan import BuildPlan
    from valuation.build.terms import Goal, SaleTerms
    from valuation.ledger import EstimateRecord, OfferRecord, SaleRecord, TableRecord
    from valuation.paths.compare import PathsReport
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


def keep_deal(
    desk: Desk,
    table: TableRecord,
    subject: str,
    kind: str,
    inputs: Mapping[str, Any],
    answer: PathsReport | PriceBands | BuildAnswer,
) -> int:
    """Write an answer of the deal room to the ledger."""
    return desk.ledger.add_deal(
        subject=subject, kind=kind, inputs=plain(inputs), result=plain(answer), model_id=desk.model_number(table)
    ).id


def bands_key(deal: int) -> tuple[str, int]:
    """Under which the desk keeps the bands of a deal record."""
    return "bands", deal


@dataclass(frozen=True)
class KeptBands:
    """The bands last kept for a vehicle: what they were computed from.

    Attributes
    ----------
    deal : int
        Number of the deal record.
    model : int
        Number of the model that they were computed with.
    table : TableRecord
    plan : BuildPlan
    inputs : dict
        As the ledger keeps them.
    """

    deal: int
    model: int
    table: TableRecord
    plan: BuildPlan
    inputs: Mapping[str, Any]

    @property
    def key(self) -> tuple[str, int]:
        """Under which the desk keeps them."""
        return bands_key(self.deal)


def kept_bands(desk: Desk, subject: str, currency: str | None = None) -> KeptBands | None:
    """The bands last kept for a vehicle (in a currency, where it is told); see ``bands_again``."""
    kept = [deal for deal in desk.ledger.deals(subject) if deal.kind == "bands"]
    if currency is not None:
        kept = [deal for deal in kept if desk.ledger.deal_result(deal.id)["currency"] == currency]
    number = kept[-1].model_id if kept else None
    if number is None:
        return None
    table = desk.table(desk.ledger.model(number).table_id)
    inputs = json.loads(kept[-1].inputs)
    (plan,) = read_plans([inputs["plan"]], desk.schema(table), steps_needed=False)
    return KeptBands(kept[-1].id, number, table, plan, inputs)


def bands_again(desk: Desk, job: Job, kept: KeptBands) -> PriceBands:
    """Inside a job: kept bands made again from what the ledger holds."""
    inputs = kept.inputs
    as_of, price, goal = dt.date.fromisoformat(inputs["as_of"]), inputs.get("price"), read_goal(inputs.get("goal"))
    desk.fit_first(job, kept.table)
    model = desk.model_kept(kept.model)
    job.report("setting the price", 0.7)
    return desk.remember(kept.key, lambda: job.compute(tasks.bands, model, kept.plan, as_of, price, goal))


def offers_for(desk: Desk, subject: str) -> list[OfferRecord]:
    """Offers for a vehicle, oldest first."""
    return sorted(desk.ledger.offers(subject), key=lambda offer: (offer.history or (offer,))[0].id)


def advice_on(desk: Desk, offer: OfferRecord, bands: PriceBands, terms: SaleTerms) -> OfferAnswer:
    """Accept, counter or hold."""
    from valuation.answers.offer import offer as answer
    from valuation.sell.offer_log import OfferLog
    from valuation.sell.offers import Offer

    first = (offer.history or (offer,))[0].id
    earlier = [one for one in offers_for(desk, offer.subject) if (one.history or (one,))[0].id < first]
    told = tuple(Offer(one.amount, one.offered_on, one.who, one.remark) for one in (*earlier, offer))
    return answer(bands, terms, OfferLog(offer.subject, currency=offer.currency, offers=told))


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
