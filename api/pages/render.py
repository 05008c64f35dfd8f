"""Rendering: Jinja with the shop's way of writing figures, typed contexts, and pages for problems."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass, fields
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from api.deps import record_number
from api.forms import CONFIRM
from api.pages.in_use import InUse, links
from api.pages.refused import SHOWN, is_part, page_text, shown_again, typed_into
from api.pages.vehicle_head import VehicleHead
from api.settings import Settings
from valuation.build.figures import chance
from valuation.errors import UnlikelyError
from valuation.sheets.cautions import cautions
from valuation.text.locale import LOCALES, Locale
from valuation.text.rounding import rounded

if TYPE_CHECKING:
    from api.desk import Desk

HERE = Path(__file__).parents[1]
SEEN = "cautions"
"""Cookie of a browser that has shown the cautions unfolded once."""
SEEN_SECONDS = 365 * 24 * 3600
"""A year: chosen."""


@dataclass(frozen=True, kw_only=True)
class Page:
    """What every page is given.

    Attributes
    ----------
    title : str
        Of the page.
    here : str
        Address of its entry among the links.
    twin : str
        Address of its JSON twin; empty when it has none.
    said : str
        What was just done, in one sentence; empty when nothing.
    used : InUse or None
        The table that the page works from, where it works from one.
    vehicle : VehicleHead or None
        The vehicle that the page is about, where it is about one.
    """

    template = ""
    title: str
    here: str
    twin: str = ""
    said: str = ""
    used: InUse | None = None
    vehicle: VehicleHead | None = None


@cache
def _static_version(name: str) -> str:
    return hashlib.sha256((HERE / "static" / name).read_bytes()).hexdigest()[:12]


def static(name: str) -> str:
    """Address of a static file; it changes with the content, so that browsers may keep it."""
    return f"/static/{name}?v={_static_version(name)}"


@cache
def environment(locale_name: str) -> Environment:
    """Jinja with filters for one locale; everything is escaped, and an unknown name is an error."""
    locale = LOCALES[locale_name]
    jinja = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    jinja.filters |= {
        "money": locale.money,
        "at_most": locale.at_most,
        "at_least": locale.at_least,
        "about": locale.about,
        "about_signed": lambda amount: locale.money(rounded(amount), sign=True),
        "signed": partial(locale.money, sign=True),
        "percent": locale.percent,
        "odds": chance,
        "number": locale.number,
        "day": partial(_day, locale),
        "plain": _plain_number,
        "typed": partial(_typed, locale),
    }
    jinja.globals |= {"static": static, "cautions": cautions()}
    return jinja


def locale_of(settings: Settings) -> Locale:
    """How this shop writes figures."""
    return LOCALES[settings.locale]


def page(request: Request, context: Page, status: int = 200, headers: dict[str, str] | None = None) -> HTMLResponse:
    """A page from its context; for an htmx request the same, from which the part wanted is taken.

    Parameters
    ----------
    request : Request
    context : Page
    status : int
        Of the answer.
    headers : dict of str to str or None
        Further ones.
    """
    settings: Settings = request.app.state.settings
    answer = HTMLResponse(page_of(request, context), status, headers)
    if SEEN not in request.cookies:
        answer.set_cookie(
            SEEN, "seen", max_age=SEEN_SECONDS, httponly=True, samesite="strict", secure=settings.secure_cookies
        )
    return answer


def page_of(request: Request, context: Page) -> str:
    """The HTML of a page.

    Parameters
    ----------
    request : Request
    context : Page
    """
    settings: Settings = request.app.state.settings
    values = {field.name: getattr(context, field.name) for field in fields(context)}
    template = environment(settings.locale).get_template(context.template)
    first_visit = SEEN not in request.cookies
    desk: Desk = request.app.state.desk
    return template.render(
        **values, links=links(context.used), called=desk.called, request=request, first_visit=first_visit
    )


def part(request: Request, template: str, **values: Any) -> HTMLResponse:
    """A part of a page for a partial update.

    Parameters
    ----------
    request : Request
    template : str
        File name.
    **values : Any
        What it is filled with.
    """
    settings: Settings = request.app.state.settings
    return HTMLResponse(environment(settings.locale).get_template(template).render(**values))


def go(address: str) -> RedirectResponse:
    """After a form was taken: on to a page that may be reloaded."""
    return RedirectResponse(address, 303)


@dataclass(frozen=True, kw_only=True)
class ProblemPage(Page):
    """A refusal or error on a page of its own.

    Attributes
    ----------
    problem : dict
        Problem details.
    typed : list of (str, str)
        What was typed into the form that was refused, where the form itself could not be shown once more.
    again : str
        Where it can be sent once more with a yes, when the refusal is a question; else empty.
    confirm : str
        Name of the field that says yes.
    """

    template = "problem.html"
    problem: dict[str, Any]
    typed: list[tuple[str, str]]
    again: str
    confirm: str = CONFIRM


async def problem_page(request: Request, problem: dict[str, Any]) -> HTMLResponse:
    """A refusal beside the field that it is about, on the page of its form; else on a page of its own.

    Parameters
    ----------
    request : Request
    problem : dict
        The body of the problem answer.
    """
    typed = getattr(request.state, "typed", None) or typed_into(request)
    asks = problem["code"] == UnlikelyError.code
    said = partial(_refusal, request, asks)
    if typed is not None and is_part(request):
        return HTMLResponse(said("refusal", problem["detail"], False), problem["status"], headers=SHOWN)
    if typed is not None:
        made = getattr(request.state, "page_of_form", None)
        text = await run_in_threadpool(made) if made else await page_text(request, typed.page)
        again = await run_in_threadpool(shown_again, text, typed, problem, said) if text else None
        if again is not None:
            return HTMLResponse(again, problem["status"], headers=SHOWN)
    kept = [(name, value) for name, value in typed.fields if value.strip()] if typed else []
    again = typed.action if typed and asks else ""
    context = ProblemPage(title="That did not work", here="", problem=problem, typed=kept, again=again)
    return page(request, context, problem["status"])


def _refusal(request: Request, asks: bool, number: str, text: str, focus: bool) -> str:
    settings: Settings = request.app.state.settings
    template = environment(settings.locale).get_template("refusal.html")
    return template.render(id=number, text=text, focus=focus, confirm=CONFIRM if asks else "")


def _day(locale: Locale, day: dt.date | str) -> str:
    return locale.date(dt.date.fromisoformat(day) if isinstance(day, str) else day)


def _typed(locale: Locale, text: str) -> str:
    """A figure as it was typed, with its thousands parted where it is plain."""
    number = record_number(text)
    return text if number is None else locale.number(number)


def _plain_number(value: object) -> str:
    """A number as a form field holds it: no needless decimals, no grouping."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)
