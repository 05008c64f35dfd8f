"""Averaging over the variances."""

import numpy as np
import pytest

from valuation.regression.mixed import Sums, VariancePriors, choose_variances, objective, solve
from valuation.regression.mixture import lattice_scores, mix


@pytest.fixture(scope="module")
def sums():
    rng = np.random.default_rng(3)
    columns = np.column_stack([np.ones(30), rng.normal(size=(30, 5))])
    response = columns @ np.array([0.1, 0.3, -0.2, 0.05, 0.0, 0.02]) + rng.normal(0, 0.2, 30)
    block = np.array([-1, 0, 0, 1, 1, 1])
    return Sums(columns.T @ columns, columns.T @ response, float(response @ response), 0.0, 30, block)


PRIORS = VariancePriors(np.log([0.3, 0.2, 0.1]), np.array([0.7, 0.7, 0.7]))


def test_the_gradient_is_the_slope_of_the_value(sums):
    point = np.array([-1.3, -1.8, -2.9])
    density = objective(sums, PRIORS)
    for place, step in enumerate(1e-6 * np.eye(3)):
        slope = (density(point + step)[0] - density(point - step)[0]) / 2e-6
        assert density(point)[1][place] == pytest.approx(slope, rel=1e-6, abs=1e-7)


def test_the_chosen_variances_leave_no_slope(sums):
    chosen, _ = choose_variances(sums, PRIORS)
    assert np.abs(objective(sums, PRIORS)(chosen)[1]).max() < 1e-4


def test_the_average_agrees_with_integration_over_the_variances(sums):
    mode, _ = choose_variances(sums, PRIORS)
    mixture = mix(sums, PRIORS, mode, 400)
    axis = np.linspace(-2.4, 2.4, 25)
    total, mean, noise = 0.0, 0.0, 0.0
    density = objective(sums, PRIORS)
    best = density(mode)[0]
    for a in axis:
        for b in axis:
            for c in axis:
                point = mode + np.array([a * 0.5, b, c])
                share = np.exp(best - density(point)[0])
                posterior = solve(sums, point)[2]
                total, mean = total + share, mean + share * posterior.mean
                noise += share * posterior.noise
    assert mixture.mean() == pytest.approx(mean / total, abs=0.004)
    assert mixture.noise() == pytest.approx(noise / total, rel=0.05)


def test_one_point_is_the_mode_alone(sums):
    mode, _ = choose_variances(sums, PRIORS)
    alone = mix(sums, PRIORS, mode, 1)
    assert alone.weight.tolist() == [1.0]
    assert np.array_equal(alone.mean(), solve(sums, mode)[2].mean)


def test_no_set_of_variances_carries_the_average_alone(sums):
    mixture = mix(sums, PRIORS, choose_variances(sums, PRIORS)[0], 24)
    assert mixture.weight.sum() == pytest.approx(1.0)
    assert mixture.weight.max() < 0.3


def test_held_variances_are_not_moved(sums):
    held = VariancePriors(PRIORS.log_mean, np.array([0.7, 0.0, 0.7]))
    mode, _ = choose_variances(sums, held)
    assert np.all(mix(sums, held, mode, 8).log_sd[:, 1] == PRIORS.log_mean[1])


@pytest.mark.parametrize("dimensions", [1, 3, 30])
def test_lattice_points_are_spread_like_normal_scores(dimensions):
    z = lattice_scores(200, dimensions)
    assert z.mean(axis=0) == pytest.approx(0.0, abs=1e-12)
    assert z.std(axis=0) == pytest.approx(1.0, abs=0.1)


def test_a_set_of_variances_counts_at_most_the_root_of_their_number_times_the_mean():
    """Truncated importance sampling (Ionides 2008), on four sales whose variances are hardly known."""
    rng = np.random.default_rng(2)
    columns = np.column_stack([np.ones(4), rng.normal(size=(4, 2))])
    response = rng.normal(0, 0.2, 4)
    few = Sums(columns.T @ columns, columns.T @ response, float(response @ response), 0.0, 4, np.array([-1, 0, 1]))
    wide = VariancePriors(np.log([0.3, 0.2, 0.1]), np.array([3.0, 3.0, 3.0]))
    mixture = mix(few, wide, choose_variances(few, wide)[0], 24)
    density, scores = objective(few, wide), lattice_scores(24, 3)
    ratio = np.array([np.exp(-density(x)[0] + z @ z / 2) for x, z in zip(mixture.log_sd, scores, strict=True)])
    most = ratio.mean() * np.sqrt(24)
    assert ratio.max() > 1.2 * most
    expected = np.where(ratio > most, most, ratio)
    assert mixture.weight == pytest.approx(expected / expected.sum(), rel=1e-9)
