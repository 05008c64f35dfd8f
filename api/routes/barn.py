"""The barn's tables, what they say of a find, and finds that are kept."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api import barn
from api.deps import TableNumber, TheDesk, TheSettings
from api.desk import Desk
from api.jobs import Job
from api.models.barn import FindSent
from api.models.shared import Amount
from api.pages.render import locale_of
from api.problems import Refusal, answers
from api.routes.estimates import Wait
from api.routes.jobs import ACCEPTED, answered, still_at_it
from valuation.answers.barn import BarnTables
from valuation.answers.barn_answer import BarnAnswer, BarnFind, answer_in_barn, find_told, still_to_tell
from valuation.answers.barn_finds import FindKept
from valuation.text.plain import plain

router = APIRouter(prefix="/api/v1/barn", tags=["in the barn"])
LONG: dict[int | str, dict[str, Any]] = {**answers(404, 409, 422, 500, 503), **ACCEPTED}


@router.get("", response_model=BarnTables, responses=LONG, summary="Tables to carry into the barn")
def tables(desk: TheDesk, table: TableNumber = None, wait: Wait = 60.0) -> Any:
    """Worth as found and most to pay over line, year, condition, engine and paint; made once a day."""
    return _answered(desk, table, wait, lambda found: found)


@router.get("/answer", response_model=BarnAnswer, responses=LONG, summary="What the tables say of a find")
def answer(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    asked: Annotated[Amount | None, Query()] = None,
    table: TableNumber = None,
    wait: Wait = 60.0,
) -> Any:
    """Tell the line, the year and each field by the names of the schema; ``*`` is any line without a table."""
    told = dict(request.query_params)

    def look_up(found: BarnTables) -> BarnAnswer:
        find = find_told(found, told, asked)
        if not isinstance(find, BarnFind):
            raise Refusal(422, "service.request", f"Cannot answer yet. {still_to_tell(find)}")
        return answer_in_barn(found, find, locale_of(settings))

    return _answered(desk, table, wait, look_up)


@router.post("/finds", status_code=201, response_model=FindKept, responses=LONG, summary="Keep a find")
def keep_find(desk: TheDesk, sent: FindSent, table: TableNumber = None, wait: Wait = 60.0) -> Response:
    """A vehicle at the stage 'found', with its estimate and photograph; sent twice it is kept once."""
    try:
        photo = base64.b64decode(sent.photo, validate=True)
    except (ValueError, binascii.Error) as error:
        raise Refusal(422, "service.request", "Cannot read the photograph: it is not base64.", where="photo") from error
    record = desk.table(table)
    return answered(
        desk.work(f"Keeping the find {sent.key}", lambda job: barn.keep(desk, job, record, sent.find(), photo)), wait
    )


def _answered(desk: Desk, number: int | None, wait: float, made: Callable[[BarnTables], Any]) -> Any:
    """What is made of the tables, which are made first where they are not at hand."""
    table = desk.table(number)

    def done(job: Job) -> Any:
        found = barn.at_hand(desk, table)
        return made(found) if found is not None else still_at_it(job)

    found = barn.at_hand(desk, table)
    return answered(barn.making(desk, table), wait, done) if found is None else plain(made(found))
