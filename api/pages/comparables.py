"""The page of a table: its faults by cause, each with its mend, its rows, its prices and its versions."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.deps import FormFields, Number, TheDesk, TheSettings
from api.pages.bringing import typed_rows
from api.pages.clash import in_words, mends_clash
from api.pages.grid import GridView, grid_view
from api.pages.in_use import in_use
from api.pages.pictures import Picture, picture
from api.pages.render import Page, go, locale_of, page
from valuation.answers.intake import Brought, Mended, as_it_came, mend_table
from valuation.schema import SALE_COLUMNS, Schema

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.answers.fault_cards import FaultCard
    from valuation.answers.undo import Undoable
    from valuation.comparables import Comparables
    from valuation.ledger import EstimateRecord, SaleRecord, TableRecord
    from valuation.text.locale import Locale

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class ComparablesPage(Page):
    """One table version.

    Attributes
    ----------
    table : TableRecord
    archived : bool
        Whether it is put away.
    versions : list of TableRecord
        Of the same name, newest first.
    comparables : Comparables
    headers : dict of str to str
    columns : list of (str, str)
        Every column that a header can mean, with its title.
    cards : tuple of FaultCard
        The faults by cause.
    answer, next : str
        How many rows can be used, and the one thing to do next.
    view : GridView
        The rows shown.
    asked : bool
        Whether the rows were asked for, so that they are unfolded.
    undo : Undoable or None
        What can be taken back and put back; None on an older version.
    realised : tuple of SaleRecord
        Sales of the shop that the table does not hold yet.
    brought : Brought or None
        What was remembered, when the table was just brought.
    pictures : list of Picture
    currency : str
        Assumed for tables that name none.
    """

    template = "comparables.html"
    table: TableRecord
    archived: bool
    versions: list[TableRecord]
    comparables: Comparables
    headers: dict[str, str]
    columns: list[tuple[str, str]]
    cards: tuple[FaultCard, ...]
    answer: str
    next: str
    view: GridView
    asked: bool
    undo: Undoable | None
    realised: tuple[SaleRecord, ...]
    brought: Brought | None
    pictures: list[Picture]
    currency: str


@router.get("/comparables")
def newest(desk: TheDesk) -> Response:
    """The newest table, or the form that brings one."""
    table = desk.newest_table()
    return go(f"/comparables/{table.id}" if table else "/comparables/bring")


@router.get("/comparables/{table_id}")
def comparables_page(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    table_id: Number,
    show: str = "",
    find: Annotated[str, Query(max_length=200)] = "",
    first: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    edit: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    estimate: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    brought: bool = False,
    said: Annotated[str, Query(max_length=300)] = "",
) -> Response:
    """One table version."""
    from valuation.answers.fault_cards import fault_cards, next_said, usable_said
    from valuation.answers.sales_of_table import sales_to_take_in
    from valuation.answers.undo import undoable
    from valuation.comparables.mending import header_choices

    table = desk.table(table_id)
    found, text = desk.comparables(table), desk.text_table(table)
    used = in_use(desk, table)
    cards = fault_cards(found, text)
    subject = desk.estimate(estimate) if estimate else _newest_estimate(desk, table)
    context = ComparablesPage(
        title=desk.called(table),
        archived=desk.is_archived(table),
        here="/comparables",
        twin=f"/api/v1/comparables/{table.id}",
        said=said,
        table=table,
        used=used,
        versions=desk.versions(table.name),
        comparables=found,
        headers=header_choices(text, found.schema),
        columns=_columns(found.schema),
        cards=cards,
        answer=usable_said(found.n_usable, found.rows),
        next=next_said(cards, found.n_usable),
        view=grid_view(text, found, show or "all", find, first, edit),
        asked=bool(show or find or first or edit),
        undo=None if used.newer else undoable(desk, table.name),
        realised=() if used.newer else sales_to_take_in(desk, table),
        brought=desk.brought.find(str(table.id)) if brought else None,
        pictures=_pictures(found, subject, locale_of(settings)),
        currency=settings.currency,
    )
    return page(request, context)


@router.post("/comparables/{table_id}/mend")
def mend(request: Request, desk: TheDesk, table_id: Number, form: FormFields) -> Response:
    """Write mended cells, and the mends behind a button; the result is the table's next version."""
    from valuation.answers.fault_cards import chosen_mends, typed_mends

    table = desk.table(table_id)
    text = desk.text_table(table)
    mends = typed_mends(text, *typed_rows(text, form))
    kind, _, which = form.get("do", "").partition(".")
    if kind == "mend":
        mends = (*mends, *chosen_mends(desk.comparables(table), which))
    if not mends:
        return go(f"/comparables/{table_id}?said=Nothing+was+changed.")
    found = mend_table(
        desk,
        table,
        {(one.row, one.column): one.new for one in mends if not one.leaves_out and one.column in text.headers},
        left_out=[one.row for one in mends if one.leaves_out],
        confirmed=[one.row for one in mends if one.column and one.column not in text.headers],
    )
    return mended(request, desk, found, "Mended and kept")


