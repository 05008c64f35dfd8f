import math

import pytest

from valuation.paths.root import falling_root


@pytest.mark.parametrize(
    ("function", "low", "high", "root"),
    [
        (lambda x: 2 - x, 0, 1, 2.0),
        (lambda x: math.exp(-x) - 0.3, 5, 6, -math.log(0.3)),
        (lambda x: 1.0 if x < 7.7 else -1.0, 0, 1, 7.7),
        (lambda x: -math.atan(x - 3), 100, 101, 3.0),
        (lambda x: -((x + 2) ** 3), 0, 10, -2.0),
    ],
)
def test_the_root_is_found_from_any_bracket_and_is_its_lower_end(function, low, high, root):
    found = falling_root(function, low, high, 1e-7)
    assert found == pytest.approx(root, abs=2e-7)
    assert function(found) >= 0


def test_a_smooth_function_takes_few_looks():
    looks = []

    def function(x):
        looks.append(x)
        return 1 / (1 + math.exp(x - 3)) - 0.25

    falling_root(function, 0, 10, 1e-6)
    assert len(looks) < 16
