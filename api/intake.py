"""Intake: from what a person or program sends to a table version in the ledger."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from valuation.errors import SchemaError
from valuation.schema import Schema, default_schema, parse_schema, read_schema

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.ledger import TableRecord

DEMO_NAME = "Thistlewick Motor Works (invented demo)"


@dataclass(frozen=True)
class Draft:
    """A table that was brought and is not in the ledger yet.

    Attributes
    ----------
    name, source_name : str
    source : bytes
    schema : Schema
    """

    name: str
    source: bytes
    source_name: str
    schema: Schema


def schema_for(text: bytes | None, currency: str, day_first: bool) -> Schema:
    """The schema of an upload: its own file, or the default with the currency and order of dates given.

    Raises
    ------
    SchemaError
        If the file is no text or contradicts itself.
    """
    if text:
        try:
            schema = parse_schema(text.decode("utf-8-sig"))
        except UnicodeDecodeError as error:
            raise SchemaError("Cannot read the schema file: it is not UTF-8 text. Save it as plain text.") from error
        return replace(schema, currency=currency) if currency and not schema.currency else schema
    return replace(default_schema(), currency=currency.strip(), day_first=day_first, source_text="")


def mend_table(
    desk: Desk,
    table: TableRecord,
    cells: Mapping[tuple[int, str], str],
    *,
    left_out: Collection[int] = (),
    confirmed: Collection[int] = (),
    headers: Mapping[str, str] | None = None,
) -> TableRecord:
    """The next version of a table, with cells written anew, rows left out and headers mapped."""
    from valuation.comparables.mending import mended, with_headers

    schema = desk.schema(table)
    if headers:
        schema = with_headers(schema, headers)
    source = desk.ledger.content(table.source)
    name = table.source_name
    if cells or left_out or confirmed:
        source = mended(desk.text_table(table), cells, left_out=left_out, confirmed=confirmed)
        name = name.rpartition(".")[0] + ".csv" if "." in name else name
    return desk.bring(table.name, source, name, schema)


def bring_demo(desk: Desk) -> TableRecord:
    """Write the invented demo's table and build plans to the ledger; brought twice, they stay one."""
    folder = desk.settings.demo_folder
    schema = read_schema(folder / "schema.toml")
    table = desk.bring(DEMO_NAME, (folder / "comparables.csv").read_bytes(), "comparables.csv", schema)
    for file in sorted((folder / "plans").glob("*.toml")):
        text = file.read_text(encoding="utf-8")
        subject = f"Barn find: {file.stem.partition('-')[0].capitalize()}"
        from valuation.build.plan_file import parse_plan

        desk.ledger.add_plan(subject=subject, name=parse_plan(text, schema, file.name).name, text=text)
    return table
