"""Two hands at one place: a form that shows what the other wrote meanwhile, and keeps what was typed here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import Request
from fastapi.responses import HTMLResponse

from api.pages.in_use import InUse
from api.pages.refused import SHOWN
from api.pages.render import Page, page

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.answers.intake import Mended
    from valuation.comparables.mend import Mend


@dataclass(frozen=True)
class Choice:
    """One place that both changed.

    Attributes
    ----------
    name, label : str
        The field, and the place in words.
    old, theirs, mine : str
        What the page showed, what stands there by now, and what was typed.
    mine_sent : str
        What the field sends for what was typed; a tick sends another text than it shows.
    """

    name: str
    label: str
    old: str
    theirs: str
    mine: str
    mine_sent: str


@dataclass(frozen=True, kw_only=True)
class ClashPage(Page):
    """What clashes, and a choice for each place.

    Attributes
    ----------
    lead : str
        Who changed what, in a sentence.
    action, button : str
        Where the form goes, and its button.
    kept : sequence of (str, str)
        Fields that do not clash, as they are sent on.
    choices : sequence of Choice
    lost : sequence of str
        What was typed for a place that is no longer there.
    back : str
        Address of the newer version.
    """

    template = "clash.html"
    lead: str
    action: str
    button: str
    kept: Sequence[tuple[str, str]]
    choices: Sequence[Choice]
    lost: Sequence[str]
    back: str


def clash_page(request: Request, context: ClashPage) -> HTMLResponse:
    """The page, as the answer to the form that clashed.

    Parameters
    ----------
    request : Request
    context : ClashPage
    """
    return page(request, context, 409, SHOWN)


def mends_clash(
    request: Request, desk: Desk, found: Mended, used: InUse, headers_wanted: Mapping[str, str]
) -> HTMLResponse:
    """The clash of mends, or of headers wanted, with those of a newer version of the table.

    Parameters
    ----------
    request : Request
    desk : Desk
    found : Mended
    used : InUse
    headers_wanted : mapping of str to str
        Column by header.
    """
    headers = desk.text_table(found.table).headers
    address = f"/comparables/{found.table.id}"

    def field(mend: Mend) -> tuple[str, str]:
        if mend.leaves_out:
            return f"leave.{mend.row}", "1"
        if mend.column not in headers:
            return f"right.{mend.row}", "1"
        return f"cell.{mend.row}.{headers.index(mend.column)}", mend.new

    choices, lost = [], []
    for one in found.reapplied.clashes:
        mend, place = one.mend, f"row {one.mend.row}, {one.mend.column}"
        if one.found is None:
            lost.append(f"{place}: {mend.old or 'blank'} to {mend.new or 'blank'}")
        elif mend.leaves_out:
            choices.append(Choice(f"leave.{mend.row}", f"row {mend.row}", "", "changed meanwhile", "left out", "1"))
        else:
            name, sent = field(mend)
            choices.append(Choice(name, place, mend.old, one.found, mend.new, sent))
    for header, old, now, mine in found.headers:
        choices.append(Choice(f"map.{header}", f"header {header}", old, now, mine, mine))
    apart = {header for header, *_ in found.headers}
    context = ClashPage(
        title="Changed meanwhile",
        here="/comparables",
        used=used,
        lead=f"Version {found.table.version} of {desk.called(found.table)} was written at "
        f"{found.table.written_at:%H:%M}, after your page showed version {found.shown.version}. Nothing of yours was "
        "written yet.",
        action=f"{address}/headers" if found.headers else f"{address}/mend",
        button="Keep the table with these choices",
        kept=[field(mend) for mend in found.reapplied.fits]
        + [(f"map.{one}", column) for one, column in headers_wanted.items() if one not in apart],
        choices=choices,
        lost=lost,
        back=address,
    )
    return clash_page(request, context)


def in_words(mends: Sequence[Mend], most: int = 3) -> str:
    """Mends in words, the first few.

    Parameters
    ----------
    mends : sequence of Mend
    most : int
        How many are named.
    """
    told = [
        f"row {one.row} left out" if one.leaves_out
        else f"row {one.row}, {one.column[:20]}: {one.old[:20] or 'blank'} to {one.new[:20] or 'blank'}"
        for one in mends[:most]
    ]  # fmt: skip
    more = len(mends) - len(told)
    return "; ".join(told) + (f" and {more} more" if more else "")
