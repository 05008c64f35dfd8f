"""Sales of a table one by one: add one, correct one, set it aside and put it back; what each version changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.deps import FormFields, Number, TheDesk, record_number
from api.pages.comparables import mended
from api.pages.in_use import in_use
from api.pages.render import Page, go, page
from api.problems import Refusal
from valuation.errors import TableError

if TYPE_CHECKING:
    from valuation.answers.sales_of_table import OneSale, SaleField, VersionChange
    from valuation.ledger import SaleRecord, TableRecord

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class SalePage(Page):
    """One sale of a table, or one to be added.

    Attributes
    ----------
    table : TableRecord
    fields : tuple of SaleField
    sale : OneSale or None
        None where one is added.
    realised : tuple of SaleRecord
        Sales of the shop that the table does not hold yet.
    currency : str
    """

    template = "sale.html"
    table: TableRecord
    fields: tuple[SaleField, ...]
    sale: OneSale | None
    realised: tuple[SaleRecord, ...]
    currency: str


@dataclass(frozen=True, kw_only=True)
class ChangesPage(Page):
    """What each version of a table changed.

    Attributes
    ----------
    table : TableRecord
    changes : tuple of VersionChange
    """

    template = "changes.html"
    table: TableRecord
    changes: tuple[VersionChange, ...]


@router.get("/comparables/{table_id}/sales/new")
def new_sale(request: Request, desk: TheDesk, table_id: Number) -> Response:
    """The form of a sale that is to be added."""
    from valuation.answers.sales_of_table import empty_sale, sales_to_take_in

    table = desk.table(table_id)
    context = SalePage(
        title="Add a sale",
        here="/comparables",
        used=in_use(desk, table),
        table=table,
        fields=empty_sale(desk, table),
        sale=None,
        realised=sales_to_take_in(desk, table),
        currency=desk.comparables(table).currency,
    )
    return page(request, context)


@router.post("/comparables/{table_id}/sales/new")
def add(desk: TheDesk, table_id: Number, form: FormFields) -> Response:
    """Add a sale, or one that the shop realised itself."""
    from valuation.answers.add import told
    from valuation.answers.realised import row_of
    from valuation.answers.sales_of_table import add_sale
    from valuation.ledger import SaleRecord

    table = desk.table(table_id)
    number = record_number(form.get("realised", ""))
    if number is not None:
        row = row_of(desk, desk.record(SaleRecord, number))
    else:
        headers = desk.text_table(table).headers
        given = {headers[place]: text for place, text in _cells(form, len(headers)).items() if text}
        if not given:
            raise Refusal(422, "service.request", "Cannot add a sale: nothing was filled in. Give its price at least.")
        row = told(given)
    try:
        added = add_sale(desk, table, row)
    except TableError as error:
        headers = desk.text_table(table).headers
        where = f"f.{headers.index(error.where)}" if error.where in headers else ""
        raise Refusal(422, error.code, str(error), where=where) from error
    assert added.version is not None
    kept = desk.table(added.version)
    desk.warm(kept)
    return go(f"/comparables/{kept.id}?said={quote(added.sentence)}")


@router.get("/comparables/{table_id}/sales/{row}")
def sale(request: Request, desk: TheDesk, table_id: Number, row: Number) -> Response:
    """One sale: what it says, what it was read as, and what is wrong with it."""
    from valuation.answers.sales_of_table import one_sale

    table = desk.table(table_id)
    found = one_sale(desk, table, row)
    context = SalePage(
        title=f"Row {row} of {desk.called(table)}",
        here="/comparables",
        twin=f"/api/v1/comparables/{table_id}/sales/{row}",
        used=in_use(desk, table),
        table=table,
        fields=found.fields,
        sale=found,
        realised=(),
        currency=desk.comparables(table).currency,
    )
    return page(request, context)


@router.post("/comparables/{table_id}/sales/{row}")
def correct(request: Request, desk: TheDesk, table_id: Number, row: Number, form: FormFields) -> Response:
    """Write the cells that were changed; the result is the table's next version."""
    from valuation.answers.intake import mend_table

    table = desk.table(table_id)
    text = desk.text_table(table)
    cells = {(row, text.headers[place]): new for place, new in _cells(form, len(text.headers)).items()}
    changed = {at: new for at, new in cells.items() if new != text.cell(*at).strip()}
    if not changed:
        return go(f"/comparables/{table_id}?said=Nothing+was+changed.")
    return mended(request, desk, mend_table(desk, table, changed), f"Row {row} is corrected")


@router.post("/comparables/{table_id}/sales/{row}/set-aside")
def set_aside(request: Request, desk: TheDesk, table_id: Number, row: Number, form: FormFields) -> Response:
    """Set a sale aside with a reason."""
    from valuation.answers import sales_of_table

    reason = form.get("reason", "").strip()[:200]
    if not reason:
        detail = f"Cannot set row {row} aside without a reason: the field is blank. Say why it is not counted."
        raise Refusal(422, "service.request", detail, where="reason")
    found = sales_of_table.set_aside(desk, desk.table(table_id), row, reason)
    return mended(request, desk, found, f"Row {row} is set aside ({reason})")


@router.post("/comparables/{table_id}/sales/{row}/put-back")
def put_back(request: Request, desk: TheDesk, table_id: Number, row: Number) -> Response:
    """Put a sale back that was set aside."""
    from valuation.answers import sales_of_table

    return mended(request, desk, sales_of_table.set_aside(desk, desk.table(table_id), row, ""), f"Row {row} is back")


@router.get("/comparables/{table_id}/changes")
def changes(request: Request, desk: TheDesk, table_id: Number) -> Response:
    """What each version changed."""
    from valuation.answers.sales_of_table import what_changed

    table = desk.table(table_id)
    context = ChangesPage(
        title=f"Versions of {desk.called(table)}",
        here="/comparables",
        twin=f"/api/v1/comparables/{table_id}/changes",
        used=in_use(desk, table),
        table=table,
        changes=what_changed(desk, table.name),
    )
    return page(request, context)


@router.post("/comparables/{table_id}/undo")
def undo(desk: TheDesk, table_id: Number) -> Response:
    """Take the last mend, addition or setting aside that still stands back, as a new version."""
    from valuation.answers.undo import take_back

    table = take_back(desk, desk.table(table_id))
    desk.warm(table)
    said = quote(f"The last change is taken back; version {table.version} is as it was before.")
    return go(f"/comparables/{table.id}?said={said}")


@router.post("/comparables/{table_id}/redo")
def redo(desk: TheDesk, table_id: Number) -> Response:
    """Put back the change that was taken back last, as a new version."""
    from valuation.answers.undo import put_back

    table = put_back(desk, desk.table(table_id))
    desk.warm(table)
    said = quote(f"The change is put back; version {table.version} is as it was before you took it back.")
    return go(f"/comparables/{table.id}?said={said}")


def _cells(form: dict[str, str], count: int) -> dict[int, str]:
    named = {record_number(name.removeprefix("f.")): text.strip() for name, text in form.items() if name[:2] == "f."}
    return {place: text for place, text in named.items() if place is not None and place < count}
