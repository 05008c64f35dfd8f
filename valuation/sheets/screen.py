"""Screen: a page's plain data into HTML. Every text is escaped."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from valuation.sheets.typesetting import TEMPLATES

if TYPE_CHECKING:
    from jinja2 import Environment


def render(template: str, page: Mapping[str, Any]) -> str:
    """Fill a template of the folder ``templates``.

    Parameters
    ----------
    template : str
        File name.
    page : mapping
        As the page's module lays it out.
    """
    return _environment().get_template(template).render(page=page)


def data_address(kind: str, content: bytes) -> str:
    """A picture as an address that holds it whole; ``kind`` is its media type.

    Parameters
    ----------
    kind : str
        Media type, such as ``image/png``.
    content : bytes
        The file's bytes.
    """
    return f"data:{kind};base64,{base64.b64encode(content).decode()}"


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
