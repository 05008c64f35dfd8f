"""What a vehicle is worth: a form from the schema, the estimate with all that is behind it, and 'what if' at once."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from api.deps import FormFields, Number, TableNumber, TheDesk, TheSettings, record_number
from api.desk import MAX_NUMBER
from api.forms import amount, day, table_named
from api.jobs import Awaited, Job
from api.pages.in_use import in_use
from api.pages.pictures import Picture, picture
from api.pages.refused import is_part
from api.pages.render import Page, go, locale_of, page, part
from api.pages.vehicle_form import Field, value_text, vehicle_fields, vehicle_typed
from api.pages.vehicle_head import file_numbered, head_of, vehicle_address
from api.pages.work import follow
from api.problems import Refusal
from api.routes.jobs import still_at_it
from valuation.answers.so_far import as_it_stands
from valuation.answers.vehicle_file import VehicleFile, found_as_told, same_name, vehicle_file
from valuation.day import day_of
from valuation.schema import Vehicle, parse_vehicle, read_vehicle
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.answers.estimate import Estimate
    from valuation.answers.explain import Evidence
    from valuation.ledger import EstimateRecord, TableRecord
    from valuation.text.locale import Locale

router = APIRouter(include_in_schema=False)
FORM_SECONDS = 60.0
"""How long a form without scripts waits for its answer."""
COVERAGES = (0.5, 0.8, 0.9, 0.95)
"""What the form offers."""
USUAL_COVERAGE = 0.8
"""Where the form stands at first; as everywhere."""
RecordQuery = Annotated[int, Query(ge=0, le=MAX_NUMBER, description="Number of the record in the ledger.")]


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
class WorthPage(Page):
    """The form, and the estimate if there is one.

    Attributes
    ----------
    table : TableRecord
        That values the vehicle.
    fields : list of Field
    name, number : str
        Of the vehicle, and what identifies it.
    asked : str
        What is asked for it, as it was typed.
    as_of : date
    coverage : float
    coverages : tuple of float
        Offered.
    examples : list of str
        Vehicles of the demo, when the table is the demo's.
    estimate : EstimateRecord or None
    older : list of EstimateRecord
        Estimates of this vehicle before, newest first.
    evidence : Evidence or None
        Everything behind the estimate, where there is one.
    pictures : dict of str to Picture
    what_if : WhatIf or None
    currency : str
    action : str
        Where the form is sent to.
    """

    template = "worth.html"
    table: TableRecord
    fields: list[Field]
    name: str
    number: str
    asked: str
    as_of: dt.date
    coverage: float
    coverages: tuple[float, ...] = COVERAGES
    examples: list[str]
    estimate: EstimateRecord | None
    older: list[EstimateRecord]
    evidence: Evidence | None
    pictures: dict[str, Picture]
    what_if: WhatIf | None
    currency: str
    action: str


@router.get("/vehicle")
def new_as_it_was(request: Request) -> Response:
    """The old address of the form for a new vehicle."""
    return go(f"/vehicles/new?{request.url.query}")


@router.get("/vehicle/{estimate_id}")
def worth_as_it_was(desk: TheDesk, estimate_id: Number) -> Response:
    """The old address of an estimate."""
    return go(f"{vehicle_address(desk, desk.estimate(estimate_id).subject)}/worth?estimate={estimate_id}")


@router.get("/vehicles/new")
def new_vehicle(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    table: TableNumber = None,
    example: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    """The form for a new vehicle."""
    if desk.newest_table() is None:
        return go("/")
    chosen = desk.table(table)
    vehicle = None
    if example in _examples(desk, chosen):
        vehicle = read_vehicle(desk.settings.demo_folder / "vehicles" / f"{example}.toml", desk.schema(chosen))
    return _page(request, desk, settings, None, chosen, vehicle, day_of(), USUAL_COVERAGE)


@router.post("/vehicles")
def add_vehicle(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Write a new vehicle to the ledger and value it."""
    table, vehicle, as_of, coverage = _asked(desk, form, form.get("name", "").strip()[:200])
    if same_name(desk, vehicle.name) is not None:
        detail = (
            f"Cannot add a second vehicle called '{vehicle.name}': the shop has one of that name. Choose another "
            "name, or open that one from the first page and value it again."
        )
        raise Refusal(409, "service.request", detail, where="name")
    asked = amount(form, "asked", "the price asked", desk.comparables(table).currency) or None
    return _value(request, desk, table, vehicle, as_of, coverage, asked=asked, found_on=day_of())


@router.post("/vehicles/what-if")
def what_if(request: Request, desk: TheDesk, settings: TheSettings, form: FormFields) -> Response:
    """The estimate of a changed vehicle, not written down; a part of the page for scripts, else the page."""
    number = record_number(form.get("estimate", ""))
    against = None if number is None else desk.estimate(number)
    file = None if against is None else vehicle_file(desk, against.subject)
    name = form.get("name", "").strip()[:200] if against is None else against.subject
    table, vehicle, as_of, coverage = _asked(desk, form, name)
    scripted = is_part(request)

    def answer(job: Job | None = None) -> Response:
        summary = desk.value(table, vehicle, as_of, coverage, beside=against)
        found = WhatIf(summary, against, _changed(desk, vehicle, against) if against else [])
        if scripted:
            return part(request, "what_if.html", what_if=found)
        return _page(request, desk, settings, file, table, vehicle, as_of, coverage, estimate=against, what_if=found)

    if scripted and not desk.is_fitted(table):
        desk.warm(table)
        return part(request, "what_if_wait.html")
    if not scripted and against is not None and not desk.evidence_at_hand(against):
        gather = partial(desk.evidence, estimate=against)
        return Awaited(desk.join(f"Evidence for {against.subject}", gather), FORM_SECONDS, answer, still_at_it)
    return answer() if desk.is_fitted(table) else Awaited(desk.warm(table), FORM_SECONDS, answer, still_at_it)


