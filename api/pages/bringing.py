"""Bringing a table: the form, and the talk about it on one page until it is put to use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, File, Form, Query, Request, UploadFile
from fastapi.responses import Response

from api.deps import FormFields, TheDesk, TheSettings, record_number
from api.pages.render import Page, go, page
from api.pages.work import FOLLOW_SECONDS, follow
from api.problems import Refusal
from api.talks_of_tables import Talk, keep_talk, talk_of

if TYPE_CHECKING:
    from valuation.answers.dialogue import Dialogue
    from valuation.comparables.texttable import TextTable

router = APIRouter(include_in_schema=False)
LARGE = 100_000
"""Bytes of a file from which its reading may take more than half a second: measured, some 1,500 rows of eight cells."""
IN_PLACE_SECONDS = 100.0
"""How long the desk's script waits for a large table's next state, under its own limit of two minutes."""
Tell = Callable[[str, float], None]
"""What the work is at, and how much of it is done."""


@dataclass(frozen=True, kw_only=True)
class BringPage(Page):
    """The form that brings a table.

    Attributes
    ----------
    currency : str
        Assumed for tables that name none.
    """

    template = "bring.html"
    currency: str


@dataclass(frozen=True, kw_only=True)
class DialoguePage(Page):
    """The talk about a table.

    Attributes
    ----------
    key : str
        Under which it waits.
    revision : int
        Of the state that is shown.
    talk : Dialogue
    """

    template = "dialogue.html"
    key: str
    revision: int
    talk: Dialogue


@router.get("/comparables/bring")
def bring_page(request: Request, settings: TheSettings) -> Response:
    """The form that brings a table."""
    return page(
        request,
        BringPage(title="Bring a table", here="/comparables", twin="/api/v1/comparables", currency=settings.currency),
    )


@router.post("/comparables")
def bring(
    request: Request,
    desk: TheDesk,
    file: Annotated[UploadFile | None, File()] = None,
    schema_file: Annotated[UploadFile | None, File()] = None,
    pasted: Annotated[str, Form()] = "",
    name: Annotated[str, Form(max_length=200)] = "",
    currency: Annotated[str, Form(max_length=12)] = "",
    day_first: Annotated[str, Form(max_length=5)] = "",
) -> Response:
    """Read a table from a file or from the clipboard, to be talked about."""
    from valuation.answers.bringing import begin

    source = file.file.read() if file is not None and file.filename else b""
    source_name = (file.filename or "") if source and file is not None else "pasted table"
    source = source or pasted.encode("utf-8")
    if not source.strip():
        detail = "Cannot bring a table: no file was chosen and nothing pasted. Do either."
        raise Refusal(422, "service.request", detail, where="file")
    text = schema_file.file.read() if schema_file is not None and schema_file.filename else None
    title = name.strip() or source_name.rpartition(".")[0] or source_name
    order = {"true": True, "false": False}.get(day_first)

    def read(tell: Tell) -> str:
        tell(f"reading {source_name}", 0.1)
        waiting = begin(desk, title, source, source_name, schema_text=text, currency=currency, day_first=order)
        tell("understanding its columns and words, and looking for faults", 0.5)
        return f"/comparables/bring/{keep_talk(desk.waiting, waiting).key}"

    return _working(request, desk, source, f"Reading {title}", read, FOLLOW_SECONDS)


@router.get("/comparables/bring/{key}")
def dialogue_page(
    request: Request, desk: TheDesk, key: str, said: Annotated[str, Query(max_length=300)] = ""
) -> Response:
    """The talk as it stands."""
    talk = talk_of(desk.waiting, key)
    context = DialoguePage(
        title=f"Bring {talk.waiting.name}",
        here="/comparables",
        twin=f"/api/v1/comparables/drafts/{key}",
        said=said,
        key=key,
        revision=talk.revision,
        talk=talk.dialogue,
    )
    return page(request, context)


@router.post("/comparables/bring/{key}")
def answer(request: Request, desk: TheDesk, key: str, form: FormFields) -> Response:
    """Take what the form says, then do what its button says."""
    from valuation.answers import bringing
    from valuation.answers.fault_cards import chosen_mends, typed_mends

    talk = talk_of(desk.waiting, key)
    here, do, scripts = f"/comparables/bring/{key}", form.get("do", ""), "hx-request" in request.headers
    if record_number(form.get("revision", "")) != talk.revision:
        return go(f"{here}?said=This+page+was+an+older+one;+nothing+of+it+was+taken.+This+is+how+the+table+stands.")
    waiting = bringing.answered(talk.waiting, _told(talk.dialogue, form))
    if sheet := form.get("sheet", ""):
        waiting = waiting if sheet == talk.dialogue.sheet else bringing.on_sheet(waiting, sheet)
    cells, left_out, right = typed_rows(talk.seen.text, form)
    waiting = bringing.with_mends(waiting, typed_mends(talk.seen.text, cells, left_out, right))
    kind, _, which = do.partition(".")
    if kind == "suggestions":
        waiting = bringing.with_suggestions(waiting, talk.seen)
    elif kind == "mend" and talk.seen.read is not None:
        waiting = bringing.with_mends(waiting, chosen_mends(talk.seen.read, which))
    elif kind == "undo":
        waiting = bringing.without_last_mends(waiting)

    def go_on(tell: Tell) -> str:
        stands = talk
        if waiting is not talk.waiting:
            tell("reading it again with what you said", 0.1)
            stands = keep_talk(desk.waiting, waiting, talk)
        if kind == "use":
            tell("writing it to the ledger, as it came and as it was mended", 0.5)
            return _use(desk, stands)
        return f"{here}#rows" if not scripts and (which or cells or left_out) else here  # scripts keep the place

    doing = "Putting" if kind == "use" else "Reading"
    what = f"{doing} {waiting.name} {'to use' if kind == 'use' else 'again'}"
    seconds = IN_PLACE_SECONDS if scripts and kind != "use" else FOLLOW_SECONDS
    return _working(request, desk, waiting.source, what, go_on, seconds)


def _working(
    request: Request,
    desk: TheDesk,
    source: bytes,
    what: str,
    do: Callable[[Tell], str],
    seconds: float,
) -> Response:
    """On to the address that comes of it: at once for a small file; a large one is work that says what it is at."""
    if len(source) < LARGE:
        return go(do(lambda _step, _share: None))
    return follow(request, desk.work(what, lambda job: do(job.report)), seconds=seconds)


def _use(desk: TheDesk, talk: Talk) -> str:
    from valuation.answers.bringing import use

    brought = use(desk, talk.waiting, talk.seen)
    desk.waiting.forget(talk.key)
    desk.warm(brought.table)
    if brought.before is None:
        return f"/comparables/{brought.table.id}"
    desk.brought.keep(str(brought.table.id), brought)
    return f"/comparables/{brought.table.id}?brought=1"


def _told(talk: Dialogue, form: dict[str, str]) -> dict[str, str]:
    """What the form says otherwise than the page did."""
    shown = {f"header/{one.header}": one.meaning for one in talk.columns}
    shown |= {word.key: word.level for scale in talk.scales for word in scale.words}
    shown |= {one.key: one.suggestion if one.is_in_force else "" for one in talk.questions}
    shown |= {f"premium/{venue}": percent for venue, percent in talk.venues} | {"currency": talk.currency}
    names = {f"column.{place}": f"header/{one.header}" for place, one in enumerate(talk.columns)}
    told = {names.get(name, name.removeprefix("told.")): value.strip() for name, value in form.items()}
    return {key: value for key, value in told.items() if key in shown and value != shown[key]}


def typed_rows(text: TextTable, form: dict[str, str]) -> tuple[dict[tuple[int, str], str], list[int], list[int]]:
    """Cells, rows to be left out and rows that are right, as a form of rows sends them.

    Parameters
    ----------
    text : TextTable
        The table that the form shows.
    form : dict of str to str
    """
    cells: dict[tuple[int, str], str] = {}
    left_out, right = [], []
    for name, value in form.items():
        kind, _, rest = name.partition(".")
        row, column = (record_number(number) for number in rest.partition(".")[::2])
        if row is None:
            continue
        if kind == "leave" and value:
            left_out.append(row)
        elif kind == "right" and value:
            right.append(row)
        elif kind == "cell" and column is not None and column < len(text.headers) and row in text.cells.index:
            cells[row, text.headers[column]] = value.strip()
    return cells, left_out, right
