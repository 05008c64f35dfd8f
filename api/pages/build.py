"""The Build page: plans of one find, paths side by side, most to pay, the timeline, and what each step is worth."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api import tasks
from api.dealing import keep_deal, with_shop
from api.deps import FormFields, Number, TableNumber, TheDesk, TheSettings, record_number
from api.forms import amount, day, table_named
from api.jobs import Job
from api.pages.build_pictures import build_pictures
from api.pages.clash import Choice, ClashPage, clash_page
from api.pages.in_use import InUse, in_use
from api.pages.pictures import Picture
from api.pages.render import Page, go, locale_of, page
from api.pages.work import follow
from api.plan_form import NUMBERS, PlanFields, field_of, fields_of, new_plan_text, settable, text_from_form
from api.plan_merge import Apart, merged
from api.problems import Refusal, not_found
from valuation.answers.given import read_plans
from valuation.answers.kept import kept_build
from valuation.day import day_of
from valuation.errors import PlanError
from valuation.notes import Note
from valuation.text.plain import plain
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.ledger import DealRecord, EstimateRecord, PlanRecord, TableRecord

router = APIRouter()


@dataclass(frozen=True, kw_only=True)
class BuildPage(Page):
    """The plans of one find, and the form that compares them.

    Attributes
    ----------
    table : TableRecord
        That prices them.
    subject : str
        The find; empty while none is chosen.
    subjects : list of str
        Finds that have plans.
    estimates : list of EstimateRecord
        Vehicles valued from the table, that a plan can be written for.
    plans : list of PlanFields
    fresh : PlanFields or None
        A plan to be written.
    numbers : tuple
        Number fields of the form.
    choices : list
        What a step can set.
    newest : int
        Number of the newest comparison of this find; 0 when there is none.
    as_of : date
    asked : str
        What the owner asks, by the first plan.
    currency : str
    """

    template = "build.html"
    table: TableRecord
    subject: str
    subjects: list[str]
    estimates: list[EstimateRecord]
    plans: list[PlanFields]
    fresh: PlanFields | None
    numbers: tuple[tuple[str, str, str], ...] = NUMBERS
    choices: list[tuple[str, list[tuple[str, str]]]]
    newest: int
    as_of: dt.date
    asked: str
    currency: str


@dataclass(frozen=True, kw_only=True)
class BuildResultPage(Page):
    """Paths side by side, and all that is behind them.

    Attributes
    ----------
    deal : DealRecord
    inputs : dict
        What it was computed from.
    found : dict
        ``paths``, ``curves`` and ``plans`` as the JSON twin shows them.
    best : dict
        The path to go, or the one that comes nearest.
    notes : tuple of Note
        Of all paths and builds, each once.
    pictures : dict of str to Picture
    currency : str
    """

    template = "build_result.html"
    deal: DealRecord
    inputs: Mapping[str, Any]
    found: Mapping[str, Any]
    best: Mapping[str, Any]
    notes: tuple[Note, ...]
    pictures: dict[str, Picture]
    currency: str


@router.get("/build")
def build(
    request: Request,
    desk: TheDesk,
    subject: Annotated[str, Query(max_length=200)] = "",
    estimate: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    table: TableNumber = None,
    said: Annotated[str, Query(max_length=300)] = "",
) -> Response:
    """Plans of a find."""
    if not desk.ledger.tables():
        return go("/")
    plans = desk.ledger.plans()
    subjects = list(dict.fromkeys(plan.subject for plan in plans))
    fresh = None
    if estimate:
        record = desk.estimate(estimate)
        subject, table = record.subject, table or desk.table_of(record).id
        fresh = fields_of(0, new_plan_text(record))
    elif not subject and len(subjects) == 1:
        subject = subjects[0]
    own = _newest_of_each([plan for plan in plans if plan.subject == subject])
    shown = [fields_of(plan.id, plan.text) for plan in own]
    chosen = desk.table(table) if table else desk.table_for(subject, shown[0].currency if shown else "")
    newest = desk.newest_deal(subject, "build") if subject else None
    context = BuildPage(
        title=f"Build: {subject}" if subject else "Build",
        here="/build",
        twin="/api/v1/deals",
        said=said,
        used=in_use(desk, chosen, f"/build?subject={quote(subject)}&table="),
        table=chosen,
        subject=subject,
        subjects=subjects,
        estimates=desk.known(chosen),
        plans=shown,
        fresh=fresh if fresh is not None else (fields_of(0, _copy(own[0].text)) if own else None),
        choices=settable(desk.schema(chosen)),
        newest=newest[0] if newest else 0,
        as_of=day_of(),
        asked=shown[0].numbers["purchase.asked"] if shown else "",
        currency=desk.comparables(chosen).currency,
    )
    return page(request, context)


@router.post("/build/plans")
def keep_plan(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Write a plan, new or changed, to the ledger."""
    from valuation.build.scenarios import plan_rules

    subject = form.get("subject", "").strip()
    if not subject:
        detail = "Cannot keep the plan: it names no vehicle. Choose one first."
        raise Refusal(422, "service.request", detail, where="subject")
    table = table_named(desk, form)
    address = f"/build?subject={quote(subject)}&table={table.id}"
    own = desk.ledger.plans(subject)
    began = record_number(form.get("number", "")) or 0
    newest = next((plan for plan in own if began in (plan.id, *(older.id for older in plan.history))), None)
    said = ""
    if newest is not None and newest.id != began:
        base = fields_of(began, desk.ledger.plan(began).text)
        form, apart = merged(form, base, fields_of(newest.id, newest.text))
        if apart:
            return clash_page(request, _plan_clash(form, apart, newest, address, in_use(desk, table)))
        said = " It was changed elsewhere meanwhile; both changes are kept."
    schema = desk.schema(table)
    text = text_from_form(form, schema)
    try:
        (plan,) = read_plans(with_shop(desk, [text]), schema, steps_needed=False)
        plan_rules(plan)
    except PlanError as error:
        error.where = field_of(form, text, error.where)
        raise
    if any(one.name == plan.name and one != newest for one in own):
        detail = f"Cannot keep a second plan '{plan.name}' for {subject}. Give it another name, or change that plan."
        raise Refusal(409, "service.request", detail, where="name")
    kept = desk.ledger.add_plan(
        subject=subject,
        name=plan.name,
        text=text,
        corrects=newest.id if newest else None,
        reason="changed on the Build page" if newest else "",
    )
    return go(f"{address}&said={quote(f'Kept the plan {kept.name}.{said}')}")


