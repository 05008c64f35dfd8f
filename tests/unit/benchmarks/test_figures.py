"""The comparison of recorded figures: what differs is named, what is renamed is found, what is gone is missed."""

import pytest

from benchmarks.figures.compare import compare, difference
from benchmarks.figures.record import flat


def test_figures_are_flattened_by_key_in_order():
    answer = {"median": 2.5, "why": "words", "none": None, "grid": [{"net": 1, "ok": True}, {"net": 2, "ok": False}]}
    assert flat(answer, "estimate") == {
        "estimate.median": [2.5],
        "estimate.grid[].net": [1.0, 2.0],
        "estimate.grid[].ok": [1.0, 0.0],
    }


def test_equal_to_the_last_printed_digit_is_the_same():
    found = compare({"a.x": [1.0, 0.0]}, {"a.x": [1.0 + 5e-13, 0.0]})
    assert (found.same, found.differing, found.missing) == (2, {}, ())
    assert found.largest == pytest.approx(5e-13, rel=1e-3)


def test_a_figure_that_moved_is_named_with_its_size():
    found = compare({"a.x": [1.0, 2.0]}, {"a.x": [1.0, 2.0 * (1 + 1e-9)]})
    assert found.differing == {"a.x": pytest.approx(1e-9, rel=1e-6)}
    assert found.same == 0


def test_a_key_renamed_with_the_same_figures_is_found_within_its_question():
    found = compare({"steps.old": [3.0, 4.0]}, {"steps.new": [3.0, 4.0], "paths.new": [3.0, 4.0]})
    assert found.renamed == {"steps.old": "steps.new"}
    assert (found.missing, found.added) == ((), ("paths.new",))


def test_what_is_gone_is_missing():
    assert compare({"a.x": [1.0]}, {"a.y": [2.0]}).missing == ("a.x",)


def test_lists_of_different_length_differ_without_end():
    assert difference([1.0], [1.0, 2.0]) == float("inf")
