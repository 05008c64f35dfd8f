"""Tables that were brought and wait: how each is understood, answers and mends, and the table when it reads right."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, UploadFile

from api.answers import check_answer
from api.deps import TheDesk
from api.models.comparables import AnswersAsked, CheckAnswer, WaitingAnswer
from api.problems import answers
from api.talks_of_tables import Talk, keep_talk, talk_of
from valuation.text.plain import plain

router = APIRouter(tags=["comparables"], prefix="/api/v1/comparables/drafts")


@router.post(
    "", status_code=201, response_model=WaitingAnswer, responses=answers(409, 422), summary="Understand a table"
)
def understand_table(
    desk: TheDesk,
    file: Annotated[UploadFile, File(description="CSV, XLSX, ODS or Parquet.")],
    name: Annotated[str, Form(max_length=200, description="The shop's name for it; the file's unless given.")] = "",
    currency: Annotated[str, Form(max_length=12, description="Currency of prices that name none.")] = "",
    day_first: Annotated[bool | None, Form(description="Whether 3/4/2025 is 3 April.")] = None,
    schema_file: Annotated[UploadFile | str | None, File(description="A schema in TOML.")] = None,
) -> Any:
    """What each column and word is taken for, what is open, and the faults; nothing is written to the ledger.

    The table waits under ``id`` as long as the service runs and no eight newer ones are brought.
    """
    from valuation.answers.bringing import begin

    text = schema_file.file.read() if schema_file is not None and not isinstance(schema_file, str) else None
    source_name = (file.filename or "").strip() or "table"
    waiting = begin(
        desk, name.strip() or source_name, file.file.read(), source_name,
        schema_text=text, currency=currency, day_first=day_first,
    )  # fmt: skip
    return _shown(keep_talk(desk.waiting, waiting))


@router.get("/{key}", response_model=WaitingAnswer, responses=answers(404), summary="A table that waits")
def waiting_table(desk: TheDesk, key: str) -> Any:
    """How it is understood by now."""
    return _shown(talk_of(desk.waiting, key))


@router.post(
    "/{key}/answers", response_model=WaitingAnswer, responses=answers(404, 422), summary="Answer about a waiting table"
)
def answer(desk: TheDesk, key: str, told: AnswersAsked) -> Any:
    """Takes answers, then mends, then what is suggested; each read again with all that went before."""
    from valuation.answers import bringing
    from valuation.answers.fault_cards import chosen_mends, typed_mends

    talk = talk_of(desk.waiting, key)
    waiting = talk.waiting
    if told.sheet and told.sheet != talk.dialogue.sheet:
        waiting = bringing.on_sheet(waiting, told.sheet)
    headers = {f"header/{header}": meaning for header, meaning in told.columns.items()}
    waiting = bringing.answered(waiting, {**told.told, **headers})
    cells = {(one.row, one.column): one.value for one in told.cells}
    waiting = bringing.with_mends(waiting, typed_mends(talk.seen.text, cells, told.left_out, told.confirmed))
    if told.undo:
        waiting = bringing.without_last_mends(waiting)
    if told.take == "suggestions":
        waiting = bringing.with_suggestions(waiting, talk.seen)
    elif told.take == "mends" and talk.seen.read is not None:
        waiting = bringing.with_mends(waiting, chosen_mends(talk.seen.read, "sure"))
    return _shown(keep_talk(desk.waiting, waiting, talk))


@router.post(
    "/{key}/table",
    status_code=201,
    response_model=CheckAnswer,
    responses=answers(404, 409, 422),
    summary="Put a waiting table to use",
)
def use_table(desk: TheDesk, key: str) -> Any:
    """Writes it to the ledger as it came, and after it the version with its mends."""
    from valuation.answers.bringing import use

    talk = talk_of(desk.waiting, key)
    brought = use(desk, talk.waiting, talk.seen)
    desk.waiting.forget(key)
    return check_answer(desk, brought.table, brought)


def _shown(talk: Talk) -> dict[str, Any]:
    return {**plain(talk.dialogue), "id": talk.key}
