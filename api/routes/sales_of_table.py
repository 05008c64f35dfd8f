"""Sales of a table one by one: add, look at, correct, set aside, put back; changes by version, undo and redo."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path

from api.answers import check_answer, clash_refusal
from api.deps import Number, TheDesk
from api.models.comparables import AddedAnswer, ChangeAnswer, CheckAnswer, OneSaleAnswer, SaleAsked, SetAsideAsked
from api.problems import Refusal, answers
from valuation.text.plain import plain

router = APIRouter(tags=["comparables"], prefix="/api/v1/comparables/{table_id}")
Row = Annotated[int, Path(ge=2, le=2_100_000, description="As a spreadsheet shows it.")]


@router.post(
    "/sales", status_code=201, response_model=AddedAnswer, responses=answers(404, 409, 422), summary="Add a sale"
)
def add(desk: TheDesk, table_id: Number, asked: SaleAsked) -> Any:
    """Adds a row, or a sale that the shop realised itself; the result is the table's next version."""
    from valuation.answers.add import told
    from valuation.answers.realised import row_of
    from valuation.answers.sales_of_table import add_sale
    from valuation.ledger import SaleRecord

    if (asked.realised is None) == (not asked.cells):
        raise Refusal(422, "service.request", "Cannot add a sale: give its cells, or the number of a realised sale.")
    if asked.realised is not None:
        row = row_of(desk, desk.record(SaleRecord, asked.realised), asked.venue)
    else:
        row = told(asked.cells)
    return plain(add_sale(desk, desk.table(table_id), row))


@router.get("/sales/{row}", response_model=OneSaleAnswer, responses=answers(404, 409, 422), summary="One sale")
def one(desk: TheDesk, table_id: Number, row: Row) -> Any:
    """What the row says, what that was read as, and what is wrong with it."""
    from valuation.answers.sales_of_table import one_sale

    return plain(one_sale(desk, desk.table(table_id), row))


@router.post(
    "/sales/{row}", status_code=201, response_model=CheckAnswer, responses=answers(404, 409, 422), summary="Correct one"
)
def correct(desk: TheDesk, table_id: Number, row: Row, asked: SaleAsked) -> Any:
    """Writes its cells anew, by the file's headers."""
    from valuation.answers.intake import mend_table

    found = mend_table(desk, desk.table(table_id), {(row, header): text for header, text in asked.cells.items()})
    if found.clashes:
        raise clash_refusal(found)
    return check_answer(desk, found.table)


@router.post(
    "/sales/{row}/set-aside",
    status_code=201,
    response_model=CheckAnswer,
    responses=answers(404, 409, 422),
    summary="Set a sale aside, or put it back",
)
def set_aside(desk: TheDesk, table_id: Number, row: Row, asked: SetAsideAsked) -> Any:
    """Keeps the reason in the table itself; an empty one puts the sale back."""
    from valuation.answers import sales_of_table

    found = sales_of_table.set_aside(desk, desk.table(table_id), row, asked.reason)
    if found.clashes:
        raise clash_refusal(found)
    return check_answer(desk, found.table)


@router.get("/changes", responses=answers(404, 409, 422), summary="What each version of a table changed")
def changes(desk: TheDesk, table_id: Number) -> list[ChangeAnswer]:
    """Newest first: row, column, from, to and the reason."""
    from valuation.answers.sales_of_table import what_changed

    found = what_changed(desk, desk.table(table_id).name)
    return [ChangeAnswer.model_validate(plain(one)) for one in found]


@router.post(
    "/undo",
    status_code=201,
    response_model=CheckAnswer,
    responses=answers(404, 409, 422),
    summary="Undo the last change",
)
def undo(desk: TheDesk, table_id: Number) -> Any:
    """The table before its last mend, addition or setting aside that still stands, as its next version."""
    from valuation.answers.undo import take_back

    return check_answer(desk, take_back(desk, desk.table(table_id)))


@router.post(
    "/redo",
    status_code=201,
    response_model=CheckAnswer,
    responses=answers(404, 409, 422),
    summary="Put back what was undone last",
)
def redo(desk: TheDesk, table_id: Number) -> Any:
    """The table with the change that was taken back last, as its next version."""
    from valuation.answers.undo import put_back

    return check_answer(desk, put_back(desk, desk.table(table_id)))
