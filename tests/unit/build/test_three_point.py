import math

import numpy as np
import pytest
from scipy.special import ndtri

from valuation.build.simulation import Simulation
from valuation.build.three_point import Overrun, ThreePoint
from valuation.errors import PlanError


@pytest.mark.parametrize("shape", ["triangular", "pert"])
@pytest.mark.parametrize("figures", [(2, 5, 8), (0, 0, 10), (4, 9, 9), (100, 110, 400)])
def test_drawn_figures_have_the_stated_mean_and_variance(shape, figures):
    point = ThreePoint(*figures)
    drawn = point.quantile((np.arange(200_000) + 0.5) / 200_000, shape)
    assert drawn.min() >= point.low
    assert drawn.max() <= point.high
    assert drawn.mean() == pytest.approx(point.mean(shape), rel=2e-4)
    assert drawn.var() == pytest.approx(point.variance(shape), rel=2e-3)


@pytest.mark.parametrize("shape", ["triangular", "pert"])
@pytest.mark.parametrize("used", [1, 3, 5, 7.5])
def test_the_rest_is_drawn_from_what_exceeds_what_was_used(shape, used):
    point = ThreePoint(2, 5, 8)
    drawn = point.quantile((np.arange(200_000) + 0.5) / 200_000, shape)
    over = drawn[drawn > used] - used
    rest = point.after(used, shape)
    assert rest.mean(shape) == pytest.approx(over.mean(), rel=1e-3)
    assert rest.variance(shape) == pytest.approx(over.var(), rel=5e-3)
    assert point.likely - rest.likely == pytest.approx(point.mean(shape) - rest.mean(shape)), (
        "it falls as the mean does"
    )
    assert rest.quantile(np.array([0.1, 0.5, 0.9]), shape) == pytest.approx(
        np.quantile(over, [0.1, 0.5, 0.9]), rel=1e-2
    )


def test_beyond_the_likely_figure_the_rest_falls_off_in_a_triangle():
    assert ThreePoint(2, 5, 8).after(6).mean() == pytest.approx(2 / 3, rel=1e-4)


def test_quantiles_rise_and_a_certain_figure_stays():
    u = np.linspace(0.001, 0.999, 500)
    for shape in ("triangular", "pert"):
        assert np.all(np.diff(ThreePoint(1, 3, 9).quantile(u, shape)) > 0)
    assert np.all(ThreePoint.certain(7.0).quantile(u, "pert") == 7.0)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ((5, 3, 9), r"must not fall; found low 5, likely 3, high 9\. Write the smallest figure first"),
        ((1, 9, 3), "must not fall"),
        ((-1, 2, 3), "0 or more; found low -1"),
        ((0, float("nan"), 3), "finite"),
        ((0, 1, float("inf")), "finite"),
    ],
)
def test_impossible_figures_are_refused(figures, words):
    with pytest.raises(PlanError, match=words):
        ThreePoint(*figures)


def test_the_overrun_has_its_two_stated_quantiles_and_mean():
    overrun = Overrun(1.1, 1.35)
    drawn = overrun.factor(ndtri(Simulation(scenarios=2**16).uniforms(1)[:, 0]))
    assert np.quantile(drawn, 0.5) == pytest.approx(1.1, abs=1e-3)
    assert np.quantile(drawn, 0.9) == pytest.approx(1.35, abs=1e-3)
    assert drawn.mean() == pytest.approx(overrun.mean, rel=1e-3)
    assert Overrun.none().factor(np.array([-2.0, 0.0, 2.0])).tolist() == [1.0, 1.0, 1.0]


def test_many_past_jobs_outweigh_the_default_and_few_do_not():
    few = Overrun.from_jobs([1000.0], [2000.0])
    many = Overrun.from_jobs([1000.0] * 100, [2000.0] * 100)
    assert 1.1 < few.typical < 1.5
    assert many.typical == pytest.approx(2.0, rel=0.03)
    assert many.log_spread < few.log_spread


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Overrun(0.0, 1.0), r"'typical' must be above 0 and at most 100 \(a factor\); found 0.0"),
        (lambda: Overrun(1.3, 1.1), "must not be under the typical one"),
        (lambda: Overrun.from_jobs([1.0], []), "1 planned and 0 actual"),
        (lambda: Overrun.from_jobs([1.0], [0.0]), "Past jobs must be money above 0"),
    ],
)
def test_an_impossible_overrun_is_refused(make, words):
    with pytest.raises(PlanError, match=words):
        make()


def test_the_usual_overrun_counts_as_three_jobs_of_the_shop():
    """One job at twice its plan beside three at 1.1: the fourth root of 2 x 1.1^3, and the mean of the four squares."""
    found = Overrun.from_jobs([1000.0], [2000.0])
    assert found.typical == pytest.approx((2 * 1.1**3) ** 0.25, rel=1e-12)
    off, usual = math.log(2 / found.typical), math.log(1.35 / 1.1) / 1.2815515655446004
    assert found.log_spread == pytest.approx(math.sqrt((off**2 + 3 * usual**2) / 4), rel=1e-9)
