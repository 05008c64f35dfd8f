"""The catalogue of what answers and sheets say: ``python -m docs.catalogue`` brings each language up to the source.

Templates are read off the source (first argument of ``say``, first two of ``say_count``); texts that are new stand in
``valuation/text/languages/LANGUAGE/LC_MESSAGES/valuation.po`` with an empty translation, those that are gone are left
out, and the compiled file beside it is what the program reads. ``python -m docs.catalogue es`` begins a language.
"""

from __future__ import annotations

import ast
import datetime as dt
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from valuation.schema import default_schema
from valuation.text.language import DOMAIN, FOLDER, OF_THE_SCHEMA

ROOT = Path(__file__).parents[1]
KEYWORDS = {"say": 1, "say_count": 2, "english": 1}
"""Functions whose first arguments are templates, and how many of them."""
_NO_DAY = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
"""In place of the time of writing, which would change the file on every run."""

Template = str | tuple[str, ...]


def templates_in(source: str) -> Iterator[Template]:
    """Templates of one module in their order; one that is no literal is refused, since no catalogue could hold it."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    for call in sorted(calls, key=lambda node: (node.lineno, node.col_offset)):
        count = KEYWORDS.get(call.func.id, 0) if isinstance(call.func, ast.Name) else 0
        parts = [ast.literal_eval(part) for part in call.args[:count]]
        if parts:
            yield parts[0] if len(parts) == 1 else tuple(parts)


def source_catalogue() -> Catalog:
    """All templates, each once, with the files that say them."""
    catalogue = _empty()
    for top in ("valuation", "api"):
        for file in sorted((ROOT / top).rglob("*.py")):
            for template in templates_in(file.read_text(encoding="utf-8")):
                catalogue.add(template, locations=[(file.relative_to(ROOT).as_posix(), 0)])
    for text in schema_texts():
        catalogue.add(text, locations=[("valuation/schema/vintage.toml", 0)], context=OF_THE_SCHEMA)
    return catalogue


def schema_texts() -> Iterator[str]:
    """Titles, levels and their meanings of the schema that ships, which stand on a sheet for a buyer."""
    for attribute in default_schema().attributes:
        yield attribute.title
        for level in attribute.levels:
            yield from filter(None, (level.name, level.meaning))


def _empty(language: str | None = None) -> Catalog:
    return Catalog(
        locale=language, project=DOMAIN, version="1", charset="utf-8", fuzzy=False,
        creation_date=_NO_DAY, revision_date=_NO_DAY,
        msgid_bugs_address=" ", last_translator=" ", language_team=" ",
    )  # fmt: skip


def po_file(language: str) -> Path:
    """Where the translations of a language stand."""
    return FOLDER / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def read_catalogue(language: str) -> Catalog:
    """The translations as they stand; an empty catalogue for a language that is new."""
    file = po_file(language)
    if not file.exists():
        return _empty(language)
    with file.open("rb") as stream:
        return read_po(stream, locale=language)


def write_catalogue(language: str) -> int:
    """Bring one language up to the source; answers how many texts wait for their translation."""
    catalogue = read_catalogue(language)
    catalogue.update(source_catalogue(), no_fuzzy_matching=True)
    catalogue.header_comment, catalogue.revision_date, catalogue.fuzzy = "", _NO_DAY, False
    file = po_file(language)
    file.parent.mkdir(parents=True, exist_ok=True)
    with file.open("wb") as stream:
        write_po(stream, catalogue, width=120, include_lineno=False, ignore_obsolete=True, sort_by_file=True)
    with file.with_suffix(".mo").open("wb") as stream:
        write_mo(stream, catalogue)
    return sum(1 for message in catalogue if message.id and not (message.string and all(message.string)))


def main() -> None:
    """Write every catalogue and say what is left to translate."""
    known = [path.name for path in FOLDER.iterdir() if path.is_dir()]
    for language in sorted({*known, *sys.argv[1:]}):
        print(f"{po_file(language).relative_to(ROOT)}: {write_catalogue(language)} texts without a translation")


if __name__ == "__main__":
    main()
