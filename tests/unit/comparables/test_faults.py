"""Every fault of a row: found, explained, set aside with its reason (or not), and nothing lost."""

import datetime as dt
import re
from pathlib import Path

import pytest

import valuation.comparables
from valuation.comparables import FAULT_CODES, Fault, ReadAs, read_comparables
from valuation.schema import default_schema, parse_schema
from valuation.text.plain import plain

VINTAGE = default_schema()
TODAY = dt.date(2025, 6, 1)
GOOD = {
    "date": "2024-05-31",
    "price": "24500",
    "outcome": "sold",
    "family": "Tern",
    "model_year": "1951",
    "condition": "driver",
    "mileage": "45000",
    "original_finish": "no",
    "arms_length": "yes",
}


def table(*rows, schema=VINTAGE, columns=tuple(GOOD)):
    """Comparables from good rows with the given cells changed; dates differ so that no two rows are one sale."""
    lines = [",".join(columns)]
    for number, changes in enumerate(rows):
        cells = {**GOOD, "date": f"2024-05-{number + 1:02}", **changes}
        lines.append(",".join(f'"{cells.get(column, "")}"' for column in columns))
    return read_comparables("\n".join(lines).encode(), schema, today=TODAY)


@pytest.mark.parametrize(
    ("changes", "column", "code", "why", "mend"),
    [
        (
            {"condition": "drivr"},
            "condition",
            "unknown_level",
            "'drivr' is not a level of condition.",
            "Write 'driver' if",
        ),
        ({"condition": "zebra"}, "condition", "unknown_level", "'zebra' is not a level", "add 'zebra' to the aliases"),
        ({"model_year": "-1951"}, "model_year", "impossible_number", "-1951 is out of range; 1885 to", "Correct"),
        ({"model_year": "2051"}, "model_year", "impossible_number", "2051 is out of range", "Correct the number"),
        ({"model_year": "05"}, "model_year", "impossible_number", "'05' is not a complete Model year", "such as 1905"),
        ({"model_year": "early"}, "model_year", "not_a_number", "'early' is not a number.", "Write a plain number"),
        ({"mileage": "inf"}, "mileage", "not_a_number", "'inf' is infinite.", "plain number of miles"),
        ({"original_finish": "part"}, "original_finish", "not_a_flag", "neither yes nor no.", "Write yes or no"),
        ({"date": "2024-02-30"}, "date", "impossible_date", "is a day that does not exist.", "such as 2024-05-31"),
        ({"date": "spring"}, "date", "impossible_date", "is not a complete date.", "such as 2024-05-31"),
        ({"date": "2025-06-02"}, "date", "future_date", "lies in the future: today is 2025-06-01.", "Correct the date"),
        (
            {"date": "1957-05-31"},
            "date",
            "early_date",
            "before 1990-01-01, the schema's",
            "earliest_sale in the schema",
        ),
        ({"date": ""}, "date", "missing_date", "The date is missing.", "Fill in the date"),
        ({"price": ""}, "price", "missing_price", "The price is missing.", "Fill in what was paid"),
        ({"price": "lots"}, "price", "price_not_a_number", "The price 'lots' is not a number.", "in figures"),
        ({"price": "24m"}, "price", "price_not_a_number", "The price '24m' is not a number.", "in figures"),
        ({"price": "20 %"}, "price", "price_not_a_number", "The price '20 %' is a percentage.", "in money"),
        ({"price": "0"}, "price", "price_zero", "The price is zero.", "Write what was paid"),
        ({"price": "-24500"}, "price", "price_negative", "The price '-24500' is below zero.", "without the minus"),
        ({"price": "(24500)"}, "price", "price_negative", "is below zero.", "without the minus"),
        ({"price": "inf"}, "price", "price_infinite", "The price 'inf' is infinite.", "in figures"),
        ({"outcome": ""}, "outcome", "missing_outcome", "The outcome is missing.", "Write sold, bid_not_met"),
        ({"outcome": "solt"}, "outcome", "unknown_outcome", "'solt' is not an outcome.", "The nearest is sold."),
        ({"arms_length": "no"}, "arms_length", "not_arms_length", "was not at arm's length.", "If it was an open sale"),
        (
            {"arms_length": "family"},
            "arms_length",
            "not_arms_length",
            "arm's length: family.",
            "Nothing, if that is so",
        ),
        ({"arms_length": "Distress"}, "arms_length", "not_arms_length", "arm's length: Distress.", "Nothing, if"),
    ],
)
def test_a_bad_cell_sets_its_row_aside_with_reason_and_mend(changes, column, code, why, mend):
    found = table({}, changes, {})
    assert [(fault.row, fault.column, fault.code, fault.sets_aside) for fault in found.faults] == [
        (3, column, code, True)
    ]
    fault = found.faults[0]
    assert fault.value == changes[column]
    assert why in fault.why
    assert mend in fault.mend
    assert found.sales.index.tolist() == [2, 4]
    assert found.set_aside.index.tolist() == [3]
    assert found.set_aside.loc[3, column] == changes[column]
    assert found.set_aside.loc[3, "reason"] == fault.why
    assert list(found.set_aside.columns) == [*GOOD, "reason"]
    assert (found.rows, found.outcome_counts()["set_aside"]) == (3, 1)


