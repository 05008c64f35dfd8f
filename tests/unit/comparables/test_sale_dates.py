"""Mixed styles of dates in one column: what is read by rule is said."""

import datetime as dt

from valuation.comparables import read_comparables
from valuation.schema import parse_schema


def read(*dates, day_first=False):
    schema = parse_schema(f'day_first = {str(day_first).lower()}\n[attributes.size]\nrole = "number"\n')
    rows = [f'{number},sold,100,"{date}"' for number, date in enumerate(dates)]
    return read_comparables("\n".join(["size,outcome,price,date", *rows]).encode(), schema, today=dt.date(2025, 6, 1))


def days(table):
    return [str(date)[:10] for date in table.sales["date"]]


def test_styles_may_be_mixed():
    table = read("2024-05-31", "5/31/2024", "31 May 2024", "31.5.2024", "31/5/24")
    assert days(table) == ["2024-05-31"] * 5
    assert table.notes == ()


def test_dates_of_two_readings_follow_the_setting_and_are_counted():
    table = read("3/4/2024", "3/4/2024", "5/31/2024")
    assert days(table) == ["2024-03-04", "2024-03-04", "2024-05-31"]
    assert [note.text for note in table.notes] == [
        "2 dates (such as '3/4/2024') can be read two ways; they were read month first, as day_first = false "
        "in the schema says."
    ]
    assert days(read("3/4/2024", day_first=True)) == ["2024-04-03"]


def test_a_column_that_proves_the_other_order_is_a_fault_of_its_doubtful_dates_that_sets_nothing_aside():
    table = read("3/4/2024", "31/5/2024", "30/5/2024")
    assert [(fault.row, fault.column, fault.code, fault.sets_aside) for fault in table.faults] == [
        (2, "date", "ambiguous_dates", False)
    ]
    assert table.faults[0].suggestion == "2024-04-03"
    assert table.faults[0].why == (
        "2 dates can only be day first, none can only be month first; "
        "'3/4/2024' could be either and was read month first."
    )
    assert table.faults[0].mend == "Set day_first = true in the schema, or write dates as 2024-05-31."
    assert table.n_usable == 3
    mend = read("3/4/2024", "5/31/2024", day_first=True).faults[0].mend
    assert mend == "Set day_first = false in the schema, or write dates as 2024-05-31."


def test_a_column_that_proves_both_orders_is_only_noted():
    table = read("3/4/2024", "31/5/2024", "5/31/2024")
    assert table.faults == ()
    assert [note.code for note in table.notes] == ["dates_by_rule"]


def test_a_table_without_dates_is_one_where_the_schema_allows_it():
    schema = parse_schema('[attributes.size]\nrole = "number"\n')
    table = read_comparables(b"size,outcome,price\n1,sold,100\n", schema)
    assert table.sales["date"].isna().all()
    assert table.faults == ()


def test_today_is_the_current_day_unless_told():
    schema = parse_schema('[attributes.size]\nrole = "number"\n')
    tomorrow = (dt.date.today() + dt.timedelta(days=2)).isoformat()
    table = read_comparables(f"size,outcome,price,date\n1,sold,100,{tomorrow}\n".encode(), schema)
    assert [fault.code for fault in table.faults] == ["future_date"]
