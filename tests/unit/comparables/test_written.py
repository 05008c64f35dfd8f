"""What people write into cells: read where there is one reading, and said so; refused where there are two."""

import datetime as dt

import pytest

from valuation.comparables import ReadAs, read_comparables
from valuation.schema import default_schema, parse_schema

VINTAGE = default_schema()
TODAY = dt.date(2025, 6, 1)
GOOD = {"date": "2024-05-31", "price": "24500", "outcome": "sold", "model_year": "1951", "condition": "driver",
        "mileage": "45000"}  # fmt: skip


def table(*rows, schema=VINTAGE):
    """Comparables from good rows with the given cells changed; the sales are told apart by their sources."""
    lines = [",".join([*GOOD, "source"])]
    for number, changes in enumerate(rows):
        lines.append(",".join(f'"{cell}"' for cell in [*{**GOOD, **changes}.values(), f"lot {number}"]))
    return read_comparables("\n".join(lines).encode(), schema, today=TODAY)


def column(found, kind):
    return [(one.row, one.column, one.written, one.value) for one in found.read_as if one.kind == kind]


@pytest.mark.parametrize(
    ("written", "price", "kinds"),
    [
        ("5.75k", 5750, ["prices_in_thousands"]),
        ("$9.25k", 9250, ["prices_in_thousands"]),
        ("12 500,-", 12500, []),
        ("12,500.00", 12500, []),
        ("12.500,00 Euro", 12500, []),
        ("approx 12k", 12000, ["prices_in_thousands", "figures_about"]),
        ("ca. 12.500", 12500, ["figures_about"]),
        ("about 19.000", 19000, ["figures_about"]),
        ("~12,500", 12500, ["figures_about"]),
        ("12,500?", 12500, ["figures_about"]),
        ("12,500 firm", 12500, ["remarks_beside_figures"]),
        ("12,500 obo", 12500, ["remarks_beside_figures"]),
        ("12,500 (incl. trailer)", 12500, ["remarks_beside_figures"]),
        ("~12.5k (with spare doors)", 12500, ["prices_in_thousands", "figures_about", "remarks_beside_figures"]),
    ],
)
def test_prices_by_hand(written, price, kinds):
    found = table({"price": written})
    assert found.faults == ()
    assert found.sales["price"].tolist() == [price]
    assert [one.kind for one in found.read_as] == kinds == [note.code for note in found.notes]
    assert {(one.row, one.column, one.written, one.value) for one in found.read_as} <= {
        (2, "price", written, f"{price:,}")
    }


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("12-14k", "names two prices, 12,000 and 14,000"),
        ("12,000 - 14,000", "names two prices, 12,000 and 14,000"),
        ("$14,000 to $12,000", "names two prices, 12,000 and 14,000"),
        ("ca. 12.000–14.000 €", "names two prices, 12,000 and 14,000"),
    ],
)
def test_a_range_of_prices_is_set_aside_with_both_ends(written, why):
    [fault] = table({"price": written}, {}).faults
    assert (fault.code, fault.sets_aside, fault.row) == ("price_range", True, 2)
    assert why in fault.why
    assert fault.mend == "Write the one that was paid or bid; of an asking price, the one that is asked."


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("12 weeks", "is not a number"),
        ("12,500 (14,000)", "has a second figure beside it, '14,000'"),
        ("12 (thousand)", "has a note beside it that may change it, 'thousand'"),
        ("12,500 (10 % premium)", "has a note beside it that may change it, '%'"),
        ("12,500 (cad)", "has a note beside it that may change it, 'cad'"),
        ("12,500 plus fees", "is not a number"),
        ("over 12,500", "is not a number"),
        ("CA 12500", "is not a number"),
        ("about 9.250k", "can be read as two numbers, 9250 and 9.25"),
    ],
)
def test_what_could_be_another_price_stays_refused(written, why):
    [fault] = table({"price": written}, {}).faults
    assert (fault.code, fault.row) == ("price_not_a_number", 2)
    assert why in fault.why


def test_the_note_says_each_kind_once_with_examples_and_rows():
    found = table(*[{"price": "5.75k"}] * 5, {"price": "9k"}, {"price": "7K"})
    [note] = found.notes
    assert note.code == "prices_in_thousands"
    assert note.text == (
        "7 prices given in thousands were read in full: '5.75k' as 5,750 (rows 2, 3, 4 and 2 more), '9k' as 9,000 "
        "(row 7), '7K' as 7,000 (row 8)."
    )


@pytest.mark.parametrize(
    ("written", "day", "off"),
    [
        ("Dec 2024", "2024-12-16", 15),
        ("12/2024", "2024-12-16", 15),
        ("2024-12", "2024-12-16", 15),
        ("December '24", "2024-12-16", 15),
        ("spring 2024", "2024-04-15", 46),
        ("winter 2023/24", "2024-01-15", 45),
        ("2024", "2024-07-01", 183),
        ("Q3 2024", "2024-08-15", 46),
        ("mid June 2024", "2024-06-15", 5),
        ("about May 2025", "2025-05-16", 15),
        ("2025", "2025-03-17", 76),  # the year has run to 1 June so far
    ],
)
def test_dates_with_a_width_are_read_as_their_middle(written, day, off):
    found = table({"date": written})
    assert found.faults == ()
    assert [str(date)[:10] for date in found.sales["date"]] == [day]
    assert found.read_as[0] == ReadAs("dates_with_a_width", 2, "date", written, day, off)


def test_how_many_dates_have_a_width_is_said_once_with_the_widest():
    [note] = table({"date": "Dec 2024"}, {"date": "spring 2024"}, {"date": "spring 2024"}, {}).notes
    assert note.text == (
        "3 dates without a day were read as the middle of the span, at most 46 days off: 'Dec 2024' as "
        "2024-12-16 (row 2), 'spring 2024' as 2024-04-15 (rows 3, 4)."
    )


