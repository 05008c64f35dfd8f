"""Reading an index file and moving prices by it."""

import datetime

import numpy as np
import pandas as pd
import pytest

from valuation.errors import EvidenceError
from valuation.evidence.price_index import PriceIndex, consumer_price_index, read_price_index


def codes(result):
    return [note.code for note in result.notes]


@pytest.fixture
def index():
    months = np.array(["2023-11", "2023-12", "2024-01", "2024-03", "2024-04"], dtype="datetime64[M]")
    return PriceIndex("shop index", months, np.array([80.0, 90.0, 100.0, 121.0, 110.0]))


def test_factor_is_the_ratio_of_the_two_months(index):
    found = index.factor(["2024-01-31", "2024-03-01", "2024-04-02"], "2024-04-30")
    assert found.factors == pytest.approx([1.1, 110 / 121, 1.0])
    assert found.factors[2] == 1.0
    assert found.notes == ()


def test_missing_month_is_read_between_its_neighbours_and_said(index):
    found = index.factor(["2024-02-10"], "2024-01-10")
    assert found.factors == pytest.approx([1 / 1.1])
    assert codes(found) == ["index_month_missing"]
    assert "no value for 2024-02" in found.notes[0].text


def test_dates_outside_hold_the_end_value_and_say_how_far(index):
    found = index.factor(["2022-11-05", "2023-11-05"], "2024-09-01")
    assert found.factors == pytest.approx([110 / 80, 110 / 80])
    assert codes(found) == ["index_held_before", "index_held_after"]
    assert "starts in 2023-11; dates as far as 2022-11 (12 months" in found.notes[0].text
    assert "ends in 2024-04; dates as far as 2024-09 (5 months" in found.notes[1].text


def test_there_and_back_is_one_and_base_does_not_matter(index):
    dates = ["2023-11-01", "2024-02-01", "2024-04-01"]
    there = index.factor(dates, "2024-03-01").factors
    back = [index.factor("2024-03-01", date).factors[0] for date in dates]
    assert there * back == pytest.approx(1.0, rel=1e-14)
    rebased = PriceIndex("rebased", index.months, index.values * 7.3)
    assert rebased.factor(dates, "2024-03-01").factors == pytest.approx(there, rel=1e-12)


def test_every_kind_of_date_is_read(index):
    kinds = [
        pd.Series(pd.to_datetime(["2024-01-05"])),
        [datetime.date(2024, 1, 5)],
        [pd.Timestamp("2024-01-05 13:00")],
        "2024-01-05",
        np.array(["2024-01"], dtype="datetime64[M]"),
    ]
    for kind in kinds:
        assert index.factor(kind, pd.Timestamp("2024-04-05")).factors == pytest.approx([1.1])


def test_dates_that_are_none_are_refused(index):
    with pytest.raises(EvidenceError, match="cannot be read as dates"):
        index.factor(["spring"], "2024-01-01")
    with pytest.raises(EvidenceError, match="1 dates are missing"):
        index.factor([pd.NaT, pd.Timestamp("2024-01-01")], "2024-01-01")
    with pytest.raises(EvidenceError, match="one as-of date is needed"):
        index.factor(["2024-01-01"], ["2024-01-01", "2024-02-01"])


def test_file_with_comments_header_semicolons_and_any_order(tmp_path):
    path = tmp_path / "auction index.csv"
    path.write_text("\ufeff# made up\nmonth;value\n2024-03-31;121\n\n2024-01;100\n2024-02;\n", encoding="utf-8")
    index = read_price_index(path, source="a shop that does not exist", caution="Invented figures.")
    assert index.name == "auction index"
    assert index.months.astype(str).tolist() == ["2024-01", "2024-03"]
    found = index.factor(["2024-01-01"], "2024-03-01")
    assert found.factors == pytest.approx([1.21])
    assert [(note.code, note.text) for note in found.notes] == [("index_caution", "Invented figures.")]


def test_yearly_values_stand_at_july_and_are_joined_by_a_line(tmp_path):
    path = tmp_path / "yearly.csv"
    path.write_text("2020,100\n2021,110\n2022,121\n", encoding="utf-8")
    index = read_price_index(path)
    assert index.value("2020-07-01") == 100
    assert index.value("2021-01-01") == pytest.approx(100 * 1.1**0.5)
    found = index.factor(["2021-01-01"], "2022-07-01")
    assert codes(found) == ["index_between_values"]
    assert "about every 12 months" in found.notes[0].text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no value found"),
        ("month,value\n", "no value found"),
        ("month,value\n2024-01,100\nMarch 24,101\n", "line 3: 'March 24,101'"),
        ("2024-01,100\n2024-02,many\n", "line 2"),
        ("2024-13,100\n2024-14,101\n", "line 1: '2024-13,100', line 2"),
        ("2024-01\n", "line 1"),
        ("2024-01,100\n2024-02,0\n", "2024-02: .*numbers above 0"),
        ("2024-01,inf\n", "line 1: .2024-01,inf"),
        ("2024-01,100\n2024-01-31,101\n", "2024-01 given twice"),
    ],
)
def test_files_that_cannot_be_used_say_which_line(tmp_path, text, words):
    path = tmp_path / "index.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(EvidenceError, match=words):
        read_price_index(path)


def test_file_that_is_absent_or_no_text(tmp_path):
    with pytest.raises(EvidenceError, match=r"Cannot read the index file 'none\.csv'.*Check the path"):
        read_price_index(tmp_path / "none.csv")
    (tmp_path / "picture.csv").write_bytes(b"\xff\xfe\x00\xd8\x89PNG")
    with pytest.raises(EvidenceError, match="UTF-8"):
        read_price_index(tmp_path / "picture.csv")


def test_months_and_values_must_pair_up():
    months = np.array(["2024-01", "2024-02"], dtype="datetime64[M]")
    with pytest.raises(EvidenceError, match="2 months and 1 values"):
        PriceIndex("short", months, np.array([1.0]))
    with pytest.raises(EvidenceError, match="out of order"):
        PriceIndex("backwards", months[::-1], np.array([1.0, 2.0]))


def test_consumer_price_index_turns_old_money_into_new_and_cautions():
    index = consumer_price_index()
    found = index.factor(["1970-01-15"], "2020-01-15")
    assert found.factors == pytest.approx([257.971 / 37.8])
    assert codes(found) == ["index_caution"]
    assert "not how the market for old vehicles moved" in found.notes[0].text
    gap = index.factor(["2025-10-15"], "2024-01-15")
    assert codes(gap) == ["index_month_missing", "index_caution"]
    assert "2025-10" in gap.notes[0].text
