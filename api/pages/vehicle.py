"""The Vehicle page: a form from the schema, the estimate and all that is behind it, and 'what if' at once."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from api.deps import FormFields, Number, TableNumber, TheDesk, TheSettings, record_number
from api.forms import day, table_named
from api.jobs import Awaited, Job
from api.pages.in_use import in_use
from api.pages.pictures import Picture, picture
from api.pages.refused import is_part
from api.pages.render import Page, go, locale_of, page, part
from api.pages.work import follow
from api.problems import Refusal
from api.routes.jobs import still_at_it
from valuation.day import day_of
from valuation.schema import Vehicle, parse_vehicle, read_vehicle
from valuation.schema.attributes import Attribute
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.answers.estimate import Estimate
    from valuation.answers.explain import Evidence
    from valuation.ledger import EstimateRecord, TableRecord
    from valuation.text.locale import Locale

router = APIRouter()
FORM_SECONDS = 60.0
"""How long a form without scripts waits for its answer."""
COVERAGES = (0.5, 0.8, 0.9, 0.95)
"""What the form offers; 0.8, as everywhere, is where it stands at first."""


@dataclass(frozen=True)
class Field:
    """One field of the form.

    Attributes
    ----------
    attribute : Attribute
    value : str
        What it holds.
    choices : list of (str, str)
        Levels with their meanings; empty for a number.
    proposals : list of str
        Levels of an open scale that the table holds.
    """

    attribute: Attribute
    value: str
    choices: list[tuple[str, str]]
    proposals: list[str]


@dataclass(frozen=True)
class WhatIf:
    """An estimate that was not written down.

    Attributes
    ----------
    summary : Estimate
    against : EstimateRecord or None
        The estimate that it is compared with.
    changed : list of str
        What differs, in words.
    """

    summary: Estimate
    against: EstimateRecord | None
    changed: list[str]


@dataclass(frozen=True, kw_only=True)
class VehiclePage(Page):
    """The form, and the estimate if there is one.

    Attributes
    ----------
    table : TableRecord
        That values the vehicle.
    fields : list of Field
    name, number : str
        Of the vehicle, and what identifies it.
    as_of : date
    coverage : float
    coverages : tuple of float
        Offered.
    known : list of EstimateRecord
        The newest estimate of each vehicle valued from this table.
    examples : list of str
        Vehicles of the demo, when the table is the demo's.
    estimate : EstimateRecord or None
    evidence : Evidence or None
        Everything behind the estimate, where there is one.
    pictures : dict of str to Picture
    what_if : WhatIf or None
    currency : str
    """

    template = "vehicle.html"
    table: TableRecord
    fields: list[Field]
    name: str
    number: str
    as_of: dt.date
    coverage: float
    coverages: tuple[float, ...] = COVERAGES
    known: list[EstimateRecord]
    examples: list[str]
    estimate: EstimateRecord | None
    evidence: Evidence | None
    pictures: dict[str, Picture]
    what_if: WhatIf | None
    currency: str


@router.get("/vehicle")
def empty_form(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    table: TableNumber = None,
    example: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    """The form for a new vehicle."""
    if not desk.ledger.tables():
        return go("/")
    chosen = desk.table(table)
    vehicle = None
    if example in _examples(desk, chosen):
        vehicle = read_vehicle(desk.settings.demo_folder / "vehicles" / f"{example}.toml", desk.schema(chosen))
    return _page(request, desk, settings, chosen, vehicle, day_of(), 0.8)


@router.post("/vehicle")
def value(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Value the vehicle and write the estimate to the ledger."""
    table, vehicle, as_of, coverage = _asked(desk, form)

    def work(job: Job) -> str:
        desk.fit_first(job, table)
        job.report("valuing the vehicle", 0.9)
        record, _ = desk.keep_estimate(table, vehicle, as_of, coverage)
        return f"/vehicle/{record.id}"

    return follow(request, desk.work(f"Valuing {vehicle.name}", work))


@router.post("/vehicle/what-if")
def what_if(request: Request, desk: TheDesk, settings: TheSettings, form: FormFields) -> Response:
    """The estimate of a changed vehicle, not written down; a part of the page for scripts, else the page."""
    table, vehicle, as_of, coverage = _asked(desk, form)
    number = record_number(form.get("estimate", ""))
    against = None if number is None else desk.estimate(number)
    scripted = is_part(request)

    def answer(job: Job | None = None) -> Response:
        summary = desk.value(table, vehicle, as_of, coverage, beside=against)
        found = WhatIf(summary, against, _changed(desk, vehicle, against) if against else [])
        if scripted:
            return part(request, "what_if.html", what_if=found)
        return _page(request, desk, settings, table, vehicle, as_of, coverage, estimate=against, what_if=found)

    if scripted and not desk.is_fitted(table):
        desk.warm(table)
        return part(request, "what_if_wait.html")
    if not scripted and against is not None and not desk.evidence_at_hand(against):
        gather = partial(desk.evidence, estimate=against)
        return Awaited(desk.join(f"Evidence for {against.subject}", gather), FORM_SECONDS, answer, still_at_it)
    return answer() if desk.is_fitted(table) else Awaited(desk.warm(table), FORM_SECONDS, answer, still_at_it)


