"""Columns that the trade does not know: attributes of the owner's own, or left out with the reason."""

import pytest

from tests.unit.drafting.conftest import sales

ROWS = 24


def own(read, **columns: list[str]):
    [header] = columns
    return next(column for column in read(sales(ROWS, **columns)).columns if column.header == header)


@pytest.mark.parametrize(
    ("header", "cells", "role"),
    [
        ("Bed length", ["short", "long"], "nominal"),
        ("Doors", ["2", "4"], "count"),
        ("Power", ["65", "85", "112.5"], "number"),
        ("Heater", ["yes", "no"], "flag"),
        ("Heater", ["x", ""], "flag"),
        ("Winch", ["✓", ""], "flag"),
    ],
)
def test_roles(read, header, cells, role):
    found = own(read, **{header: cells})
    assert (found.part, found.attribute.role) == ("own", role)


@pytest.mark.parametrize("header", ["RHD", "Right-hand drive", "Right hand drive"])
def test_the_side_of_the_wheel_is_a_flag_of_its_own(read, header):
    found = own(read, **{header: ["y", "n", "n"]})
    assert (found.name, found.attribute.role) == ("right_hand_drive", "flag")


def test_left_and_right_as_words(read):
    found = own(read, Steering=["LHD", "RHD"])
    assert (found.name, found.attribute.role) == ("steering", "nominal")


def test_a_mark_for_yes_reads_blank_as_no_and_yes_and_no_do_not(read):
    assert own(read, Heater=["x", ""]).attribute.missing == "lowest"
    assert own(read, Heater=["yes", "no", ""]).attribute.missing == "average"


@pytest.mark.parametrize(
    ("header", "cells", "why"),
    [
        ("Thoughts", [f"seen {i} times in the yard with the old owner's brother" for i in range(ROWS)], "remarks"),
        ("Nickname", [f"Ada the {i}." for i in range(ROWS)], "free text"),
        ("Tag", [f"T{i}Z" for i in range(ROWS)], "names or numbers that hardly ever come again"),
        ("Row", [str(i + 1) for i in range(ROWS)], "numbers the rows"),
        ("Seen", [f"https://x.example/{i}" for i in range(ROWS)], "links"),
        ("Kept by", ["Ada"], "says the same in every row"),
        ("Tyre cost", ["120", "340", "210"], "money that is not the price: not known before a sale"),
        ("First seen", ["2024-05-03", "2024-06-01", "2023-01-09"], "another date"),
        ("Index", [f"{3 * (9000 + 730 * i) / 1000:.3f}" for i in range(ROWS)],
         "goes with the price so closely that it must be the price in other words"),
        ("Nothing", [""], "empty"),
    ],
)  # fmt: skip
def test_left_out(read, header, cells, why):
    found = own(read, **{header: cells})
    assert (found.part, found.why) == ("left out", why)


def test_a_name_that_a_sale_has_gets_another(read):
    columns = sales(ROWS, Venue=["A", "B"], **{"Venue!": ["x1", "x2"]})
    found = {column.header: column for column in read(columns).columns}
    assert found["Venue"].name == "venue"
    assert found["Venue!"].why == "a second column of that name"


def test_of_a_wide_table_the_best_filled_are_taken(read):
    from valuation.drafting.own_columns import MOST_OWN

    wide = {f"Part {i}": ["a", "b"] for i in range(40)}
    wide["Part 0"] = ["a", "b", "", "", ""]
    found = read(sales(ROWS, **wide))
    assert sum(column.part == "own" for column in found.columns) == MOST_OWN
    assert next(column for column in found.columns if column.header == "Part 0").part == "left out"
