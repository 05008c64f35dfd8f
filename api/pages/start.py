"""The first page: vehicles by where they stand, the sales, the track record; by the hand when all is empty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from api.deps import TheDesk
from api.pages.render import Page, page
from api.pages.vehicle_head import photo_address, section_address
from valuation.answers.demo import is_brought, is_put_away
from valuation.answers.story import ShopLine, shop_lines
from valuation.answers.vehicle_file import STAGES, Stage, VehicleFile, vehicle_files

if TYPE_CHECKING:
    from valuation.ledger import TableRecord

router = APIRouter(include_in_schema=False)
MOST_LINES = 12
"""Vehicles of a stage that are shown at rest, the newest: chosen, what a telephone's owner scrolls through."""


@dataclass(frozen=True)
class Line:
    """A vehicle in the list.

    Attributes
    ----------
    line : ShopLine
    address, next_address, picture : str
        Of its story, of the next thing, and of its first photograph; empty without one.
    """

    line: ShopLine
    address: str
    next_address: str
    picture: str


@dataclass(frozen=True)
class StageShown:
    """The vehicles at a stage.

    Attributes
    ----------
    stage : {"found", "in work", "for sale", "sold"}
    lines : list of Line
        The newest, or all where they were asked for.
    of : int
        How many there are.
    unfolded : bool
        Whether they were asked for.
    """

    stage: Stage
    lines: list[Line]
    of: int
    unfolded: bool


@dataclass(frozen=True, kw_only=True)
class StartPage(Page):
    """Where the shop stands.

    Attributes
    ----------
    tables, tables_away : list of TableRecord
        Newest version of each table, newest first; in use, and put away.
    stages : list of StageShown
        Those where there are any.
    find : str
        What the names of the vehicles shown hold; empty where all are meant.
    many : bool
        Whether there are so many that a field finds one by its name.
    archived : list of VehicleFile
        Vehicles that were put away.
    has_demo, demo_here, demo_away : bool
        Whether the demo can be brought, whether it is here, and whether it was put away.
    record : str
        The track record in a sentence; empty before the first sale.
    currency : str
        Of new tables that name none.
    """

    template = "start.html"
    tables: list[TableRecord]
    tables_away: list[TableRecord]
    stages: list[StageShown]
    find: str
    many: bool
    archived: list[VehicleFile]
    has_demo: bool
    demo_here: bool
    demo_away: bool
    record: str
    currency: str


@router.get("/")
def start(
    request: Request,
    desk: TheDesk,
    stage: Annotated[str, Query(max_length=20)] = "",
    find: Annotated[str, Query(max_length=200)] = "",
) -> HTMLResponse:
    """The first page: of each stage the newest, all of one, or those whose name holds something."""
    files = vehicle_files(desk)
    sold = any(file.sales for file in files)
    if sold or any(file.vehicle.bought_on is not None for file in files):
        request.app.state.warm_up.wait()  # plans and sales are read by modules that one thread loads for all
    here = [one for one in files if not one.archived]
    meant = [one for one in here if find.strip().casefold() in one.name.casefold()]
    stages = [_stage(desk, one, meant, asked=one == stage or bool(find.strip())) for one in STAGES]
    context = StartPage(
        title="The shop",
        here="/",
        twin="/api/v1/vehicles",
        tables=desk.newest_tables(),
        tables_away=desk.newest_tables(archived=True),
        stages=[one for one in stages if one.lines],
        find=find.strip(),
        many=len(here) > MOST_LINES,
        archived=[one for one in files if one.archived],
        has_demo=_has_demo(desk),
        demo_here=is_brought(desk),
        demo_away=is_put_away(desk),
        record=_record(desk) if sold else "",
        currency=desk.settings.currency,
    )
    return page(request, context)


def _stage(desk: TheDesk, stage: Stage, files: list[VehicleFile], *, asked: bool) -> StageShown:
    own = [one for one in files if one.stage == stage]
    lines = [_line(one) for one in shop_lines(desk, own if asked else own[:MOST_LINES])]
    return StageShown(stage, lines, len(own), asked)


def _line(one: ShopLine) -> Line:
    picture = "" if one.photo is None else photo_address(one.photo)
    return Line(one, f"/vehicles/{one.number}", section_address(one.number, one.next.section), picture)


def _record(desk: TheDesk) -> str:
    from valuation.answers.track_record import track_record

    return track_record(desk.ledger).sentence


def _has_demo(desk: TheDesk) -> bool:
    return (desk.settings.demo_folder / "comparables.csv").is_file()
