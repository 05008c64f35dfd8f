"""Whatever way a table of sales is written in, the same sales come out of it; every other row is called what it is."""

import csv
import datetime as dt
import io

import openpyxl
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.comparables import read_comparables
from valuation.schema import parse_schema

TODAY = dt.date(2025, 6, 1)
SCHEMA = parse_schema("""
currency = "USD"
day_first = true
[columns]
price = ["Paid"]
date = ["When"]
[attributes.truck]
role = "nominal"
[attributes.year]
role = "smooth"
minimum = 1916
maximum = 1999
[attributes.miles]
role = "number"
unit = "miles"
minimum = 0
[attributes.proved]
role = "flag"
""")
HEADER = ["Truck", "Year", "Paid", "When", "Outcome", "Miles", "Proved"]

sale = st.fixed_dictionaries(
    {
        "truck": st.sampled_from(["Garrow Wren", "Garrow Plover", "Ostrey Mule"]),
        "year": st.integers(1920, 1990),
        "price": st.integers(200, 900).map(lambda fifties: 50 * fifties),  # none ten times its neighbours
        "date": st.dates(dt.date(2001, 1, 1), dt.date(2025, 5, 31)),
        "outcome": st.sampled_from(["sold", "bid not met", "asking"]),
        "miles": st.integers(1, 150).map(lambda thousands: 1000 * thousands),
        "proved": st.booleans(),
    }
)
sales = st.lists(sale, min_size=4, max_size=12, unique_by=lambda one: (one["truck"], one["year"], one["price"]))

PRICES = st.sampled_from(
    [
        lambda price: f"{price}",
        lambda price: f"{price:,}",
        lambda price: f"{price:,}".replace(",", "."),
        lambda price: f"{price:,}".replace(",", " "),
        lambda price: f"{price:,}".replace(",", " ") + ",-",
        lambda price: f"${price:,}.00",
        lambda price: f"{price / 1000:.2f}k",
        lambda price: f"about {price:,}",
        lambda price: f"{price} firm",
        lambda price: f"{price:,} (with a trailer)",
    ]
)
DATES = st.sampled_from(
    [
        lambda day: (day.isoformat(), day),
        lambda day: (f"{day:%d/%m/%Y}", day),
        lambda day: (f"{day:%d.%m.%Y}", day),
        lambda day: (f"{day.day} {day:%B %Y}", day),
        lambda day: (f"{day:%b %Y}", middle_of_month(day)),
        lambda day: (f"{day:%m/%Y}", middle_of_month(day)),
        lambda day: (f"mid {day:%B %Y}", day.replace(day=15)),
    ]
)
YEARS = st.sampled_from([str, lambda year: f"'{year % 100:02}", lambda year: f"c. {year}", lambda year: f"{year}?"])
MILES = st.sampled_from([str, lambda far: f"{far} miles", lambda far: f"{far // 1000}k", lambda far: f"{far} mi"])
FLAGS = st.sampled_from([("yes", "no"), ("TRUE", "FALSE"), ("☑", "☐"), ("x", "n"), ("ja", "nein")])


def middle_of_month(day):
    after = (day.replace(day=28) + dt.timedelta(days=4)).replace(day=1)
    return day.replace(day=1) + dt.timedelta(
        days=(min(after - dt.timedelta(days=1), TODAY) - day.replace(day=1)).days // 2
    )


@st.composite
def written(draw):
    """A table of sales in some way: its rows, where each sale stands and what it says, and what the other rows are."""
    found = draw(sales)
    price, date, year, miles, flags = (draw(one) for one in (PRICES, DATES, YEARS, MILES, FLAGS))
    margin, titles = draw(st.integers(0, 2)), draw(st.integers(0, 2))
    rows = [["What trucks brought", *([""] * 3), "kept by Ada"][: 1 + 4 * number] for number in range(titles)]
    rows += [[] for _ in range(draw(st.integers(0, 1)))]
    rows.append(HEADER)
    expected, others = {}, {}
    breaks = draw(st.sets(st.integers(1, len(found) - 1)))
    for at, one in enumerate(found):
        if at in breaks:
            kind = draw(st.sampled_from(["repeated_header", "section_row", "blank", "totals_row"]))
            rows.append(
                {
                    "repeated_header": HEADER,
                    "section_row": ["2024"],
                    "blank": [],
                    "totals_row": ["Subtotal", "", str(sum(sale["price"] for sale in found[:at]))],
                }[kind]
            )
            others |= {len(rows): kind} if kind != "blank" else {}
        shown, day = date(one["date"])
        rows.append(
            [one["truck"], year(one["year"]), price(one["price"]), shown, one["outcome"], miles(one["miles"]),
             flags[not one["proved"]]]
        )  # fmt: skip
        expected[len(rows)] = {**one, "date": day}
    if draw(st.booleans()):
        rows.append(["", "", str(sum(sale["price"] for sale in found))])
        others[len(rows)] = "totals_row"
    if draw(st.booleans()):
        rows += [[], ["firm = would not haggle about it"]]
        others[len(rows)] = "note_row"
    return [[*[""] * margin, *row] if row else row for row in rows], expected, others


def text_file(delimiter, encoding):
    def save(rows):
        out = io.StringIO()
        csv.writer(out, delimiter=delimiter).writerows(rows)
        return out.getvalue().encode(encoding)

    return save


def workbook(rows):
    book, out = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


SAVE = st.sampled_from([text_file(",", "utf-8"), text_file(";", "utf-8-sig"), text_file("\t", "utf-16"), workbook])


@settings(max_examples=40, deadline=None)
@given(written(), SAVE)
def test_the_same_sales_come_out_whatever_way_they_are_written(table, save):
    rows, expected, others = table
    found = read_comparables(save(rows), SCHEMA, today=TODAY)
    assert {fault.row: fault.code for fault in found.faults if fault.row} == others
    assert sorted(found.set_aside.index) == sorted(others)
    assert found.sales.index.tolist() == list(expected)
    for row, one in expected.items():
        sold, cells = found.sales.loc[row], found.attributes.loc[row]
        assert (sold["price"], sold["outcome"]) == (one["price"], one["outcome"].replace(" ", "_"))
        assert sold["date"].date() == one["date"]
        assert (cells["truck"], cells["year"], cells["miles"]) == (one["truck"], one["year"], one["miles"])
        assert cells["proved"] == one["proved"]
    written_otherwise = {(one.row, one.column) for one in found.read_as}
    assert {row for row, _ in written_otherwise} <= set(expected)
