import numpy as np
import pytest
from scipy.special import ndtri

from valuation.build.simulation import Simulation, shift_error
from valuation.errors import PlanError


def test_the_same_seed_gives_the_same_bytes_and_another_does_not():
    one, same, other = (Simulation(seed=seed).uniforms(20) for seed in (1, 1, 2))
    assert one.tobytes() == same.tobytes()
    assert not np.array_equal(one, other)


def test_every_shift_covers_each_axis_evenly():
    simulation = Simulation(scenarios=1024, shifts=8)
    u = simulation.uniforms(260)
    assert u.shape == (1024, 260)
    assert 0 < u.min() < u.max() < 1
    for shift in u[:, :250].reshape(8, 128, 250):
        cells = np.sort(np.floor(shift * 128), axis=0)
        assert np.all(np.diff(cells, axis=0) <= 2)  # one point in each cell, up to rounding at cell walls
        assert np.allclose(shift.mean(axis=0), 0.5, atol=1 / 128)


def test_a_smooth_integral_is_far_better_than_by_plain_random_numbers_and_its_error_is_stated():
    simulation = Simulation()
    u = simulation.uniforms(10)
    values = np.prod(1 + 0.5 * (u - 0.5), axis=1)  # integral 1
    plain = values.std() / np.sqrt(len(values))
    assert abs(values.mean() - 1) < 4 * simulation.error(values)
    assert simulation.error(values) < plain / 10


def test_the_stated_error_is_the_scatter_over_seeds():
    means, errors = [], []
    for seed in range(60):
        simulation = Simulation(scenarios=512, seed=seed)
        values = np.exp(ndtri(simulation.uniforms(5)) @ np.array([0.5, 0.4, 0.3, 0.2, 0.1]))
        means.append(values.mean())
        errors.append(simulation.error(values))
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(np.std(means), rel=0.35)


def test_standard_error_of_independent_answers():
    assert shift_error(np.array([1.0, 2.0, 3.0])) == pytest.approx(1 / np.sqrt(3))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"scenarios": 1000, "shifts": 8}, "Cannot draw 1000 scenarios in 8 shifts.*Ask for example for 4096"),
        ({"scenarios": 1024, "shifts": 1}, "2 or more"),
        ({"seed": -1}, "0 or more; found -1"),
    ],
)
def test_impossible_numbers_of_scenarios_are_refused(settings, words):
    with pytest.raises(PlanError, match=words):
        Simulation(**settings)
