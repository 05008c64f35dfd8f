"""Faults by cause: how each kind is mended, what an owner is told, and in which order."""

import datetime as dt
from dataclasses import replace

import pytest

from tests.unit.comparables.test_faults import GOOD, table
from valuation.comparables import FAULT_CODES, Fault
from valuation.comparables import suggestions as room
from valuation.comparables.mend import Mend
from valuation.comparables.suggestions import grouped, how_mended, mended_as_agreed

WITH_ONE_ANSWER = {
    "ambiguous_dates",
    "impossible_date",
    "not_a_flag",
    "not_a_number",
    "price_not_a_number",
    "unknown_level",
    "unknown_outcome",
}
ASKED = {"doubtful_premium", "future_date", "likely_misspelling", "price_negative", "slipped_digit"}
STAYS_OUT = {"duplicate_sale", "not_arms_length", "note_row", "repeated_header", "section_row", "totals_row"}


def fault(code, suggestion=""):
    return Fault(2, "price", "x", "Why.", "Mend.", code, suggestion=suggestion)


@pytest.mark.parametrize("code", sorted(FAULT_CODES))
def test_each_kind_of_fault_has_its_way_of_being_mended_and_the_map_says_so(code):
    expected = "one answer" if code in WITH_ONE_ANSWER else "ask"
    if code in STAYS_OUT:
        expected = "stays out"
    if code in WITH_ONE_ANSWER | ASKED | STAYS_OUT:
        assert how_mended(fault(code, "y")) == expected
    assert how_mended(fault(code)) == ("stays out" if code in STAYS_OUT else "by hand")
    [line] = [line for line in (room.__doc__ or "").splitlines() if line.startswith(f"{code} ")]
    said = line.removeprefix(code).strip()
    assert said.startswith({"one answer": "one answer", "ask": "asked", "stays out": "stays out"}[expected]) == (
        code in WITH_ONE_ANSWER | ASKED | STAYS_OUT
    )


@pytest.mark.parametrize("code", sorted(FAULT_CODES))
@pytest.mark.parametrize("count", [1, 3])
def test_each_kind_of_fault_is_called_by_a_name(code, count):
    suggestion = "y" if code in ("likely_misspelling", "slipped_digit") else ""  # these two have one always
    faults = tuple(
        Fault(2 + i, "price", "x", "The thing is so.", "Mend.", code, suggestion=suggestion) for i in range(count)
    )
    [group] = grouped(replace(table(*[{}] * count), faults=faults))
    said = group.cause
    assert said
    assert "{" not in said
    assert said[0].islower() or said[0] == "'"


def test_the_same_mistake_is_one_cause_with_its_rows():
    found = table({}, {"condition": "drvier"}, {"condition": "drivr"}, {"condition": "shoow"}, {"condition": "zebra"})
    assert [(one.how, one.count, one.cause, one.rows, one.frees) for one in grouped(found)] == [
        ("one answer", 2, "'drvier', 'drivr' are driver in 'condition'", (3, 4), 2),
        ("one answer", 1, "'shoow' is show in 'condition'", (5,), 1),
        ("by hand", 1, "row whose 'condition' is no level ('zebra')", (6,), 1),
    ]
    assert grouped(found)[0].mends == (
        Mend(3, "condition", "drvier", "driver"),
        Mend(4, "condition", "drivr", "driver"),
    )


def test_numbers_are_said_in_the_plural_where_there_are_several():
    found = table({"price": "0"}, {"price": "0"}, {"price": "-5"}, {"model_year": "l951"}, {"model_year": "I952"})
    assert [f"{one.count} {one.cause}" for one in grouped(found)] == [
        "2 figures with letters for digits (l951 is 1951)",
        "2 prices of zero ('0')",
        "1 price below zero (-5 may be 5)",
    ]


def test_of_a_row_that_stays_out_nothing_else_is_said():
    found = table({}, {"arms_length": "brother", "condition": "drvier", "price": "0"})
    assert [(one.how, one.cause, one.mends) for one in grouped(found)] == [
        ("stays out", "sale that was not open ('brother'): stays out", ())
    ]


def test_what_stops_the_whole_table_comes_first_then_what_frees_most_then_remarks_then_what_stays_out():
    rows = [{"price": "0"}, {"price": "0"}, {"outcome": "soldd"}, {"arms_length": "no"}]
    columns = ("lucky", *(name for name in GOOD if name != "condition"))
    found = table(*rows, columns=columns)
    assert [(one.code, one.frees, one.rows) for one in grouped(found)] == [
        ("missing_column", 4, ()),
        ("price_zero", 2, (2, 3)),
        ("unknown_outcome", 1, (4,)),
        ("unknown_column", 0, ()),
        ("not_arms_length", 1, (5,)),
    ]


def test_a_row_that_may_be_right_can_be_confirmed_in_the_column_that_the_table_has_for_it():
    twin = {"date": "2024-05-05", "mileage": "77"}
    [group] = grouped(table(twin, twin))
    assert (group.mends, group.confirmed(3)) == ((Mend(3, ""),), Mend(3, "confirmed", "", "yes"))
    [group] = grouped(table(twin, twin, columns=(*GOOD, "Confirmed?")))
    assert group.confirmed(3) == Mend(3, "Confirmed?", "", "yes")


def test_sure_mends_are_made_until_none_is_left_and_no_others():
    rows = [{"family": "Penhurrow"}] * 6 + [{"family": "Penhurow"}, {"outcome": "solt", "condition": "drvier"}]
    found = table(*rows)
    after, made = mended_as_agreed(found)
    assert {(one.row, one.column, one.new) for one, _ in made} == {(9, "outcome", "sold"), (9, "condition", "driver")}
    assert (found.n_usable, after.n_usable) == (7, 8)
    assert [fault.code for fault in after.faults] == ["likely_misspelling"]


def test_a_mend_that_brings_a_duplicate_to_light_does_not_free_its_row():
    same = {"date": "2024-05-05", "mileage": "77"}
    found = table(same, {**same, "condition": "drvier"})
    after, made = mended_as_agreed(found)
    assert (len(made), found.n_usable, after.n_usable) == (1, 1, 1)
    assert [fault.code for fault in after.faults] == ["duplicate_sale"]


def test_each_mend_is_offered_once():
    found = table({}, {"price": "-5", "condition": "drvier"}, {"price": "-7"})
    seen = []

    def agree(group):
        seen.extend(group.mends)
        return group.mends if group.code == "unknown_level" else ()

    mended_as_agreed(found, agree)
    assert sorted((one.row, one.column) for one in seen) == [(3, "condition"), (3, "price"), (4, "price")]


def test_a_table_without_faults_has_nothing_to_mend_and_keeps_no_cells():
    found = table({}, {})
    assert found.origin is not None
    assert (found.origin.text, found.origin.today) == (None, dt.date(2025, 6, 1))
    assert mended_as_agreed(found) == (found, ())