@router.post("/build/compare")
def compare(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Compare the plans of a find as a piece of work."""
    from valuation.answers.build import goal_wanted

    subject = form.get("subject", "").strip()
    own = _newest_of_each([plan for plan in desk.ledger.plans() if plan.subject == subject])
    if not own:
        raise Refusal(422, "service.request", f"Cannot compare paths for '{subject}': it has no plan. Write one first.")
    table = table_named(desk, form)
    texts = with_shop(desk, [plan.text for plan in own])
    plans = read_plans(texts, desk.schema(table), steps_needed=False)
    price = amount(form, "price", "the price asked")
    margin, sure = amount(form, "margin", "the profit wanted"), amount(form, "sure", "how sure")
    goal = goal_wanted(plans, margin, sure)
    as_of = day(form, "as_of", "the day of the purchase") or day_of()
    inputs = {"plans": texts, "price": price, "goal": plain(goal), "as_of": as_of.isoformat(), "table": table.id}

    def work(job: Job) -> str:
        model = desk.fit_first(job, table)
        job.report("comparing the paths", 0.6)
        result = job.compute(tasks.whole_build, model, plans, as_of, price, goal)
        return f"/build/{keep_deal(desk, table, subject, 'build', inputs, result)}"

    return follow(request, desk.work(f"Comparing paths for {subject}", work))


@router.get("/build/{deal_id}")
def result(request: Request, desk: TheDesk, settings: TheSettings, deal_id: Number) -> Response:
    """A comparison that is in the ledger."""
    from valuation.ledger import DealRecord

    deal = desk.record(DealRecord, deal_id)
    if deal.kind != "build":
        raise not_found(f"a comparison of paths with the number {deal_id}")
    kept, table = kept_build(desk.ledger, deal), desk.table_behind(deal)
    context = BuildResultPage(
        title=f"Build: {deal.subject}",
        here="/build",
        twin=f"/api/v1/deals/{deal.id}",
        used=in_use(desk, table) if table else None,
        deal=deal,
        inputs=kept.inputs,
        found=kept.found,
        best=kept.nearest,
        notes=kept.notes,
        pictures=build_pictures(kept.found, kept.inputs, kept.nearest, locale_of(settings)),
        currency=kept.found["paths"]["currency"],
    )
    return page(request, context)


def _plan_clash(
    form: Mapping[str, str], apart: list[Apart], newest: PlanRecord, address: str, used: InUse
) -> ClashPage:
    names = {one.name for one in apart}
    return ClashPage(
        title="Changed meanwhile",
        here="/build",
        used=used,
        lead=f"The plan {newest.name} was changed at {newest.written_at:%H:%M}, after your page showed it. Nothing of "
        "yours was written yet.",
        action="/build/plans",
        button="Keep the plan with these choices",
        kept=[(name, text) for name, text in form.items() if name not in names],
        choices=[Choice(one.name, one.label, one.old, one.theirs, one.mine, one.mine) for one in apart],
        lost=[],
        back=address,
    )


def _newest_of_each(plans: list[PlanRecord]) -> list[PlanRecord]:
    return list({plan.name: plan for plan in plans}.values())


def _copy(text: str) -> str:
    """A plan to change into another path for the same find."""
    data = read_toml(text)
    return toml_text({**data, "name": f"{data.get('name', 'plan')}, another way"})