@router.get("/vehicles/{number}/worth")
def worth(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    number: Number,
    estimate: RecordQuery = 0,
    table: TableNumber = None,
) -> Response:
    """An estimate and all that is behind it, the newest unless told; the form where there is none yet."""
    file = file_numbered(desk, number)
    shown = desk.estimate(estimate) if estimate else file.estimate
    if shown is None or shown.subject != file.subject:
        chosen = desk.table(table) if table else desk.table_for(file.subject, file.currency)
        found = parse_vehicle(found_as_told(file.vehicle), desk.schema(chosen))
        return _page(request, desk, settings, file, chosen, found, day_of(), USUAL_COVERAGE)
    here = f"/vehicles/{number}/worth?estimate={shown.id}"

    def gather(job: Job) -> str:
        desk.evidence(job, shown)
        return here

    def show(job: Job | None = None) -> Response:
        vehicle, behind = desk.vehicle_of(shown), desk.table_of(shown)
        return _page(request, desk, settings, file, behind, vehicle, shown.as_of, shown.coverage, estimate=shown)

    if desk.evidence_at_hand(shown):
        return show()
    return follow(request, desk.join(f"Evidence for {shown.subject}", gather, here), show)


@router.post("/vehicles/{number}/worth")
def value_again(request: Request, desk: TheDesk, number: Number, form: FormFields) -> Response:
    """Value a vehicle of the shop and write the estimate to the ledger."""
    file = file_numbered(desk, number)
    table, vehicle, as_of, coverage = _asked(desk, form, file.subject)
    return _value(request, desk, table, vehicle, as_of, coverage)


@router.post("/vehicles/{number}/as-it-stands")
def value_as_it_stands(request: Request, desk: TheDesk, number: Number) -> Response:
    """Value a vehicle as the steps that are done have made it."""
    file = file_numbered(desk, number)
    vehicle, table = as_it_stands(desk, file.subject), desk.table_for(file.subject, file.currency)
    return _value(request, desk, table, vehicle, day_of(), USUAL_COVERAGE)


def _value(
    request: Request,
    desk: TheDesk,
    table: TableRecord,
    vehicle: Vehicle,
    as_of: dt.date,
    coverage: float,
    **told: Any,
) -> Response:
    def work(job: Job) -> str:
        desk.fit_first(job, table)
        job.report("valuing the vehicle", 0.9)
        record, _ = desk.keep_estimate(table, vehicle, as_of, coverage, **told)
        return f"{vehicle_address(desk, record.subject)}/worth?estimate={record.id}"

    return follow(request, desk.work(f"Valuing {vehicle.name}", work))


def _page(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    file: VehicleFile | None,
    table: TableRecord,
    vehicle: Vehicle | None,
    as_of: dt.date,
    coverage: float,
    *,
    estimate: EstimateRecord | None = None,
    what_if: WhatIf | None = None,
) -> HTMLResponse:
    evidence = desk.remembered(desk.evidence_key(estimate)) if estimate is not None else None
    asked = value_text(file.vehicle.asked) if file else ""
    own = f"/vehicles/{file.number}/worth" if file else "/vehicles/new"
    context = WorthPage(
        title=f"{file.name}: what it is worth" if file else "A new vehicle",
        here="/",
        twin=f"/api/v1/estimates/{estimate.id}" if estimate else "/api/v1/estimates",
        used=in_use(desk, table, "" if estimate else f"{own}?table="),
        vehicle=head_of(desk, file) if file else None,
        table=table,
        fields=vehicle_fields(desk, table, vehicle),
        name=vehicle.name if vehicle else "",
        number=vehicle.number if vehicle else "",
        asked=asked,
        as_of=as_of,
        coverage=coverage,
        examples=[] if file else _examples(desk, table),
        estimate=estimate,
        older=[one for one in reversed(file.estimates) if one != estimate] if file else [],
        evidence=evidence,
        pictures=_pictures(desk, estimate, evidence, locale_of(settings)) if estimate and evidence else {},
        what_if=what_if,
        currency=desk.comparables(table).currency,
        action=own if file else "/vehicles",
    )
    return page(request, context)


def _asked(desk: TheDesk, form: dict[str, str], name: str) -> tuple[TableRecord, Vehicle, dt.date, float]:
    table = table_named(desk, form)
    if not name:
        detail = "Cannot value a vehicle without a name. Write what you call it."
        raise Refusal(422, "service.request", detail, where="name")
    vehicle = vehicle_typed(form, desk.schema(table), name)
    try:
        coverage = float(form.get("coverage", USUAL_COVERAGE))
    except ValueError:
        coverage = USUAL_COVERAGE
    if not 0.5 <= coverage <= 0.99:
        detail = f"Cannot state {coverage:g} coverage. Choose between 0.5 and 0.99."
        raise Refusal(422, "service.request", detail, where="coverage")
    return table, vehicle, day(form, "as_of", "the as-of date") or day_of(), coverage


def _changed(desk: TheDesk, vehicle: Vehicle, against: EstimateRecord) -> list[str]:
    before = desk.vehicle_of(against).attributes
    names = [name for name in {**before, **vehicle.attributes} if before.get(name) != vehicle.attributes.get(name)]
    return [
        f"{name.replace('_', ' ')}: {value_text(before.get(name)) or 'unknown'} to "
        f"{value_text(vehicle.attributes.get(name)) or 'unknown'}"
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
