"""How each kind of term turns cells into columns."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from valuation.errors import RegressionError
from valuation.regression.frozen import term_from_state, term_state
from valuation.regression.terms import (
    flag_term,
    nominal_term,
    number_term,
    ordinal_term,
    spline_kernel,
)

GRADES = ("poor", "fair", "good", "fine")


def numbers(n=40, seed=0):
    return pd.Series(np.random.default_rng(seed).uniform(10, 90, n))


def test_the_bend_shares_nothing_with_the_line_over_the_table():
    column = numbers()
    term = number_term(column, "size", "line")
    matrix = term.encode(column).matrix
    lines = np.column_stack([np.ones(len(column)), matrix[:, 0]])
    assert np.abs(lines.T @ matrix[:, 1:]).max() < 1e-9
    assert (matrix[:, 1:] ** 2).sum(axis=1).mean() == pytest.approx(1.0)


@pytest.mark.parametrize(("kind", "followed"), [("line", 0.5), ("curve", 0.0), ("drift", 0.5)])
def test_lines_and_drift_are_followed_half_a_range_further_and_smooths_not_at_all(kind, followed):
    column = pd.Series(np.linspace(10, 90, 30))
    term = number_term(column, "size", kind)
    at = term.encode(pd.Series([90.0, 90 + 80 * followed, 200.0, 1e6]))
    assert at.matrix[1, 0] - at.matrix[0, 0] == pytest.approx(followed * 80 / column.std(ddof=0))
    assert at.matrix[2, 0] == at.matrix[1, 0] == at.matrix[3, 0]
    assert np.ptp(at.matrix[:, 1:], axis=0).max() == 0.0
    assert at.beyond[0] == 0.0
    assert at.beyond[3] > at.beyond[2] > 0


def test_the_spline_kernel_is_the_integral_it_stands_for():
    knots = np.array([0.0, 0.7, 1.6])
    s = np.array([0.4, 1.1])
    u = (np.arange(200_000) + 0.5) * 2 / 200_000
    for i, a in enumerate(s):
        for j, b in enumerate(knots):
            integral = (np.maximum(a - u, 0) * np.maximum(b - u, 0)).sum() * 2 / 200_000
            assert spline_kernel(s, knots)[i, j] == pytest.approx(integral, abs=1e-8)


def test_a_cell_that_tells_nothing_is_the_average_of_the_table():
    column = pd.Series(["a", "a", "b", "c", None])
    term = nominal_term(column, "body")
    told = term.encode(pd.Series(["never seen", None]))
    assert told.unseen.tolist() == [True, False]
    assert told.missing.tolist() == [False, True]
    assert np.all(told.matrix[:, :3] == 0.0)
    assert term.encode(column[:4]).matrix[:, :3].mean(axis=0) == pytest.approx(0.0)


def test_steps_of_a_scale_are_reached_one_by_one():
    column = pd.Series(["poor", "fair", "good", "good", "fine"])
    term = ordinal_term(column, "grade", GRADES)
    matrix = term.encode(pd.Series(list(GRADES))).matrix
    steps = np.diff(matrix[:, 1:], axis=0) * term.step_scale
    assert steps == pytest.approx(np.eye(3))
    assert np.diff(matrix[:, 0]) == pytest.approx(1 / term.scale)


def test_a_level_off_the_scale_is_refused_by_name():
    term = ordinal_term(pd.Series(["poor", "fine"]), "grade", GRADES)
    with pytest.raises(RegressionError, match=r"Cannot place 'superb' on the scale of 'grade'.*poor, fair, good, fine"):
        term.encode(pd.Series(["poor", "superb"]))


def test_a_missing_grade_may_count_as_the_lowest():
    column = pd.Series(["poor", None, "fine", "good"])
    term = ordinal_term(column, "grade", GRADES, missing_is_lowest=True)
    at = term.encode(pd.Series([None, "poor"]))
    assert np.array_equal(at.matrix[0], at.matrix[1])
    assert not at.missing.any()


def test_infinite_numbers_and_words_are_refused():
    term = number_term(numbers(), "size", "line")
    with pytest.raises(RegressionError, match="infinite number in 'size'"):
        term.encode(pd.Series([1.0, np.inf]))
    with pytest.raises(RegressionError, match="Cannot read 'size' as numbers"):
        term.encode(pd.Series([1.0, "much"], dtype=object))


@pytest.mark.parametrize(
    "term",
    [
        number_term(numbers(), "size", "line", logged=True),
        ordinal_term(pd.Series(["poor", "good", None]), "grade", GRADES),
        nominal_term(pd.Series(["a", "b", None]), "body"),
        flag_term(pd.Series([1.0, 0.0, np.nan]), "original"),
    ],
    ids=lambda term: term.attribute,
)
def test_a_term_comes_back_from_plain_data(term):
    back = term_from_state(term_state(term))
    assert term_state(back) == term_state(term)
    assert back.kinds == term.kinds


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=12), st.floats(-1e9, 1e9))
def test_columns_stay_bounded_whatever_the_table_and_the_subject(cells, subject):
    term = number_term(pd.Series(cells), "size", "line")
    at = term.encode(pd.Series([subject, np.nan]))
    assert np.isfinite(at.matrix).all()
    lowest, highest = term.low - term.allowance, term.high + term.allowance
    assert lowest <= at.matrix[0, 0] <= highest
    assert np.abs(at.coordinates).max() <= 2.5


def test_drift_goes_on_past_the_newest_sale_and_then_stays():
    """Four years of sales: the line is followed for two years more, and for half the span of a short table."""
    years = pd.Series(pd.date_range("2020-01-01", "2024-01-01", 30))
    term = number_term(years, "sold", "drift", is_date=True)
    newest, later, far = (
        term.encode(pd.Series([pd.Timestamp(day)])).matrix[0, 0] * term.scale
        for day in ("2024-01-01", "2025-01-01", "2035-01-01")
    )
    assert later - newest == pytest.approx(1.0, abs=0.01)
    assert far - newest == pytest.approx(2.0, abs=0.01)
    short = number_term(pd.Series(pd.date_range("2024-01-01", "2024-02-01", 30)), "sold", "drift", is_date=True)
    assert short.allowance * short.scale == pytest.approx(31 / 365.25 / 2, rel=1e-6)
