"""In the barn: one screen for a telephone that answers by itself, from tables that it carries."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import secrets
from dataclasses import dataclass, field, replace
from functools import cache, partial
from typing import Annotated, NamedTuple

from fastapi import APIRouter, File, Request, UploadFile
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup

from api import barn
from api.deps import FormFields, TheDesk, TheSettings
from api.desk import Desk
from api.forms import amount
from api.jobs import Job
from api.models.barn import KEY, MOST_REMARK
from api.pages.render import HERE, Page, go, locale_of, page
from api.pages.work import follow
from api.problems import Refusal
from api.settings import Settings
from valuation.answers.barn import BarnTables
from valuation.answers.barn_answer import (
    ANOTHER_LINE,
    WORDS,
    BarnAnswer,
    BarnFind,
    answer_in_barn,
    find_told,
    still_to_tell,
)
from valuation.answers.barn_finds import Find
from valuation.day import day_of
from valuation.errors import VehicleError
from valuation.paths.barn_grid import CONDITION, ENGINE, FIELDS, LINE, YEAR
from valuation.paths.field_table import NO_ENGINE
from valuation.text.plain import plain

router = APIRouter(include_in_schema=False)
KEY_CHARACTERS = "abcdefghijkmnpqrstuvwxyz23456789"
"""Of a find's key: without those that are taken for each other when read aloud."""
KEY_LENGTH = 10
"""32 to the power of 10 keys: two finds of one shop never meet."""


class Inline(NamedTuple):
    """A style sheet or script that stands in the page itself, with what its policy names it by."""

    text: Markup
    source: str


@cache
def _inline(*names: str) -> Inline:
    text = "".join((HERE / "static" / name).read_text(encoding="utf-8") for name in names)
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return Inline(Markup(text), f"'sha256-{digest}'")


def new_key() -> str:
    """A key of a find, at random."""
    return "".join(secrets.choice(KEY_CHARACTERS) for _ in range(KEY_LENGTH))


@dataclass(frozen=True, kw_only=True)
class BarnPage(Page):
    """The barn's screen.

    Attributes
    ----------
    tables : BarnTables or None
        None where there is no table of sales yet.
    told : dict of str to str
        What was typed, by the names of the fields.
    answer : BarnAnswer or None
    untold : str
        What is still to tell; empty where there is an answer.
    refused : tuple of str
        Field and words of a refusal; empty without one.
    carried : str
        All that the script needs, as JSON.
    style, script : Inline
    policy : str
        For the saved file, which no server sends a policy with; else empty.
    key : str
        Of the find that a form without scripts sends.
    line, year, another : str
        Names of two fields, and what stands for a line without a table.
    """

    template = "barn.html"
    title: str = "In the barn"
    here: str = "/barn"
    twin: str = "/api/v1/barn"
    tables: BarnTables | None = None
    told: dict[str, str] = field(default_factory=dict)
    answer: BarnAnswer | None = None
    untold: str = ""
    refused: tuple[str, ...] = ()
    carried: str = ""
    style: Inline = field(default_factory=partial(_inline, "palette.css", "barn.css"))
    script: Inline = field(default_factory=partial(_inline, "barn.js"))
    policy: str = ""
    key: str = field(default_factory=new_key)
    line: str = LINE
    year: str = YEAR
    another: str = ANOTHER_LINE


@router.get("/barn")
def in_the_barn(request: Request, desk: TheDesk, settings: TheSettings) -> Response:
    """The screen, with the answer to what its address tells."""
    return _shown(request, desk, settings, dict(request.query_params))


@router.get("/barn/file")
def barn_file(request: Request, desk: TheDesk, settings: TheSettings) -> Response:
    """The same screen as a file that needs no server."""
    return _shown(request, desk, settings, {}, desk_address=str(request.base_url).rstrip("/"))


@router.get("/barn/worker.js")
def worker() -> Response:
    """The script that keeps the screen in the browser; it runs over https and on this computer alone."""
    text = (HERE / "static" / "barn-worker.js").read_text(encoding="utf-8")
    return Response(text, media_type="text/javascript", headers={"Service-Worker-Allowed": "/barn"})


