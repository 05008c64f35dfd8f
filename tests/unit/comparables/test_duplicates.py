"""The same sale in two rows: the first is used, the other set aside unless confirmed."""

import datetime as dt

import pytest

from valuation.comparables import read_comparables
from valuation.schema import parse_schema

SCHEMA = parse_schema(
    '[attributes.size]\nrole = "number"\n[attributes.kind]\nrole = "nominal"\n[attributes.year]\nrole = "smooth"\n'
)
COLUMNS = ("date", "price", "outcome", "size", "kind", "year", "vehicle", "source", "confirmed")
GOOD = dict(zip(COLUMNS, ("2024-05-31", "100", "sold", "5", "a", "1951", "", "", ""), strict=True))


def read(*rows):
    lines = [",".join(COLUMNS), *(",".join(f'"{({**GOOD, **row})[column]}"' for column in COLUMNS) for row in rows)]
    return read_comparables("\n".join(lines).encode(), SCHEMA, today=dt.date(2025, 6, 1))


@pytest.mark.parametrize(
    ("first", "second", "column", "value", "why"),
    [
        ({}, {}, "", "", "This row gives the same date, price, outcome and attributes as row 2."),
        (
            {"vehicle": "T-1"},
            {"vehicle": "t 1", "price": "120"},
            "vehicle",
            "t 1",
            "This row gives the same vehicle on the same date as row 2.",
        ),
        (
            {"source": "Hall, lot 7"},
            {"source": "hall,  LOT 7", "date": "2024-06-01", "size": "6"},
            "source",
            "hall, LOT 7",
            "This row gives the same source as row 2.",
        ),
        (
            {"source": "example.org/a"},
            {"source": "example.org/a", "price": "90"},
            "source",
            "example.org/a",
            "This row gives the same source as row 2.",
        ),
    ],
)
def test_duplicates_are_set_aside(first, second, column, value, why):
    table = read(first, second, {"size": "9"})
    assert [(f.row, f.column, f.value, f.code, f.why) for f in table.faults] == [
        (3, column, value, "duplicate_sale", why)
    ]
    assert "write yes in a column 'confirmed'" in table.faults[0].mend
    assert table.sales.index.tolist() == [2, 4]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({}, {"price": "101"}),
        ({}, {"date": "2024-06-01"}),
        ({}, {"outcome": "asking"}),
        ({}, {"confirmed": "yes"}),
        ({"vehicle": "T-1"}, {"vehicle": "T-2"}),
        ({"vehicle": "T-1"}, {"vehicle": "T-1", "date": "2024-06-01"}),
        ({"date": ""}, {"date": ""}),
        ({"kind": "", "year": ""}, {"kind": "", "year": ""}),
        ({"source": "private", "size": "1"}, {"source": "private"}),
        ({"source": "lot 7"}, {"source": "lot 7", "outcome": "asking"}),
    ],
)
def test_sales_that_only_look_alike_are_used(first, second):
    assert read(first, second).n_usable == 2


def test_a_source_that_many_rows_share_tells_no_sales_apart():
    rows = [{"source": "Hall sale 2024", "size": str(number)} for number in range(4)]
    assert read(*rows).n_usable == 4
    pairs = [{"source": f"fair {number % 2}", "size": str(number)} for number in range(4)]
    assert read(*pairs, {"source": "fair 1", "size": "8"}).n_usable == 5


def test_a_row_that_is_set_aside_does_not_push_out_its_twin():
    table = read({"vehicle": "T-1", "outcome": "?"}, {"vehicle": "T-1"})
    assert [fault.code for fault in table.faults] == ["missing_outcome"]
    assert table.sales.index.tolist() == [3]


def test_three_of_one_sale_leave_one():
    table = read({}, {}, {})
    assert [fault.row for fault in table.faults] == [3, 4]
    assert all(fault.why.endswith("as row 2.") for fault in table.faults)
