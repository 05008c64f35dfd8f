"""The shop's settings, once for all plans: rates, time, usual terms, the name on paper, and the book of steps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.deps import FormFields, TheDesk, record_number
from api.desk import Desk
from api.pages.refused import SHOWN
from api.pages.render import Page, go, page, page_of
from api.plan_cards import Source, acted, sources
from api.plan_form import NUMBERS as PLAN_NUMBERS
from api.plan_form import NumberField, say_of_form
from api.shop_form import GROUPS, JOBS, NUMBERS, ShopFields, shop_fields, shop_text, typed_shop
from api.step_form import Choices, settable
from valuation.answers.shop import ShopChange, ShopNow, keep_settings, shop_now
from valuation.errors import LedgerError, PlanError
from valuation.schema import Schema
from valuation.schema.reader import default_schema

router = APIRouter(include_in_schema=False)
MOST_SAID = 3
"""Changes that are said at once; the rest stands in the fold of what was changed."""


@dataclass(frozen=True, kw_only=True)
class ShopPage(Page):
    """The shop's settings.

    Attributes
    ----------
    now : ShopNow
        As they count.
    fields : ShopFields
        As the form shows them.
    groups : tuple
        Its number fields by what they are about.
    jobs : str
        Name of the field of past jobs.
    choices : list
        What a step can make of a vehicle.
    sources : list of Source
        Where steps can be taken from.
    titles : dict of str to str
        What each setting is called.
    currency : str
    """

    template = "shop.html"
    now: ShopNow
    fields: ShopFields
    groups: tuple[tuple[str, tuple[NumberField, ...]], ...] = GROUPS
    jobs: str = JOBS
    choices: Choices
    sources: list[Source]
    titles: Mapping[str, str]
    currency: str


@router.get("/shop")
def shop(request: Request, desk: TheDesk, said: Annotated[str, Query(max_length=1_000)] = "") -> Response:
    """The settings as they count."""
    now = shop_now(desk.ledger, desk.folder)
    return page(request, _context(desk, now, shop_fields(now.text), said))


@router.post("/shop")
def keep(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Write the settings to the ledger."""
    request.state.page_of_form = partial(_form_again, request, desk, form)
    try:
        text = shop_text(form, _currency(desk))
        _, changes = keep_settings(
            desk.ledger, desk.folder, text, _schema(desk), record_number(form.get("record", "")) or 0
        )
    except (PlanError, LedgerError) as error:
        say_of_form(form, error, NUMBERS)
        raise
    return go(f"/shop?said={quote(_told(changes))}")


@router.post("/shop/cards")
def cards(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """The form once more after a button changed the book; nothing is written."""
    fields = typed_shop(form)
    fields = replace(fields, steps=acted(fields.steps, form.get("act", ""), desk.ledger, {}))
    return page(request, _context(desk, shop_now(desk.ledger, desk.folder), fields), headers=SHOWN)


def _form_again(request: Request, desk: Desk, form: Mapping[str, str]) -> str:
    return page_of(request, _context(desk, shop_now(desk.ledger, desk.folder), typed_shop(form)))


def _context(desk: Desk, now: ShopNow, fields: ShopFields, said: str = "") -> ShopPage:
    return ShopPage(
        title="The shop's settings",
        here="/shop",
        twin="/api/v1/shop",
        said=said,
        now=now,
        fields=fields,
        choices=settable(_schema(desk), fields.steps),
        sources=sources(desk.ledger, {}),
        titles=_titles(change for one in now.versions for change in one.changes),
        currency=_currency(desk),
    )


def _schema(desk: Desk) -> Schema:
    table = desk.newest_table()
    return default_schema() if table is None else desk.schema(table)


def _currency(desk: Desk) -> str:
    table = desk.newest_table()
    return desk.usual_currency if table is None else desk.comparables(table).currency


def _titles(changes: Iterable[ShopChange]) -> dict[str, str]:
    """What each setting is called, and each step of the book that was changed."""
    named = {one.path: f"The step {one.path.partition('.')[2]}" for one in changes if one.path.startswith("steps.")}
    named |= {one.path: one.title for one in (*PLAN_NUMBERS, *NUMBERS)}
    return named | {JOBS: "Past jobs", "paper.name": "Name on paper", "paper.contact": "Contact on paper"}


def _told(changes: tuple[ShopChange, ...]) -> str:
    """What was changed, the first few."""
    if not changes:
        return "Nothing was changed."
    titles = _titles(changes)
    told = [
        f"{titles.get(one.path, one.path)}: was {(one.was or 'not told')[:60]}, is {(one.now or 'not told')[:60]}"
        for one in changes[:MOST_SAID]
    ]
    more = len(changes) - len(told)
    return f"Kept. {'; '.join(told)}{f' and {more} more' if more else ''}."