def test_every_fault_of_a_row_is_told_in_the_order_of_the_columns():
    found = table({"condition": "x", "price": "y", "date": "z"}, {"price": "0"})
    assert [(fault.row, fault.column) for fault in found.faults] == [
        (2, "date"),
        (2, "price"),
        (2, "condition"),
        (3, "price"),
    ]
    assert found.set_aside.loc[2, "reason"].count(".") == 3
    assert found.n_usable == 0
    assert found.attributes.empty


@pytest.mark.parametrize("word", ["", "yes", "Y", "true", "1", "arm's length", "Open market", "n/a"])
def test_an_open_sale_by_any_word_is_used(word):
    assert table({"arms_length": word}).n_usable == 1


@pytest.mark.parametrize(("missing", "code"), [("outcome", "outcome"), ("date", "date"), ("condition", "condition")])
def test_a_missing_column_that_is_needed_sets_every_row_aside(missing, code):
    found = table({}, {}, columns=tuple(name for name in GOOD if name != missing))
    fault = found.faults[0]
    assert (fault.row, fault.column, fault.code, fault.sets_aside) == (0, code, "missing_column", True)
    assert f"no column '{missing}'" in fault.why
    assert f"'{missing}'" in fault.mend
    assert (found.rows, found.n_usable, len(found.set_aside)) == (2, 0, 2)
    assert found.set_aside["reason"].tolist() == [fault.why] * 2


def test_a_missing_column_that_is_there_under_an_odd_name_is_pointed_at():
    columns = tuple("condishun" if name == "condition" else name for name in GOOD)
    faults = {fault.code: fault for fault in table({}, columns=columns).faults}
    assert faults["missing_column"].mend.endswith("Is it 'condishun'?")
    assert faults["unknown_column"].column == "condishun"


def test_without_an_outcome_column_a_schema_may_say_that_every_row_is_a_sale():
    schema = parse_schema(VINTAGE.source_text.replace('default_outcome = "" ', 'default_outcome = "sold" '))
    found = table({}, schema=schema, columns=tuple(name for name in GOOD if name != "outcome"))
    assert found.sales["outcome"].tolist() == ["sold"]
    assert found.faults == ()


def test_a_blank_cell_that_the_schema_refuses():
    schema = parse_schema(VINTAGE.source_text.replace('label = "Mileage"', 'label = "Mileage"\nmissing = "refuse"'))
    found = table({}, {"mileage": ""}, schema=schema)
    assert [(fault.row, fault.code, fault.why) for fault in found.faults] == [
        (3, "missing_value", "mileage is missing.")
    ]
    gone = table({}, schema=schema, columns=tuple(name for name in GOOD if name != "mileage"))
    assert [fault.code for fault in gone.faults] == ["missing_column"]


def test_a_blank_cell_is_unknown_or_the_lowest_as_the_schema_says():
    found = table({"mileage": "", "awards": ""}, {"awards": "local"}, columns=(*GOOD, "awards"))
    assert found.attributes["mileage"].isna().tolist() == [True, False]
    assert found.attributes["awards"].tolist() == ["none", "local"]
    texts = [note.text for note in found.notes if note.code == "missing_read_as_lowest"]
    assert texts == ["1 blank cell was read as 'none' in awards, as the schema says."]


def test_a_column_that_the_schema_does_not_know_is_kept_and_reported():
    found = table({"lucky": "7"}, columns=(*GOOD, "lucky"))
    fault = found.faults[0]
    assert (fault.row, fault.column, fault.code, fault.sets_aside) == (0, "lucky", "unknown_column", False)
    assert "it is kept and not used" in fault.why
    assert found.n_usable == 1
    assert found.extra["lucky"].tolist() == ["7"]


def test_two_headers_for_one_column():
    found = table({"Hammer price": "99"}, columns=("Hammer price", *GOOD))
    fault = found.faults[0]
    assert (fault.column, fault.code, fault.sets_aside) == ("Hammer price", "column_twice", False)
    assert fault.why == "The columns 'Hammer price' and 'price' mean the same; 'price' is used."
    assert found.sales["price"].tolist() == [24500.0]


