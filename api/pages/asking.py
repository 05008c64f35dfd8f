"""Asking once more: an unlikely figure in a form comes back with the question and with all that was entered."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fastapi import Request
from fastapi.responses import Response

from api.pages.render import Page, go, page
from valuation.errors import UnlikelyError

CONFIRM = "confirm"
"""Form field that says that an unlikely figure is right."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A field of the form that can be mended on the spot.

    Attributes
    ----------
    name, title, kind : str
        As the form has them; ``kind`` is ``text`` or ``date``.
    value : str
        What was entered.
    """

    name: str
    title: str
    kind: str
    value: str = ""


SALE_ENTRIES = (Entry("price", "The buyer paid in all, before tax", "text"), Entry("sold_on", "on", "date"))


@dataclass(frozen=True, kw_only=True)
class AskPage(Page):
    """The question.

    Attributes
    ----------
    question : str
    action : str
        Where the form goes once more.
    entries : list of Entry
        What can be mended on the spot.
    kept : dict of str to str
        Everything else that was entered.
    """

    template = "ask.html"
    question: str
    action: str
    entries: list[Entry]
    kept: dict[str, str]


def taken(
    request: Request, form: Mapping[str, str], entries: tuple[Entry, ...], here: str, write: Callable[[], str]
) -> Response:
    """Write what a form says and go on to the address that this gives, or ask about it once more."""
    try:
        return go(write())
    except UnlikelyError as error:
        names = {entry.name for entry in entries} | {CONFIRM}
        context = AskPage(
            title="Is that right?",
            here=here,
            question=str(error),
            action=request.url.path,
            entries=[Entry(one.name, one.title, one.kind, form.get(one.name, "")) for one in entries],
            kept={name: value for name, value in form.items() if name not in names},
        )
        return page(request, context)