@router.post("/barn/finds")
def keep(
    request: Request, desk: TheDesk, told: FormFields, photo: Annotated[UploadFile | None, File()] = None
) -> Response:
    """Keep a find that a form sends, and on to its vehicle."""
    picture = photo.file.read() if photo is not None and photo.filename else b""
    table = desk.table()
    names = (LINE, YEAR, *FIELDS)
    attributes = {name: text for name in names if (text := told.get(name, "").strip()) not in ("", ANOTHER_LINE)}
    if not attributes:
        detail = "Cannot keep the find: nothing is told of it. Tell the line, the year and the condition."
        raise Refusal(422, "service.request", detail, where=LINE)
    asked = amount(told, "asked", "the price asked", desk.comparables(table).currency)
    key = told.get("key", "")
    find = Find(
        key if re.fullmatch(KEY, key) else new_key(),
        attributes,
        day_of(),
        asked,
        told.get("remark", "").strip()[:MOST_REMARK],
    )

    def work(job: Job) -> str:
        return f"/vehicles/{barn.keep(desk, job, table, find, picture).vehicle}"

    return follow(request, desk.work(f"Keeping the find {find.key}", work))


def _shown(request: Request, desk: Desk, settings: Settings, told: dict[str, str], desk_address: str = "") -> Response:
    table = desk.newest_table()
    if table is None:
        return _page(request, BarnPage())
    tables = barn.at_hand(desk, table)
    if tables is None:
        return follow(request, barn.making(desk, table), lambda _: go(request.url.path))
    refused: tuple[str, ...] = ()
    answer, untold = None, ""
    try:
        found = find_told(tables, told, amount(told, "asked", "the price asked", tables.currency))
        if isinstance(found, BarnFind):
            answer = answer_in_barn(tables, found, locale_of(settings))
        else:
            untold = still_to_tell(found)
    except (VehicleError, Refusal) as error:
        refused = (error.where, str(error))
    context = BarnPage(
        tables=tables,
        told=told,
        answer=answer,
        untold=untold,
        refused=refused,
        carried=desk.remember(
            ("barn carried", barn.state(desk, table), desk_address), lambda: _carried(tables, settings, desk_address)
        ),
    )
    if not desk_address:
        return _page(request, context)
    policy = _policy(context.style, context.script, saved=True)
    return _page(request, replace(context, policy=policy), f"barn-{tables.as_of.isoformat()}.html")


def _page(request: Request, context: BarnPage, name: str = "") -> HTMLResponse:
    headers = {"Content-Security-Policy": _policy(context.style, context.script)}
    if name:
        headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return page(request, context, 422 if context.refused else 200, headers)


def _policy(style: Inline, script: Inline, *, saved: bool = False) -> str:
    """What the page may load and do: its own style sheet and script by their hashes, and nothing from elsewhere."""
    own = f"default-src 'none'; style-src {style.source}; script-src {script.source}; base-uri 'none'; img-src data:"
    if saved:
        return f"{own}; form-action 'none'"
    return (
        f"{own} 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; "
        "frame-ancestors 'none'"
    )


def _carried(tables: BarnTables, settings: Settings, desk_address: str) -> Markup:
    """Everything that the page answers from without the desk, as JSON that cannot end its own element."""
    locale = locale_of(settings)
    carried = {
        "tables": plain(tables),
        "words": WORDS,
        "names": {
            "line": LINE,
            "year": YEAR,
            "condition": CONDITION,
            "engine": ENGINE,
            "missing": NO_ENGINE[1],
            "another": ANOTHER_LINE,
        },
        "locale": {"thousands": locale.thousands, "decimal": locale.decimal},
        "key": {"characters": KEY_CHARACTERS, "length": KEY_LENGTH},
        "desk": desk_address,
    }
    text = json.dumps(carried, ensure_ascii=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c"))