def test_of_a_name_and_an_alias_the_name_is_used_wherever_it_stands():
    found = table({"Hammer price": "99"}, columns=(*GOOD, "Hammer price"))
    assert [fault.column for fault in found.faults] == ["Hammer price"]
    assert found.sales["price"].tolist() == [24500.0]


def test_a_row_with_more_cells_than_headers():
    text = (
        "date,outcome,model_year,condition,price\n2024-05-31,sold,1951,driver,24,500\n2024-05-30,sold,1951,show,9000,\n"
    )
    found = read_comparables(text.encode(), VINTAGE, today=TODAY)
    assert [(fault.row, fault.code, fault.value) for fault in found.faults] == [(2, "extra_cells", "500")]
    assert "in quotation marks" in found.faults[0].mend
    assert found.sales["price"].tolist() == [9000.0]


def test_headers_that_are_blank_or_alike_stay_apart():
    text = "date,price,outcome,model_year,condition,,note,,note,reason,,\n2024-05-31,1,sold,1951,driver,x,a,,b,c,,\n"
    found = read_comparables(text.encode(), VINTAGE, today=TODAY)
    assert list(found.extra.columns) == ["(column 6)", "note", "(column 8)", "note (2)", "reason (2)"]
    assert [fault.column for fault in found.faults] == ["(column 6)", "note", "note (2)", "reason (2)"]


def test_a_rare_word_of_an_open_scale_that_looks_misspelt_is_pointed_at_and_used():
    rows = [{"family": "Penhurrow"}] * 6 + [{"family": "Penhurow"}, {"family": "Tessera"}]
    found = table(*rows)
    assert [(fault.row, fault.code, fault.sets_aside) for fault in found.faults] == [(8, "likely_misspelling", False)]
    assert found.faults[0].why == "'Penhurow' occurs once and looks like 'Penhurrow', which occurs 6 times."
    assert found.n_usable == 8


@pytest.mark.parametrize("other", ["Penhurrow 2", "Penhaven"])
def test_words_that_differ_by_a_figure_or_by_much_are_left_alone(other):
    assert table(*[{"family": "Penhurrow 1"}] * 6, {"family": other}).faults == ()


def test_spellings_that_differ_in_case_and_spaces_only_become_one_and_are_noted():
    found = table({"family": "Tern"}, {"family": "tern"}, {"family": "TERN "}, {"family": "Tern"})
    assert found.attributes["family"].tolist() == ["Tern"] * 4
    assert [note.code for note in found.notes] == ["spellings_joined"]
    assert "'tern' as 'Tern'" in found.notes[0].text


def test_all_rows_asking_or_all_prices_equal_load():
    found = table(*[{"outcome": "for sale"}] * 13)
    assert found.outcome_counts() == {"sold": 0, "bid_not_met": 0, "asking": 13, "set_aside": 0}
    assert table(*[{}] * 13).n_usable == 13


def test_a_long_value_is_shown_short():
    assert len(table({"condition": "x" * 1000}).faults[0].value) == 201


def test_faults_as_json_data():
    fault = table({"price": "0"}).faults[0]
    assert plain(fault) == {
        "row": 2,
        "column": "price",
        "value": "0",
        "why": fault.why,
        "mend": fault.mend,
        "code": "price_zero",
        "sets_aside": True,
        "suggestion": "",
    }
    assert Fault(**plain(fault)) == fault


def test_the_list_of_codes_is_the_codes_that_are_used():
    folder = Path(valuation.comparables.__file__).parent
    schema_values = folder.parent / "schema" / "values.py"
    text = "".join(
        file.read_text(encoding="utf-8") for file in (*folder.glob("*.py"), schema_values) if file.name != "faults.py"
    )
    used = set(re.findall(r'"([a-z_]+)"', text))
    assert set(FAULT_CODES) <= used, set(FAULT_CODES) - used
    problems = set(re.findall(r'CellFault\(\s*"([a-z_]+)"', text)) | set(
        re.findall(r'0,\s*\w+,\s*"[^"]*",\s*"([a-z_]+)"', text)
    )
    assert problems <= set(FAULT_CODES), problems - set(FAULT_CODES)


def test_prices_in_thousands_are_read_in_full_and_named_once():
    found = table({"price": "5.75k"}, {"price": "$9.25k"}, {"price": "24500"}, {"price": "5.75k"})
    assert found.sales["price"].tolist() == [5750, 9250, 24500, 5750]
    [text] = [note.text for note in found.notes if note.code == "prices_in_thousands"]
    assert text == (
        "3 prices given in thousands were read in full: '5.75k' as 5,750 (rows 2, 5), '$9.25k' as 9,250 (row 3)."
    )
    assert found.read_as[0] == ReadAs("prices_in_thousands", 2, "price", "5.75k", "5,750")
