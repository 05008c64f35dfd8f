"""The invented demo on the desk: brought, at work for its shop, put away and brought back."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api import tasks
from api.dealing import keep_deal, plan_reader
from api.deps import FormFields, TheDesk
from api.jobs import Job
from api.pages.render import go
from api.pages.work import follow
from api.problems import not_found
from valuation.answers import kept
from valuation.answers.bands import bands as answer_bands
from valuation.answers.demo import TO_COMPARE, TO_SELL, bring_demo, buy_find, is_brought, leave_demo
from valuation.answers.demo_sale import sell_one
from valuation.answers.given import read_plans
from valuation.answers.selling import SALE_TERMS, sold_as_it_stands
from valuation.answers.so_far import as_it_stands
from valuation.answers.vehicle_file import vehicle_kept
from valuation.day import day_of
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.ledger import EstimateRecord, Ledger, TableRecord

router = APIRouter(include_in_schema=False)
USUAL_COVERAGE = 0.8
"""As everywhere unless told."""


@router.post("/demo")
def demo(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Bring the invented demo's table, plans and vehicles, and where it is wished let its shop go to work."""
    folder = desk.settings.demo_folder
    if not (folder / "comparables.csv").is_file():
        raise not_found("the demo's files")
    table = bring_demo(desk, folder)
    if "figures" not in form or desk.ledger.estimates(TO_SELL, last=1):
        desk.warm(table)
        return go("/")

    def work(job: Job) -> str:
        desk.fit_first(job, table)
        job.report("telling the life of one that is sold", 0.4)  # first: what is written later is taken to be later
        sell_one(desk, folder, desk.model(table), desk.model_number(table), partial(_set_price, desk, job, table))
        buy_find(desk)
        job.report("comparing what could be done with a find", 0.5)
        _compare(desk, job, table)
        job.report("setting the price of a finished one", 0.8)
        estimate, _ = desk.keep_estimate(table, as_it_stands(desk, TO_SELL), day_of(), USUAL_COVERAGE)
        _set_price(desk, job, table, desk.ledger, estimate, day_of())
        return "/"

    return follow(request, desk.join("Bringing the demo", work, "/"))


@router.post("/demo/leave")
def leave(desk: TheDesk) -> Response:
    """Put away all that belongs to the demo."""
    if not ((desk.settings.demo_folder / "comparables.csv").is_file() and is_brought(desk)):
        raise not_found("the demo on this desk")
    leave_demo(desk, desk.settings.demo_folder)
    return go("/")


def _compare(desk: TheDesk, job: Job, table: TableRecord) -> None:
    vehicle = vehicle_kept(desk.ledger, TO_COMPARE)
    desk.keep_estimate(table, as_it_stands(desk, TO_COMPARE), day_of(), USUAL_COVERAGE)
    reader = plan_reader(desk, vehicle)
    texts = reader.whole([plan.text for plan in reader.plans.standing])
    plans = read_plans(texts, reader.schema, steps_needed=False)
    goal, as_of, price = plans[0].goal, day_of(), vehicle.asked
    inputs = {"plans": texts, "price": price, "goal": plain(goal), "as_of": as_of.isoformat(), "table": table.id}
    result = job.compute(tasks.whole_build, desk.model(table), plans, as_of, price, goal)
    keep_deal(desk, table, TO_COMPARE, "build", inputs, result)


def _set_price(
    desk: TheDesk,
    job: Job,
    table: TableRecord,
    ledger: Ledger,
    estimate: EstimateRecord,
    day: dt.date,
    put_in: float | None = None,
) -> None:
    terms = dict.fromkeys((*SALE_TERMS, "holding_per_week"))
    plan, read = sold_as_it_stands(ledger, desk.schema(table), estimate, terms, None)
    found = job.compute(answer_bands, desk.model(table), read, day, price=put_in)
    inputs = {"plan": plan, "as_of": day.isoformat(), "price": put_in, "goal": None, "form": {}, "deadline": ""}
    number = kept.keep_deal(ledger, desk.model_number(table), estimate.subject, "bands", inputs, found)
    desk.remember(kept.bands_key(number), lambda: found)
