"""Screen: a page's plain data into HTML. Every text is escaped."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from valuation.sheets.typesetting import TEMPLATES

if TYPE_CHECKING:
    from jinja2 import Environment


def render(template: str, page: Mapping[str, Any]) -> str:
    """Fill a template of the folder ``templates``."""
    return _environment().get_template(template).render(page=page)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
