"""Each table as people keep it: every sale that must come out does, every other row is set aside under its code."""

import datetime as dt
import io
import json
import zipfile
from collections import Counter
from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import canonicalize

import pytest
from make_tables import FILES, TABLES

from valuation.comparables import read_comparables
from valuation.comparables.mending import with_headers
from valuation.errors import TableError
from valuation.schema import default_schema

TODAY = dt.date(2026, 11, 3)
SALE_FACTS = {"name": "sale", **{name: name for name in ("price", "outcome", "date", "venue", "premium", "currency")}}
"""What of the expected facts stands among the sale's columns, and under which name; the rest are attributes."""


def expected(name):
    return json.loads((FILES / f"{Path(name).stem}.json").read_text(encoding="utf-8"))


def schema_of(told):
    """The default schema with the owner's headers and words, as a shop would write them into its own."""
    schema = with_headers(default_schema(), told.get("headers", {}))
    settings = dict(told.get("settings", {}))
    unit = settings.pop("unit", "miles")
    words = told.get("words", {})
    attributes = []
    for one in schema.attributes:
        own = words.get(one.name, {})
        levels = tuple(replace(level, aliases=(*level.aliases, *filter(None, [own.get(level.name)])))
                       for level in one.levels)  # fmt: skip
        attributes.append(replace(one, levels=levels, unit=unit if one.name == "mileage" else one.unit))
    outcomes = {name: (*found, *filter(None, [told.get("outcomes", {}).get(name)]))
                for name, found in schema.outcome_aliases.items()}  # fmt: skip
    return replace(schema, attributes=tuple(attributes), outcome_aliases=outcomes, **settings)


def read(name):
    told = expected(name)
    return told, read_comparables(FILES / name, schema_of(told), today=TODAY)


READ = [name for name in TABLES if "refused" not in expected(name)]
REFUSED = [name for name in TABLES if "refused" in expected(name)]


@pytest.mark.parametrize("name", READ)
def test_every_sale_comes_out_as_it_was(name):
    told, found = read(name)
    assert found.sales.index.tolist() == [sale["row"] for sale in told["sales"]]
    for sale in told["sales"]:
        row = sale.pop("row")
        cells = {
            fact: found.sales.at[row, SALE_FACTS[fact]] if fact in SALE_FACTS else found.attributes.at[row, fact]
            for fact in sale
        }
        cells |= {fact: str(cells[fact])[:10] for fact in ("date",) if fact in cells}
        cells = {fact: None if value != value else value for fact, value in cells.items()}
        flags = {fact: float(value) for fact, value in sale.items() if isinstance(value, bool)}
        assert cells == pytest.approx({**sale, **flags}), row


@pytest.mark.parametrize("name", READ)
def test_every_other_row_is_set_aside_under_its_code(name):
    told, found = read(name)
    aside = {fault.row: fault.code for fault in found.faults if fault.sets_aside}
    assert {str(row): code for row, code in aside.items()} == told.get("set_aside", {})
    assert sorted(found.set_aside.index) == sorted(aside)


@pytest.mark.parametrize("name", READ)
def test_what_is_read_otherwise_is_said_cell_by_cell_and_once_in_a_note(name):
    told, found = read(name)
    assert Counter(one.kind for one in found.read_as) == told.get("read_as", {})
    codes = [note.code for note in found.notes]
    assert set(codes) >= {*told.get("read_as", {}), *told.get("notes", [])}
    assert len(codes) == len(set(codes))
    if "sheet" in told:
        assert f"The sheet '{told['sheet']}' was read" in "".join(note.text for note in found.notes)


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_list_of_sales_is_refused_by_its_name(name):
    told = expected(name)
    with pytest.raises(TableError, match=told["refused"]):
        read_comparables(FILES / name, schema_of(told), today=TODAY)


def in_order(data):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return canonicalize(archive.read("content.xml").decode())


@pytest.mark.parametrize("name", TABLES)
def test_the_files_are_those_that_the_script_writes(name):
    made, kept = TABLES[name]()[1], (FILES / name).read_bytes()
    if name.endswith(".ods"):  # its writer orders the attributes of a cell by chance
        made, kept = in_order(made), in_order(kept)
    same = made == kept  # two whole files are not shown beside each other
    assert same