@pytest.mark.parametrize(
    ("written", "code", "why"),
    [
        ("winter 2024", "impossible_date", "can be either of two winters"),
        ("Dec 25", "impossible_date", "is not a complete date"),
        ("spring", "impossible_date", "is not a complete date"),
        ("13/2024", "impossible_date", "is not a complete date"),
        ("autumn 2025", "future_date", "lies in the future"),
        ("1955", "early_date", "lies before 1990-01-01"),
    ],
)
def test_dates_that_stay_refused(written, code, why):
    [fault] = table({"date": written}, {}).faults
    assert fault.code == code
    assert why in fault.why


def test_a_column_of_days_stored_as_numbers():
    found = table({"date": "45292"}, {"date": "45443.5"}, {"date": "n/a"}, schema=parse_schema(
        "date_required = false\n" + VINTAGE.source_text.replace("date_required = true", "")))  # fmt: skip
    assert [str(date)[:10] for date in found.sales["date"]] == ["2024-01-01", "2024-05-31", "NaT"]
    assert column(found, "dates_stored_as_numbers") == [
        (2, "date", "45292", "2024-01-01"), (3, "date", "45443.5", "2024-05-31"),
    ]  # fmt: skip


@pytest.mark.parametrize("other", ["2024-05-31", "99999", "20000"])
def test_numbers_are_no_days_unless_the_whole_column_says_so(other):
    found = table({"date": "45292"}, {"date": other})
    assert (2, "impossible_date") in [(fault.row, fault.code) for fault in found.faults]


@pytest.mark.parametrize(
    ("written", "year", "kinds"),
    [
        ("'55", 1955, ["years_of_two_digits"]),
        ("55", 1955, ["years_of_two_digits"]),
        ("1955/56", 1955, ["years_of_two"]),
        ("1955-1956", 1955, ["years_of_two"]),
        ("c. 1955", 1955, ["figures_about"]),
        ("1955?", 1955, ["figures_about"]),
        ("55 (titled 56)", 1955, ["years_of_two_digits", "remarks_beside_figures"]),
    ],
)
def test_years_by_hand(written, year, kinds):
    found = table({"model_year": written})
    assert found.faults == ()
    assert found.attributes["model_year"].tolist() == [year]
    assert [(one.kind, one.written, one.value) for one in found.read_as] == [(k, written, str(year)) for k in kinds]


@pytest.mark.parametrize("written", ["05", "'90", "1955-58", "1955/57", "50s", "5", "2055"])
def test_years_that_can_be_two_or_none_stay_refused(written):
    found = table({"model_year": written}, {"model_year": "'55"})
    assert [fault.row for fault in found.faults] == [2]
    assert found.attributes["model_year"].tolist() == [1955]


@pytest.mark.parametrize(
    ("written", "miles", "kinds"),
    [
        ("71k miles", 71000, ["numbers_in_thousands"]),
        ("71k", 71000, ["numbers_in_thousands"]),
        ("71,000 mi", 71000, []),
        ("71,000 km", 44117, ["lengths_converted"]),
        ("71 k km", 44117, ["numbers_in_thousands", "lengths_converted"]),
        ("approx 71,000", 71000, ["figures_about"]),
        ("71,000 (not proved)", 71000, ["remarks_beside_figures"]),
    ],
)
def test_distances_by_hand(written, miles, kinds):
    found = table({"mileage": written})
    assert found.faults == ()
    assert found.attributes["mileage"].tolist() == [miles]
    assert [(one.kind, one.value) for one in found.read_as] == [(kind, f"{miles:,} miles") for kind in kinds]


@pytest.mark.parametrize("written", ["71,000 hours", "71k hours", "71m", "-71k", "71,000 (72,000)", "70-75k"])
def test_what_is_no_distance_stays_refused(written):
    assert [(fault.row, fault.column) for fault in table({"mileage": written}, {}).faults] == [(2, "mileage")]


@pytest.mark.parametrize("written", ["#REF!", "#VALUE!", "#DIV/0!", "Err:502", "####"])
@pytest.mark.parametrize("header", ["price", "date", "outcome", "model_year", "condition"])
def test_errors_of_a_spreadsheet_are_called_so_in_every_column(header, written):
    [fault] = table({header: written}, {}).faults
    assert (fault.row, fault.column, fault.code) == (2, header, "spreadsheet_error")
    assert fault.why == f"'{written}' is an error of the spreadsheet and no value."


def test_an_error_is_no_word_of_an_open_scale_and_not_available_is_a_blank_cell():
    schema = parse_schema('[attributes.kind]\nrole = "nominal"\n')
    found = read_comparables(b"kind,price,outcome\n#REF!,100,sold\n#N/A,100,sold\nvan,100,sold\n", schema)
    assert [(fault.row, fault.code) for fault in found.faults] == [(2, "spreadsheet_error")]
    assert found.attributes["kind"].tolist()[1] == "van"


@pytest.mark.parametrize(("written", "value"), [("TRUE", 1.0), ("☑", 1.0), ("✓", 1.0), ("x", 1.0), ("☐", 0.0),
                                                ("FALSE", 0.0), ("✗", 0.0)])  # fmt: skip
def test_checkboxes_are_yes_and_no(written, value):
    schema = parse_schema('[attributes.proved]\nrole = "flag"\n')
    text = f"proved,price,outcome,arms_length\n{written},100,sold,{written}\n"
    found = read_comparables(text.encode(), schema)
    kept = found.attributes if value else found.set_aside
    assert len(kept) == 1  # a box that is not ticked under arms_length sets the row aside
    if value:
        assert found.attributes["proved"].tolist() == [value]
