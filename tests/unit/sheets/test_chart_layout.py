"""Ticks reach both ends, labels keep apart, and words fit their room."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from valuation.sheets.chart_layout import (
    even_across,
    even_ticks,
    figures,
    fitted,
    log_across,
    log_ticks,
    spots,
    text_width,
)
from valuation.text.locale import Locale

WRITE = Locale().number
PRICES = st.floats(0.02, 5e7)
RATIOS = st.floats(1.001, 1e6)


def boxes(labels, standing, size, off=5.0):
    found = []
    for (px, text), spot in zip(labels, standing, strict=True):
        width = text_width(text, size)
        start = {"left": px + off, "right": px - off - width, "center": px - width / 2}[spot.align]
        found.append((spot.row, start, start + width))
    return found


@given(PRICES, RATIOS)
def test_a_logarithmic_axis_begins_and_ends_in_a_tick_beyond_what_it_holds(low, ratio):
    ticks = log_ticks(low, low * ratio)
    assert ticks[0] <= low * (1 + 1e-9)
    assert ticks[-1] >= low * ratio * (1 - 1e-9)
    assert ticks == sorted(set(ticks))
    assert all(tick > 0 for tick in ticks)
    assert len(ticks) >= 2


@given(PRICES, st.floats(20, 1e6))
def test_over_a_decade_the_ticks_are_one_two_and_five(low, ratio):
    ticks = log_ticks(low, low * ratio)
    assert {round(tick / 10.0 ** math.floor(math.log10(tick) + 1e-9)) for tick in ticks} <= {1, 2, 5}
    assert all(
        after / before == pytest.approx(2.0) or after / before == pytest.approx(2.5)
        for before, after in pairwise(ticks)
    )


@given(PRICES, RATIOS, st.sampled_from([(300, 13), (620, 12), (700, 14), (1060, 14)]))
def test_tick_labels_keep_apart_and_both_ends_are_labelled(low, ratio, room):
    across = log_across([low, low * ratio], *room, WRITE)
    assert across.labels[0]
    assert across.labels[-1]
    shown = [(across.px(t), label) for t, label in zip(across.ticks, across.labels, strict=True) if label]
    ends = [(px - text_width(label, room[1]) / 2, px + text_width(label, room[1]) / 2) for px, label in shown]
    assert all(before[1] < after[0] for before, after in pairwise(ends))


@given(st.floats(-1e6, 1e6), st.floats(0.5, 1e6), st.sampled_from([(300, 13), (1060, 14)]))
def test_labels_of_even_steps_keep_apart_and_stay_inside(low, span, room):
    across = even_across(low, low + span, *room, WRITE)
    shown = [(across.px(t), label) for t, label in zip(across.ticks, across.labels, strict=True) if label]
    assert all(-0.01 <= px <= room[0] + 0.01 for px, _ in shown)
    ends = [(px - text_width(label, room[1]) / 2, px + text_width(label, room[1]) / 2) for px, label in shown]
    assert all(before[1] < after[0] for before, after in pairwise(ends))


def test_ticks_carry_as_many_decimals_as_the_finest_needs():
    assert figures([0.5, 1.0, 2.0], WRITE) == ["0.5", "1.0", "2.0"]
    assert figures([1.0, 2.0, 5.0], WRITE) == ["1", "2", "5"]
    assert figures([33_240.0, 33_260.0], WRITE) == ["33,240", "33,260"]
    assert even_ticks(3.7, 3.72, 4) == [3.7, 3.705, 3.71, 3.715, 3.72]


@given(st.lists(st.tuples(st.floats(0, 300), st.text("0aW", min_size=1, max_size=14)), max_size=12))
def test_labels_never_cover_each_other(labels):
    found = boxes(labels, spots(labels, 13, -10, 310), 13)
    for i, (row, start, end) in enumerate(found):
        assert all(row != r or end <= s or start >= e for r, s, e in found[:i])


@given(st.lists(st.tuples(st.floats(0, 150), st.text("0aW", min_size=1, max_size=14)), max_size=12))
def test_no_stick_goes_through_a_label(labels):
    order = sorted(labels, key=lambda one: -one[0])
    standing = spots(order, 13, -10, 310, 5, ("left",), sticks=True)
    found = boxes(order, standing, 13)
    for (px, _), (row, _, _) in zip(order, found, strict=True):
        crossed = [r for r, start, end in found if start <= px <= end and r <= row]
        assert not crossed


@given(st.text(max_size=220), st.floats(30, 400))
def test_a_fitted_text_fits(text, room):
    assert text_width(fitted(text, 13, room), 13) <= max(room, 13)
