"""Mutants of a small piece of code, as by hand."""

import ast
from pathlib import Path

from benchmarks.mutation.mutants import mutants
from benchmarks.mutation.run import chosen_tests, page

TEXT = '''def half(x: float = 2.0) -> float:
    """A half, or 7."""
    if x < 0 and not x:
        raise ValueError(f"below {0}: {x - 1}")
    return min(x, 9) / 2
'''


def test_each_change_is_made_once_and_words_are_left_alone():
    found = {(one.line, one.before, one.after) for one in mutants(TEXT)}
    assert found == {
        (1, "2.0", "3.01"),
        (3, "x < 0 and not x", "x < 0 or not x"),
        (3, "x < 0", "x <= 0"),
        (3, "0", "1"),
        (5, "return min(x, 9) / 2", "return None"),
        (5, "min(x, 9) / 2", "min(x, 9) * 2"),
        (5, "min", "max"),
        (5, "9", "10"),
        (5, "2", "3"),
    }


def test_a_mutant_differs_from_its_module_in_that_one_place():
    whole = ast.dump(ast.parse(TEXT))
    for one in mutants(TEXT):
        assert ast.dump(ast.parse(one.text)) != whole
        before, after = TEXT.splitlines(), one.text.splitlines()
        assert [place for place, line in enumerate(after, 1) if line != before[place - 1]] == [one.line]


def test_the_chosen_tests_a_module_are_those_that_name_it():
    found = chosen_tests(Path("valuation/evidence/grid.py"))
    assert found[0] == Path("tests/unit/evidence/test_grid.py")


def test_runs_that_took_too_long_count_neither_way():
    from collections import Counter

    ends = Counter({("evidence", "killed"): 3, ("evidence", "survived"): 1, ("evidence", "timed out"): 6})
    assert "3 of 4 changes were noticed (75 %)" in page(ends, ["- x"], 1)
