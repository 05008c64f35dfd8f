"""The two ways to the normal distribution agree, for few numbers and many, at the ends and beyond them."""

import numpy as np
import pytest
from scipy import special

from valuation.regression.normal import FEW, ndtr, ndtri

SCORES = np.concatenate([np.linspace(-37, 37, 41), [0.0, 1e-300, -np.inf, np.inf]])
ODDS = np.concatenate([np.geomspace(1e-300, 0.5, 25), 1 - np.geomspace(1e-15, 0.5, 25), [0.0, 1.0]])


def test_few_numbers_equal_scipys() -> None:
    assert max(len(SCORES), len(ODDS)) <= FEW
    np.testing.assert_allclose(ndtr(SCORES), special.ndtr(SCORES), rtol=1e-13, atol=0)
    np.testing.assert_allclose(ndtri(ODDS), special.ndtri(ODDS), rtol=1e-13, atol=1e-15)


def test_many_numbers_are_scipys() -> None:
    many = np.linspace(-5, 5, FEW + 1)
    np.testing.assert_array_equal(ndtr(many), special.ndtr(many))
    np.testing.assert_array_equal(ndtri(special.ndtr(many)), special.ndtri(special.ndtr(many)))


@pytest.mark.parametrize("shape", [(), (3,), (2, 3), (0,)])
def test_the_shape_is_kept(shape: tuple[int, ...]) -> None:
    assert ndtr(np.zeros(shape)).shape == shape
    assert ndtri(np.full(shape, 0.5)).shape == shape


def test_what_is_no_probability_has_no_quantile() -> None:
    np.testing.assert_array_equal(ndtri([-0.1, 1.1, np.nan]), [np.nan] * 3)
    assert np.isnan(ndtr(np.nan))
