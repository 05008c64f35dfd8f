"""One rule of rounding for money that people are told, on every face."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from valuation.build.figures import about, at_least, at_most, money
from valuation.text.locale import Locale
from valuation.text.rounding import rounded, told

AMOUNTS = st.floats(0.01, 1e9)


@given(AMOUNTS)
def test_a_limit_is_never_passed_and_lies_within_a_hundredth(amount):
    low, high = rounded(amount, limit="down"), rounded(amount, limit="up")
    assert amount * (1 - 0.0101) - 0.01 <= low <= amount * (1 + 1e-9)
    assert amount * (1 - 1e-9) <= high <= amount * (1 + 0.0101) + 0.01
    assert low - 1e-9 <= rounded(amount) <= high + 1e-9


@given(AMOUNTS, st.sampled_from(["", "up", "down"]))
def test_a_rounded_amount_is_rounded_already(amount, limit):
    once = rounded(amount, limit=limit)
    assert rounded(once, limit=limit) == pytest.approx(once, rel=1e-12)


def test_a_fourth_figure_is_told_where_the_range_is_narrow():
    assert rounded(45_312, width=4_531) == 45_310
    assert rounded(45_312, width=4_532) == 45_300


@pytest.mark.parametrize(("amount", "shown"), [(0.0, 0.0), (-0.001, 0.0), (-14_562.0, -14_600.0), (math.inf, math.inf)])
def test_nothing_has_no_sign_and_a_loss_is_rounded_as_a_gain(amount, shown):
    assert rounded(amount) == shown
    assert math.copysign(1, rounded(amount)) == math.copysign(1, shown)


@pytest.mark.parametrize("say", [told, money, about, Locale().about, Locale().money])
def test_a_small_whole_amount_shows_its_cents_as_the_one_beside_it_does(say):
    assert [say(amount) for amount in (3.72, 4.0, 3.998)] == ["3.72", "4.00", "4.00"]
    assert [say(amount) for amount in (0.0, 10.0, 45.0, 45.5, 100.0)] == ["0", "10", "45", "45.50", "100"]


@pytest.mark.parametrize("amount", [14_894.23, 3_371.09, 982.4, 105_990.0, 76.93])
def test_terminal_pages_sheets_and_card_show_the_same_limit(amount):
    from valuation.sheets import field_card

    assert at_most(amount) == Locale().at_most(amount) == field_card._limit(amount, Locale())
    assert at_least(amount) == Locale().at_least(amount)
