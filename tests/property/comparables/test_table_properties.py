"""What must hold for every table: nothing lost, order and file kind without meaning, currency only a unit."""

import datetime as dt
import io

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.comparables import FAULT_CODES, from_frame, read_comparables
from valuation.errors import TableError
from valuation.schema import parse_schema

TODAY = dt.date(2025, 6, 1)
SCHEMA = parse_schema("""
currency = "USD"
[rates]
EUR = 1.0
[venue_premiums]
Hall = 10
[attributes.kind]
role = "nominal"
[attributes.grade]
role = "ordinal"
levels = ["low", "middle", "high"]
[attributes.size]
role = "number"
minimum = 0
[attributes.garage]
role = "flag"
""")

good_row = st.fixed_dictionaries(
    {
        "date": st.dates(dt.date(1995, 1, 1), TODAY).map(dt.date.isoformat),
        "price": st.integers(100, 10**7).map(str) | st.decimals("1.01", "9999.99", places=2).map(str),
        "outcome": st.sampled_from(["sold", "bid not met", "asking"]),
        "kind": st.sampled_from(["a", "b", "c d", ""]),
        "grade": st.sampled_from(["low", "middle", "high", ""]),
        "size": st.integers(0, 10**6).map(str) | st.just(""),
        "garage": st.sampled_from(["yes", "no", ""]),
        "venue": st.sampled_from(["Hall", "private", ""]),
        "premium": st.sampled_from(["", "5%", "12.5 %", "0"]),
        "currency": st.sampled_from(["USD", ""]),
        "source": st.sampled_from(["", "lot 1", "lot 2", "private"]),
    }
)
cell = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=12)
messy_row = st.builds(
    lambda row, changes: {**row, **changes},
    good_row,
    st.dictionaries(
        st.sampled_from(["date", "price", "outcome", "grade", "size", "garage", "premium", "currency"]), cell
    ),
)


def frame(rows):
    return pd.DataFrame(rows, columns=list(rows[0]))


def read(data):
    return from_frame(data, SCHEMA, today=TODAY)


@settings(max_examples=40)
@given(st.lists(messy_row, min_size=1, max_size=25))
def test_every_row_is_usable_or_set_aside_with_a_fault(rows):
    table = read(frame(rows))
    index = [*table.sales.index, *table.set_aside.index]
    assert sorted(index) == sorted(set(index))
    assert len(index) == table.rows == sum(table.outcome_counts().values()) == len(rows)
    blamed = {fault.row for fault in table.faults if fault.sets_aside}
    assert blamed == set(table.set_aside.index)
    assert all(fault.code in FAULT_CODES and fault.why and fault.mend for fault in table.faults)
    assert table.sales.index.equals(table.attributes.index)
    low, high = table.prices().T
    assert ((low >= 0) & (low <= high) & (high > 0) & (np.isfinite(low) | np.isfinite(high))).all()


@settings(max_examples=40)
@given(st.lists(messy_row, min_size=1, max_size=10))
def test_rows_set_aside_keep_their_text(rows):
    data = frame(rows)
    table = read(data)
    for number, row in table.set_aside.iterrows():
        assert row.drop("reason").to_dict() == data.iloc[int(str(number)) - 2].to_dict()


@settings(max_examples=40)
@given(st.lists(good_row, min_size=1, max_size=25, unique_by=lambda row: row["date"]), st.randoms())
def test_the_order_of_rows_has_no_meaning(rows, random):
    rows = [{**row, "source": ""} for row in rows]  # of two rows of one sale the first stays, which is an order
    shuffled = random.sample(rows, len(rows))
    first, second = read(frame(rows)), read(frame(shuffled))
    assert first.fingerprint == second.fingerprint
    assert first.n_usable == second.n_usable


@settings(max_examples=40)
@given(st.lists(good_row, min_size=1, max_size=15, unique_by=lambda row: row["date"]), st.integers(0, 14))
def test_another_price_is_another_fingerprint(rows, place):
    rows = [{**row, "source": "", "price": "1000"} for row in rows]
    place %= len(rows)
    changed = [{**row, "price": "1001"} if number == place else row for number, row in enumerate(rows)]
    assert read(frame(rows)).fingerprint != read(frame(changed)).fingerprint


@settings(max_examples=15)
@given(st.lists(good_row, min_size=1, max_size=12))
def test_csv_and_workbook_give_the_same_fingerprint(rows):
    data = frame(rows)
    typed = data.assign(
        date=pd.to_datetime(data["date"]).dt.date,
        price=pd.to_numeric(data["price"]),
        size=pd.to_numeric(data["size"]),
    )
    expected = read(data).fingerprint
    assert read(typed).fingerprint == expected
    buffer = io.BytesIO()
    typed.to_excel(buffer, index=False, engine="openpyxl")
    assert read_comparables(buffer.getvalue(), SCHEMA, today=TODAY).fingerprint == expected
    for delimiter in ",;\t":
        text = typed.to_csv(index=False, sep=delimiter)
        assert read_comparables(text.encode("utf-16"), SCHEMA, today=TODAY).fingerprint == expected


@settings(max_examples=40)
@given(
    st.lists(good_row, min_size=1, max_size=20, unique_by=lambda row: row["date"]),
    st.sampled_from([0.5, 2.0, 4.0, 1024.0]),
)
def test_a_currency_is_only_a_unit(rows, rate):
    data = frame([{**row, "source": "", "currency": "EUR"} for row in rows])
    dollars = read(data)
    scaled = from_frame(data, parse_schema(SCHEMA.source_text.replace("EUR = 1.0", f"EUR = {rate}")), today=TODAY)
    assert scaled.sales.index.equals(dollars.sales.index)
    np.testing.assert_array_equal(scaled.prices(), dollars.prices() * rate)
    assert [(f.row, f.code) for f in scaled.faults] == [(f.row, f.code) for f in dollars.faults]


@settings(max_examples=40)
@given(st.binary(max_size=400) | st.text(max_size=200).map(lambda text: ("date,price,outcome\n" + text).encode()))
def test_whatever_the_bytes_the_answer_is_a_table_or_a_named_refusal(data):
    try:
        table = read_comparables(data, SCHEMA, today=TODAY)
    except TableError as refusal:
        answer = str(refusal)
    else:
        answer = "Cannot lose a row." if table.n_usable + len(table.set_aside) == table.rows else "A row was lost"
    assert answer.startswith("Cannot ")
    assert answer.endswith(".")
