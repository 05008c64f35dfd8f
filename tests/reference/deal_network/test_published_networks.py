"""S2, S3 and S4: see SOURCE.md."""

import numpy as np
import pytest
from scipy.integrate import quad

from valuation.build.crew import crew_rules, crew_schedule
from valuation.build.network import critical_path
from valuation.build.simulation import Simulation
from valuation.build.three_point import ThreePoint

# Porta-Vac: optimistic, likely, pessimistic weeks, and immediate predecessors (weeks as in the book's Table 9.4; see
# SOURCE.md).
PORTA_VAC = {
    "A": ((4, 5, 12), ""), "B": ((1, 1.5, 5), ""), "C": ((2, 3, 4), "A"), "D": ((3, 4, 11), "A"),
    "E": ((2, 3, 4), "A"), "F": ((1.5, 2, 2.5), "C"), "G": ((1.5, 3, 4.5), "D"), "H": ((2.5, 3.5, 7.5), "BE"),
    "I": ((1.5, 2, 2.5), "H"), "J": ((1, 2, 3), "FGI"),
}  # fmt: skip
WEEKS = {name: ThreePoint(*figures) for name, (figures, _) in PORTA_VAC.items()}
BEFORE = {name: list(names) for name, (_, names) in PORTA_VAC.items()}
PRINTED_SLACK = {"A": 0, "B": 7, "C": 4, "D": 1, "E": 0, "F": 4, "G": 1, "H": 0, "I": 0, "J": 0}


def test_s2_slack_critical_path_and_length():
    path = critical_path({name: figures.mean("pert") for name, figures in WEEKS.items()}, BEFORE)
    assert {name: round(times.slack, 9) for name, times in path.times.items()} == PRINTED_SLACK
    assert path.critical == ("A", "E", "H", "I", "J")
    assert path.length == pytest.approx(17, abs=1e-9)


def test_s2_simulation_says_less_than_one_path_alone():
    """Merge bias: several paths must all be done."""
    simulation = Simulation(scenarios=2**15)
    u = simulation.uniforms(len(WEEKS))
    drawn = np.column_stack([WEEKS[name].quantile(u[:, i], "pert") for i, name in enumerate(WEEKS)])
    ids = list(WEEKS)
    rules = crew_rules(ids, BEFORE, [1] * 10, 10, [WEEKS[name].likely for name in ids])
    length = crew_schedule(drawn, np.zeros_like(drawn), rules).length
    one_path = drawn[:, [ids.index(name) for name in "AEHIJ"]].sum(axis=1)
    for deadline in range(14, 24):
        assert (length <= deadline).mean() <= (one_path <= deadline).mean()
    assert length.mean() > one_path.mean() > 17 - 0.01


def test_s3_mean_and_exact_variance():
    point = ThreePoint(2, 5, 8)
    assert point.mean("pert") == 5
    assert point.variance("pert") == pytest.approx(1.2857, abs=0.00005)


@pytest.mark.parametrize("figures", [(2, 5, 8), (0, 1, 10), (3, 3, 4)])
def test_s4_mean_and_variance_of_the_triangle(figures):
    a, m, b = figures

    def density(x):
        return 2 * (x - a) / ((b - a) * (m - a)) if x < m else 2 * (b - x) / ((b - a) * (b - m))

    mean = quad(lambda x: x * density(x), a, b, points=[m])[0]
    variance = quad(lambda x: (x - mean) ** 2 * density(x), a, b, points=[m])[0]
    point = ThreePoint(*figures)
    assert point.mean("triangular") == pytest.approx(mean, rel=1e-9)
    assert point.variance("triangular") == pytest.approx(variance, rel=1e-9)
