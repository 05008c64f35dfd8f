"""Typesetting: a page's plain data and pictures into a PDF. What people wrote is data to it and never markup."""

from __future__ import annotations

import datetime as dt
import json
import re
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from valuation.errors import SheetError, shortlist
from valuation.sheets.letters import BOX, FONTS, drawable_tree
from valuation.sheets.row_headers import with_row_headers
from valuation.text.language import Said, say

TEMPLATES = Path(__file__).parent / "templates"
PAGE_DATA = "page.json"


def typeset(template: str, page: Mapping[str, Any], pictures: Mapping[str, bytes], day: dt.date) -> bytes:
    """Set one sheet as a tagged PDF (PDF/UA-1) with bookmarks and embedded fonts.

    Parameters
    ----------
    template : str
        Name of a file in ``templates``.
    page : mapping
        What the template shows; plain data, written to a file that the template reads as JSON.
    pictures : mapping of str to bytes
        By the file names that ``page`` refers to; the names are the program's own.
    day : date
        Stands in the file as its time of making, so that equal input gives equal bytes.

    Returns
    -------
    bytes
        Only the fonts in the wheel and in ``fonts`` are used: the same bytes on every machine with the same version.

    Raises
    ------
    SheetError
        If the page cannot be set; says what the engine objects to.
    """
    made_at = dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC)
    pdf = _compiled(template, page, pictures, {"format": "pdf", "pdf_standards": "ua-1", "timestamp": made_at})
    return with_row_headers(pdf)


def typeset_picture(template: str, page: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """Set one page as a picture (PNG), a dot to the point; arguments and refusals as for :func:`typeset`.

    Parameters
    ----------
    template : str
    page : mapping
    pictures : mapping of str to bytes
    """
    return _compiled(template, page, pictures, {"format": "png", "ppi": 72.0})


def _compiled(template: str, page: Mapping[str, Any], pictures: Mapping[str, bytes], how: Mapping[str, Any]) -> bytes:
    import typst

    page, strange = drawable_tree(dict(page))
    if strange and "notes" in page:
        page["notes"].append(
            say(
                "Characters that no font here has are printed as {box}: {characters}.",
                box=BOX,
                characters=Said(shortlist([f"U+{ord(character):04X}" for character in sorted(strange)])),
            )
        )
    with tempfile.TemporaryDirectory(prefix="sheet-") as name:
        folder = Path(name)
        for source in TEMPLATES.glob("*.typ"):
            (folder / source.name).write_bytes(source.read_bytes())
        for file, content in pictures.items():
            (folder / file).write_bytes(_drawable(file, content))
        (folder / PAGE_DATA).write_text(json.dumps(page, ensure_ascii=False), encoding="utf-8")
        try:
            compiler = typst.Compiler(folder / template, root=folder, font_paths=_fonts())
            made = compiler.compile(**how)
        except typst.TypstError as problem:
            raise SheetError(
                f"Cannot set the sheet '{page.get('title', '')}': the typesetter says {problem.message!r}. "
                "Shorten or remove the text or picture that it names, and report this."
            ) from problem
    if not isinstance(made, bytes):
        raise SheetError(f"Cannot set the sheet '{page.get('title', '')}': the typesetter made no file. Report this.")
    return made


def page_count(pdf: bytes) -> int:
    """How many pages a sheet takes, as the typesetter notes it."""
    noted = re.search(rb"/Type/Pages/Count (\d+)", pdf)
    return int(noted.group(1)) if noted else 0


def _drawable(file: str, content: bytes) -> bytes:
    """A drawing with a box for every character that no font has; other pictures as they are."""
    if not file.endswith(".svg"):
        return content
    text: str = drawable_tree(content.decode())[0]
    return text.encode()


@cache
def _fonts() -> Any:
    """The wheel's own fonts and those in ``fonts``; never the machine's, which differ from one to the next."""
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[FONTS])
