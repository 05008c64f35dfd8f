"""Tables of comparables: bring one, see its faults, mend it, look at its versions; and the schema."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Query, UploadFile

from api.answers import check_answer, clash_refusal, schema_answer, table_answer
from api.deps import Number, TheDesk
from api.models.comparables import CheckAnswer, MendAsked, SchemaAnswer, TableAnswer, TableShownAsked
from api.problems import Refusal, answers
from valuation.answers.intake import bring, draft_of, mend_table

router = APIRouter(prefix="/api/v1", tags=["comparables"])
OptionalTable = Annotated[int | None, Query(ge=1, le=2**31 - 1, description="Table version; the newest unless given.")]


@router.get("/comparables", responses=answers(409), summary="Versions of all tables")
def list_tables(
    desk: TheDesk, archived: Annotated[bool, Query(description="Also those that were put away.")] = False
) -> list[TableAnswer]:
    """Newest first."""
    return [table_answer(desk, table) for table in desk.tables(archived=archived)]


@router.post(
    "/comparables", status_code=201, response_model=CheckAnswer, responses=answers(409, 422), summary="Bring a table"
)
def bring_table(
    desk: TheDesk,
    file: Annotated[UploadFile, File(description="CSV, XLSX, ODS or Parquet.")],
    name: Annotated[str, Form(max_length=200, description="The shop's name for it; the file's unless given.")] = "",
    currency: Annotated[str, Form(max_length=12, description="Currency of prices that name none.")] = "",
    day_first: Annotated[
        bool | None, Form(description="Whether 3/4/2025 is 3 April; as last time unless given.")
    ] = None,
    mend_again: Annotated[bool, Form(description="Whether mends of the version before are made again.")] = True,
    schema_file: Annotated[
        UploadFile | str | None, File(description="A schema in TOML; the default unless given.")
    ] = None,
) -> Any:
    """Reads and checks the table and keeps it with its original file as the next version of its name.

    Headers, words and mends of the version before are remembered; what was mended again, and what no longer fits, is
    listed under ``remembered``, and stands in a version of its own after the file as it came.
    """
    text = None
    if schema_file is not None and not isinstance(schema_file, str):
        text = schema_file.file.read()
    source_name = (file.filename or "").strip() or "table"
    draft = draft_of(
        desk, name.strip() or source_name, file.file.read(), source_name,
        schema_text=text, currency=currency, day_first=day_first,
    )  # fmt: skip
    brought = bring(desk, draft, mend_again=mend_again)
    return check_answer(desk, brought.table, brought)


@router.get(
    "/comparables/{table_id}",
    response_model=CheckAnswer,
    responses=answers(404, 409, 422),
    summary="One table version with its faults",
)
def one_table(desk: TheDesk, table_id: Number) -> Any:
    """What the table holds, how its headers were understood, and each fault with its mend."""
    return check_answer(desk, desk.table(table_id))


@router.post(
    "/comparables/{table_id}/shown",
    status_code=201,
    responses=answers(404, 409, 422),
    summary="Call a table otherwise, put it away or bring it back",
)
def show_table(desk: TheDesk, table_id: Number, asked: TableShownAsked) -> TableAnswer:
    """Holds for all versions of the table; its name in the ledger stays."""
    table = desk.table(table_id)
    if asked.called is not None:
        desk.call_table(table.name, asked.called)
    if asked.archived is not None:
        desk.archive_table(table.name, back=not asked.archived)
    return table_answer(desk, table)


@router.get("/comparables/{table_id}/rows", responses=answers(404, 409, 422), summary="Cells of a table version")
def table_rows(
    desk: TheDesk,
    table_id: Number,
    first: Annotated[int, Query(ge=2, le=2_100_000, description="First row number.")] = 2,
    most: Annotated[int, Query(ge=1, le=1_000, description="How many rows at most.")] = 200,
) -> list[dict[str, str]]:
    """Every cell as text under the file's own headers, with the row number as ``row``."""
    cells = desk.text_table(desk.table(table_id)).cells
    shown = cells.loc[cells.index >= first].head(most)
    return [{"row": str(row), **dict(zip(map(str, cells.columns), map(str, values), strict=True))}
            for row, values in zip(shown.index, shown.to_numpy().tolist(), strict=True)]  # fmt: skip


@router.post(
    "/comparables/{table_id}/mends",
    status_code=201,
    response_model=CheckAnswer,
    responses=answers(404, 409, 422),
    summary="Mend a table version",
)
def mend(desk: TheDesk, table_id: Number, mends: MendAsked) -> Any:
    """Writes the table's next version; the older one stays as it was.

    Where a newer version is there already, the mends go into that one; where it holds something else in the same cells,
    nothing is written (409).
    """
    if not (mends.cells or mends.left_out or mends.confirmed or mends.headers):
        raise Refusal(422, "service.request", "Cannot mend the table: no mend was given. Name a cell, row or header.")
    cells = {(cell.row, cell.column): cell.value for cell in mends.cells}
    found = mend_table(
        desk, desk.table(table_id), cells, left_out=mends.left_out, confirmed=mends.confirmed, headers=mends.headers
    )
    if found.clashes:
        raise clash_refusal(found)
    return check_answer(desk, found.table)


@router.get("/schema", responses=answers(404, 409, 422), summary="What the columns mean")
def schema(desk: TheDesk, table: OptionalTable = None) -> SchemaAnswer:
    """The schema of a table version; without any table, the default schema."""
    if table is None and not desk.ledger.tables():
        from valuation.schema import default_schema

        return schema_answer(default_schema(), {})
    found = desk.table(table)
    return schema_answer(desk.schema(found), desk.levels_seen(found))
