"""Numbers as people write them: separators, decimal marks, and what is refused."""

import pytest

from valuation.text.numbers import decimal_mark, finite_number, is_missing, read_number


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("24500", "", 24500),
        ("24,500", "", 24500),
        ("24,500.00", "", 24500),
        ("24.500,00", "", 24500),
        ("1.234.567", "", 1234567),
        ("1,234,567.5", "", 1234567.5),
        ("24 500", "", 24500),
        ("24\u00a0500", "", 24500),
        ("24'500", "", 24500),
        ("24.5", "", 24.5),
        ("24,5", "", 24.5),
        ("24.500", "", 24.5),
        ("24.500", ",", 24500),
        ("24,500", ",", 24.5),
        ("24,500", ".", 24500),
        ("0.500", "?", 0.5),
        ("-3", "", -3),
        ("−3", "", -3),
        ("(1,500)", "", -1500),
        ("1.5e4", "", 15000),
        (" 7. ", "", 7),
    ],
)
def test_reads_numbers_as_written(text, mark, number):
    assert read_number(text, mark) == number


@pytest.mark.parametrize("text", ["inf", "-Infinity", "∞"])
def test_infinite_is_named(text):
    with pytest.raises(ValueError, match="is infinite"):
        read_number(text)


@pytest.mark.parametrize("text", ["twelve", "12k", "1-2", "12.34.5", "1,23,456", ""])
def test_other_text_is_no_number(text):
    with pytest.raises(ValueError, match="is not a number"):
        read_number(text)


def test_a_column_with_both_marks_leaves_a_doubtful_cell_unread():
    mark = decimal_mark(["12.500,00", "13,500.50", "14,500"])
    assert mark == "?"
    assert read_number("12.500,00", mark) == 12500
    with pytest.raises(ValueError, match="can be read as two numbers"):
        read_number("14,500", mark)


def test_too_large_a_number_is_named():
    with pytest.raises(ValueError, match="is too large"):
        read_number("1e999")


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["1951", "n/a", ""], ""),
        (["12,500", "9,750"], ""),
        (["12,500", "9,750.5"], "."),
        (["12.500", "9.750", "8,5"], ","),
        (["12.500.000"], ","),
        (["0.125"], "."),
        (["1234.567"], "."),
    ],
)
def test_the_decimal_mark_is_what_the_cells_prove(texts, mark):
    assert decimal_mark(texts) == mark


@pytest.mark.parametrize("text", ["", "  ", "-", "N/A", "unknown", "NaN", "#N/A", "?"])
def test_words_for_nothing_known(text):
    assert is_missing(text)


def test_zero_is_not_missing():
    assert not is_missing("0")


@pytest.mark.parametrize("value", [10**400, float("inf"), float("nan"), "1", True, None])
def test_what_is_no_finite_number(value):
    assert finite_number(value) is None
