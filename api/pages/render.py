"""Rendering: Jinja with the shop's way of writing figures, typed contexts, and pages for problems."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass, fields
from functools import cache, partial
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from api.settings import Settings
from valuation.sheets.cautions import CAUTIONS
from valuation.text.locale import LOCALES, Locale

HERE = Path(__file__).parents[1]
LINKS = (
    ("/", "Start"),
    ("/comparables", "Comparables"),
    ("/vehicle", "Vehicle"),
    ("/build", "Build"),
    ("/price", "Price and offers"),
    ("/track-record", "Track record"),
)


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
    """

    template = ""
    title: str
    here: str
    twin: str = ""
    said: str = ""


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
        "about": locale.about,
        "signed": partial(locale.money, sign=True),
        "percent": locale.percent,
        "number": locale.number,
        "day": partial(_day, locale),
        "plain": _plain_number,
    }
    jinja.globals |= {"static": static, "links": LINKS, "cautions": CAUTIONS}
    return jinja


def locale_of(settings: Settings) -> Locale:
    """How this shop writes figures."""
    return LOCALES[settings.locale]


def page(request: Request, context: Page, status: int = 200) -> HTMLResponse:
    """A page from its context; for an htmx request the same, from which the part wanted is taken."""
    settings: Settings = request.app.state.settings
    values = {field.name: getattr(context, field.name) for field in fields(context)}
    text = environment(settings.locale).get_template(context.template).render(**values, request=request)
    return HTMLResponse(text, status)


def part(request: Request, template: str, **values: Any) -> HTMLResponse:
    """A part of a page for a partial update."""
    settings: Settings = request.app.state.settings
    return HTMLResponse(environment(settings.locale).get_template(template).render(**values))


def go(address: str) -> RedirectResponse:
    """After a form was taken: on to a page that may be reloaded."""
    return RedirectResponse(address, 303)


@dataclass(frozen=True, kw_only=True)
class ProblemPage(Page):
    """A refusal as a page.

    Attributes
    ----------
    problem : dict
        Problem details.
    """

    template = "problem.html"
    problem: dict[str, Any]


def problem_page(request: Request, problem: dict[str, Any]) -> HTMLResponse:
    """Problem details as a page."""
    return page(request, ProblemPage(title="That did not work", here="", problem=problem), problem["status"])


def _day(locale: Locale, day: dt.date | str) -> str:
    return locale.date(dt.date.fromisoformat(day) if isinstance(day, str) else day)


def _plain_number(value: object) -> str:
    """A number as a form field holds it: no needless decimals, no grouping."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)