@router.post("/comparables/{table_id}/headers")
def headers(request: Request, desk: TheDesk, table_id: Number, form: FormFields) -> Response:
    """Map headers; the result is the table's next version."""
    from valuation.comparables.mending import header_choices

    table = desk.table(table_id)
    now = header_choices(desk.text_table(table), desk.schema(table))
    changed = {header: name for header, name in _mapped(form).items() if now.get(header) != name}
    if not changed:
        return go(f"/comparables/{table_id}?said=No+header+was+changed.")
    found = mend_table(desk, table, {}, headers=changed)
    return mended(request, desk, found, "Headers mapped and kept", changed)


@router.post("/comparables/{table_id}/as-it-came")
def without_mends(desk: TheDesk, table_id: Number) -> Response:
    """Take remembered mends back: the file as it was brought becomes the next version."""
    table = as_it_came(desk, desk.table(table_id))
    desk.warm(table)
    said = f"The file as it came is version {table.version}; the mends of the version before were not made again."
    return go(f"/comparables/{table.id}?said={quote(said)}")


@router.post("/comparables/{table_id}/name")
def name(desk: TheDesk, table_id: Number, form: FormFields) -> Response:
    """Call the table otherwise."""
    desk.call_table(desk.table(table_id).name, form.get("name", "")[:200])
    return go(f"/comparables/{table_id}")


@router.post("/comparables/{table_id}/archive")
def archive(desk: TheDesk, table_id: Number, form: FormFields) -> Response:
    """Put the table away, or bring it back."""
    back = "back" in form
    desk.archive_table(desk.table(table_id).name, back=back)
    return go(f"/comparables/{table_id}" if back else "/")


def mended(
    request: Request, desk: Desk, found: Mended, done: str, headers: Mapping[str, str] | None = None
) -> Response:
    """The way on after a mend: the version that holds it, or the choice where two hands were at one place.

    Parameters
    ----------
    request : Request
    desk : Desk
    found : Mended
    done : str
        What was done, to be followed by the version.
    headers : mapping of str to str, optional
        Headers that were mapped, where some were.
    """
    if found.clashes:
        return mends_clash(request, desk, found, in_use(desk, found.table), headers or {})
    desk.warm(found.table)
    said = f"{done} as version {found.table.version}."
    if found.meanwhile:
        said += f" Somebody else mended meanwhile ({in_words(found.meanwhile)}); both are kept."
    return go(f"/comparables/{found.table.id}?said={quote(said)}")


def _mapped(form: dict[str, str]) -> dict[str, str]:
    return {name.removeprefix("map."): value for name, value in form.items() if name.startswith("map.") and value}


def _columns(schema: Schema) -> list[tuple[str, str]]:
    sale = [(name, f"sale: {name.replace('_', ' ')}") for name in SALE_COLUMNS]
    return [*sale, *((one.name, f"vehicle: {one.title}") for one in schema.attributes)]


def _newest_estimate(desk: TheDesk, table: TableRecord) -> EstimateRecord | None:
    for one in reversed(desk.ledger.estimates(last=20)):
        if desk.table_of(one).name == table.name:
            return one
    return None


def _pictures(found: Comparables, subject: EstimateRecord | None, locale: Locale) -> list[Picture]:
    from valuation.comparables.plain_sales import plain_sales
    from valuation.sheets.place import place_of
    from valuation.sheets.place_chart import place_picture
    from valuation.sheets.sale_charts import price_by_date

    if not found.n_usable:
        return []
    sales, mark, place, ends, median = plain_sales(found), None, place_of(found), {}, 0.0
    if subject is not None:
        ends = {"low": subject.low or subject.median, "high": subject.high or subject.median}
        mark = {"sale": subject.subject, "date": subject.as_of.isoformat(), "price": subject.median, **ends}
        place, median = place_of(found, json.loads(subject.vehicle)), subject.median
    shown = []
    if any(sale["date"] for sale in sales):
        chart = price_by_date(sales, mark, found.currency, locale.about)
        shown.append(picture(chart, "Prices by the day of the sale"))
    if place.groups:
        low, high = ends.get("low", 0.0), ends.get("high", 0.0)
        chart = place_picture(place, locale, found.currency, estimate=median, low=low, high=high)
        shown.append(picture(chart, f"Prices by {place.title.lower()}"))
    return shown
