"""The overrun of a build is counted once: skewed ranges are part of it."""

from dataclasses import replace

import numpy as np
import pytest

from valuation.build.scenarios import draw, shared_overrun
from valuation.build.simulation import Simulation
from valuation.build.three_point import Overrun, ThreePoint

SIMULATION = Simulation(scenarios=2**14)


def over_likely(plan):
    """What all steps came to over their likely figures, scenario by scenario."""
    draws, rate = draw(plan, SIMULATION), plan.shop.labour_rate
    money = (draws.cost + rate * draws.hours).sum(axis=1) * draws.overrun
    return money / sum(step.cost.likely + rate * step.hours.likely for step in plan.steps)


@pytest.mark.parametrize("spread", ["triangular", "pert"])
@pytest.mark.parametrize(("typical", "one_in_ten"), [(1.1, 1.35), (1.0, 1.3), (1.3, 1.8)])
def test_half_of_the_builds_run_over_as_the_text_says_and_one_in_ten(plan, spread, typical, one_in_ten):
    plan = replace(plan, shop=replace(plan.shop, overrun=Overrun(typical, one_in_ten), spread=spread))
    ratio = over_likely(plan)
    assert np.median(ratio) == pytest.approx(typical, rel=0.01)
    assert np.quantile(ratio, 0.9) == pytest.approx(one_in_ten, rel=0.015)


def test_without_an_overrun_the_ranges_stand_as_written(plan):
    plan = replace(plan, shop=replace(plan.shop, overrun=Overrun.none()))
    draws = draw(plan, SIMULATION)
    assert draws.cost[:, 0].mean() == pytest.approx(plan.steps[0].cost.mean(), rel=1e-3)
    assert set(draws.overrun) == {1.0}


def test_certain_figures_leave_the_overrun_as_it_is_stated(plan):
    sure = [replace(s, cost=ThreePoint.certain(s.cost.likely), hours=ThreePoint.certain(5)) for s in plan.steps]
    shared = shared_overrun(replace(plan, steps=tuple(sure)))
    assert (shared.cost_scale, shared.hours_scale) == (1, 1)
    assert shared.factor.typical == pytest.approx(1.1)
    assert shared.factor.one_in_ten == pytest.approx(1.35)


def test_a_build_as_wide_as_its_ranges_has_no_more_to_share_but_its_middle_stays(plan):
    wide = [replace(step, cost=ThreePoint(0, 1000, 12_000), hours=ThreePoint.certain(0)) for step in plan.steps]
    plan = replace(plan, steps=tuple(wide))
    assert shared_overrun(plan).factor.log_spread == pytest.approx(0)
    assert np.median(over_likely(plan)) == pytest.approx(1.1, rel=0.06)


def test_work_that_is_not_likely_to_be_needed_keeps_its_range(plan):
    maybe = replace(plan.steps[0], cost=ThreePoint(0, 0, 3000), hours=ThreePoint.certain(0))
    draws = draw(replace(plan, steps=(maybe,)), SIMULATION)
    assert draws.cost[:, 0].mean() == pytest.approx(1000, rel=0.01)
