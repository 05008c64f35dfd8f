"""Several states of one vehicle: each keeps its own distribution, and what they share is counted once."""

import numpy as np
import pytest
from scipy.stats import norm, qmc

from valuation.errors import RegressionError
from valuation.regression import JointPrices, ScatterMix

HEAVY = ScatterMix(np.array([0.5, 1.0, 2.0]), np.array([0.25, 0.6, 0.15]))
CAUTIOUS = ScatterMix(HEAVY.scale, HEAVY.weight, caution=1.3)
COVARIANCE = np.array([[0.04, 0.03, 0.01], [0.03, 0.05, 0.00], [0.01, 0.00, 0.02]])
LOCATION = np.array([9.0, 9.6, 10.2])


@pytest.mark.parametrize("residual", [0.15, np.array([0.1, 0.15, 0.2])])
def test_states_share_the_error_of_their_effects_and_their_own_scatter(residual):
    joint = JointPrices(LOCATION, COVARIANCE, residual, HEAVY)
    effect = np.log(joint.sample(np.eye(3), np.zeros(3))) - LOCATION
    assert effect.T @ effect == pytest.approx(COVARIANCE, abs=1e-12)
    own = np.log(joint.sample(np.zeros((1, 3)), np.ones(1)))[0] - LOCATION
    assert own == pytest.approx(residual * np.ones(3) * float(HEAVY.score(1.0)), rel=1e-12)


def test_states_that_move_as_one_are_no_obstacle():
    joint = JointPrices(LOCATION[:2], np.full((2, 2), 0.04), 0.1, HEAVY)
    rng = np.random.default_rng(0)
    off = np.log(joint.sample(rng.normal(size=(50, 2)), rng.normal(size=50))) - LOCATION[:2]
    assert off[:, 0] == pytest.approx(off[:, 1], abs=1e-8)


@pytest.mark.parametrize("mix", [HEAVY, CAUTIOUS])
def test_each_column_of_draws_has_its_own_distribution(mix):
    joint = JointPrices(LOCATION, COVARIANCE, 0.15, mix)
    normal = norm.ppf(qmc.Sobol(4, rng=1).random_base2(13))
    draws = joint.sample(normal[:, :3], normal[:, 3])
    alone = joint.distribution
    for probability in (0.05, 0.25, 0.5, 0.75, 0.95):
        share = (draws <= alone.quantile(probability)).mean(axis=0)
        # Standard error of a share of 8192 independent draws is at most .0055; these are quasi-random.
        assert share == pytest.approx([probability] * 3, abs=0.006)
    assert draws.mean(axis=0) == pytest.approx(alone.mean(), rel=0.005)


def test_the_vehicles_own_scatter_cancels_from_a_ratio():
    joint = JointPrices(LOCATION, COVARIANCE, 0.15, ScatterMix(np.ones(1), np.ones(1)))
    ratio = joint.ratio(2, 0)
    assert ratio.median()[0] == pytest.approx(np.exp(1.2), rel=1e-12)
    assert ratio.scale[0] ** 2 == pytest.approx(0.02 + 0.04 - 2 * 0.01, rel=1e-12)
    rng = np.random.default_rng(2)
    effect = rng.normal(size=(40, 3))
    one = joint.sample(effect, rng.normal(size=40))
    other = joint.sample(effect, rng.normal(size=40))
    assert one[:, 2] / one[:, 0] == pytest.approx(other[:, 2] / other[:, 0], rel=1e-9)
    assert joint.ratio(1, 1).scale[0] == pytest.approx(1e-8)


def test_what_makes_no_joint_distribution_is_refused():
    with pytest.raises(RegressionError, match="3 states need a 3 x 3 covariance"):
        JointPrices(LOCATION, COVARIANCE[:2, :2], 0.15, HEAVY)
    with pytest.raises(RegressionError, match="The scatter of one sale must be above 0"):
        JointPrices(LOCATION, COVARIANCE, 0.0, HEAVY)