@router.get("/vehicle/{estimate_id}")
def estimate_page(request: Request, desk: TheDesk, settings: TheSettings, estimate_id: Number) -> Response:
    """An estimate and all that is behind it."""
    estimate = desk.estimate(estimate_id)
    table = desk.table_of(estimate)

    def gather(job: Job) -> str:
        desk.evidence(job, estimate)
        return f"/vehicle/{estimate_id}"

    def show(job: Job | None = None) -> Response:
        vehicle = desk.vehicle_of(estimate)
        return _page(request, desk, settings, table, vehicle, estimate.as_of, estimate.coverage, estimate=estimate)

    if desk.evidence_at_hand(estimate):
        return show()
    return follow(request, desk.join(f"Evidence for {estimate.subject}", gather, f"/vehicle/{estimate_id}"), show)


def _page(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    table: TableRecord,
    vehicle: Vehicle | None,
    as_of: dt.date,
    coverage: float,
    *,
    estimate: EstimateRecord | None = None,
    what_if: WhatIf | None = None,
) -> HTMLResponse:
    evidence = desk.remembered(desk.evidence_key(estimate)) if estimate is not None else None
    context = VehiclePage(
        title=vehicle.name if vehicle is not None and estimate is not None else "Value a vehicle",
        here="/vehicle",
        twin=f"/api/v1/estimates/{estimate.id}" if estimate else "/api/v1/estimates",
        used=in_use(desk, table, "" if estimate else "/vehicle?table="),
        table=table,
        fields=_fields(desk, table, vehicle),
        name=vehicle.name if vehicle else "",
        number=vehicle.number if vehicle else "",
        as_of=as_of,
        coverage=coverage,
        known=desk.known(table),
        examples=_examples(desk, table),
        estimate=estimate,
        evidence=evidence,
        pictures=_pictures(desk, estimate, evidence, locale_of(settings)) if estimate and evidence else {},
        what_if=what_if,
        currency=desk.comparables(table).currency,
    )
    return page(request, context)


def _asked(desk: TheDesk, form: dict[str, str]) -> tuple[TableRecord, Vehicle, dt.date, float]:
    table = table_named(desk, form)
    name = form.get("name", "").strip()
    if not name:
        detail = "Cannot value a vehicle without a name. Write what you call it."
        raise Refusal(422, "service.request", detail, where="name")
    attributes = {key.removeprefix("a."): text for key, text in form.items() if key.startswith("a.") and text.strip()}
    told = {"name": name[:200], "number": form.get("number", "").strip()[:100], "attributes": attributes}
    vehicle = parse_vehicle(told, desk.schema(table))
    try:
        coverage = float(form.get("coverage", "0.8"))
    except ValueError:
        coverage = 0.8
    if not 0.5 <= coverage <= 0.99:
        detail = f"Cannot state {coverage:g} coverage. Choose between 0.5 and 0.99."
        raise Refusal(422, "service.request", detail, where="coverage")
    return table, vehicle, day(form, "as_of", "the as-of date") or day_of(), coverage


def _fields(desk: TheDesk, table: TableRecord, vehicle: Vehicle | None) -> list[Field]:
    seen = desk.levels_seen(table)
    fields = []
    for attribute in desk.schema(table).attributes:
        held = vehicle.attributes.get(attribute.name) if vehicle else None
        value = {True: "yes", False: "no"}.get(held, "") if isinstance(held, bool) else _text(held)
        choices = [(level.name, level.meaning) for level in attribute.levels]
        if attribute.role == "flag":
            choices = [("yes", ""), ("no", "")]
        fields.append(Field(attribute, value, choices, seen.get(attribute.name, [])))
    return fields


def _text(value: object) -> str:
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)


def _changed(desk: TheDesk, vehicle: Vehicle, against: EstimateRecord) -> list[str]:
    before = desk.vehicle_of(against).attributes
    names = [name for name in {**before, **vehicle.attributes} if before.get(name) != vehicle.attributes.get(name)]
    return [
        f"{name.replace('_', ' ')}: {_text(before.get(name)) or 'unknown'} to "
        f"{_text(vehicle.attributes.get(name)) or 'unknown'}"
        for name in names
    ]


def _examples(desk: TheDesk, table: TableRecord) -> list[str]:
    from valuation.answers.intake import DEMO_NAME

    folder = desk.settings.demo_folder / "vehicles"
    return sorted(file.stem for file in folder.glob("*.toml")) if table.name == DEMO_NAME else []


def _pictures(desk: TheDesk, estimate: EstimateRecord, evidence: Evidence, locale: Locale) -> dict[str, Picture]:
    from valuation.sheets.charts import effects_picture, estimate_picture, influence_picture
    from valuation.sheets.place import place_among
    from valuation.sheets.place_chart import place_picture

    money = locale.about

    def draw() -> dict[str, Picture]:
        found = plain(evidence)
        curve, currency, median = found["curve"], found["currency"], found["median"]
        named = [{**one, "title": found["titles"][one["attribute"]]} for one in found["factors"]]
        ends = evidence.interval.low, evidence.interval.high
        interval = {**found["interval"], "low": ends[0], "high": ends[1]}
        shown = {
            "estimate": picture(
                estimate_picture(curve, interval, median, found["grid"], currency, money),
                "The estimate and its interval",
            ),
            "effects": picture(
                effects_picture(found["base"], named, median, currency, money), "How the parts multiply up"
            ),
        }
        table = desk.comparables(desk.table_of(estimate))
        model = desk.model_kept(estimate.model_id)
        place = place_among(table, evidence, model, evidence.grid)
        low, high = ends
        chart = place_picture(
            place, locale, currency, estimate=median, low=low, high=high, day=locale.date(evidence.as_of)
        )
        shown["place"] = picture(chart, "Where it stands among the sales")
        if found["influence"]:
            chart = influence_picture(found["influence"], median, currency, money)
            shown["influence"] = picture(chart, "Sales that move the estimate most")
        return shown

    return desk.remember(("vehicle pictures", estimate.id), draw)
