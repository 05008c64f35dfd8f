"""The expected direction: the fit given it is the constrained optimum, and nothing moves where it holds already."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize

from valuation.regression import PriceRegressor
from valuation.regression.mixed import Posterior
from valuation.regression.mixture import Mixture
from valuation.regression.order import keep_direction
from valuation.schema import Attribute, Level, Role

NO_VARIANCES = np.zeros((1, 1))


def one_part(seed, size=5):
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(size, size))
    return Posterior(rng.normal(size=size), root @ root.T + 0.1 * np.eye(size), 0.1), rng.normal(size=size)


@pytest.mark.parametrize("seed", range(5))
def test_one_part_becomes_its_projection_onto_the_allowed_set(seed):
    part, prior_mean = one_part(seed)
    rows = np.random.default_rng(100 + seed).normal(size=(7, 5))
    kept, held = keep_direction(Mixture(np.ones(1), NO_VARIANCES, (part,)), prior_mean, rows)
    precision = np.linalg.inv(part.covariance)
    best = minimize(
        lambda b: (b - part.mean) @ precision @ (b - part.mean),
        np.zeros(5) - prior_mean,
        jac=lambda b: 2 * precision @ (b - part.mean),
        constraints={"type": "ineq", "fun": lambda b: rows @ (b + prior_mean), "jac": lambda b: rows},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
    )
    steps = rows @ (kept.mean() + prior_mean)
    assert steps.min() > -1e-7
    assert kept.mean() == pytest.approx(best.x, abs=1e-4)
    assert steps[held] == pytest.approx(0, abs=1e-7)
    assert rows[held] @ kept.covariance() @ rows[held].T == pytest.approx(np.zeros((len(held),) * 2), abs=1e-7)


def test_every_part_keeps_the_direction_and_so_does_the_average():
    rng = np.random.default_rng(3)
    parts = tuple(one_part(seed)[0] for seed in range(6))
    rows = rng.normal(size=(8, 5))
    mixture = Mixture(np.full(6, 1 / 6), np.zeros((6, 1)), parts)
    kept, _ = keep_direction(mixture, np.zeros(5), rows)
    assert all((rows @ part.mean).min() > -1e-7 for part in kept.parts)
    assert (rows @ kept.mean()).min() > -1e-7


def test_a_fit_that_keeps_it_already_is_left_alone():
    part, _ = one_part(1)
    rows = np.diag(np.sign(part.mean))
    mixture = Mixture(np.ones(1), NO_VARIANCES, (part,))
    assert keep_direction(mixture, np.zeros(5), rows) == (mixture, [])
    assert keep_direction(mixture, np.zeros(5), np.zeros((0, 5))) == (mixture, [])


@pytest.mark.parametrize(("role", "direction"), [("number", "down"), ("smooth", "up"), ("date", "up")])
def test_a_curve_never_runs_the_other_way(role, direction):
    rng = np.random.default_rng(8)
    x = rng.uniform(1, 100, 60)
    sign = 1 if direction == "up" else -1
    price = np.exp(9 + 0.4 * np.sin(x / 12) + sign * 0.01 * x + rng.normal(0, 0.05, 60))
    as_cells = (
        (lambda v: pd.Timestamp("1950-01-01") + pd.to_timedelta(v * 365.25, unit="D")) if role == "date" else float
    )

    def table(values):
        return pd.DataFrame({"x": [as_cells(v) for v in values]})

    regressor = PriceRegressor({"x": Attribute("x", Role(role), direction=direction)}, lattice_points=3)
    regressor.fit(table(x), price)
    rise = sign * np.diff(np.log(regressor.predict(table(np.linspace(-40, 140, 91)))))
    # Held level over pieces of a 24th of the range: between their ends a curve may still dip a little.
    assert rise.min() > -0.003
    assert "order_kept" in {note.code for note in regressor.notes_}
    free = PriceRegressor({"x": role}, lattice_points=3).fit(table(x), price)
    assert (sign * np.diff(np.log(free.predict(table(np.linspace(-40, 140, 91)))))).min() < -0.01


def test_a_flag_worth_less_against_expectation_is_worth_nothing():
    rng = np.random.default_rng(1)
    flag = rng.random(40) < 0.5
    columns = pd.DataFrame({"papers": flag, "size": rng.normal(size=40)})
    price = np.exp(9 - 0.4 * flag + 0.2 * columns["size"] + rng.normal(0, 0.1, 40))
    roles = {"papers": Attribute("papers", Role.FLAG, direction="up")}
    regressor = PriceRegressor(roles, lattice_points=3).fit(columns, price)
    with_papers = regressor.predict(columns.assign(papers=True))
    assert with_papers == pytest.approx(regressor.predict(columns.assign(papers=False)), rel=1e-6)


def test_a_scale_of_two_levels():
    rng = np.random.default_rng(2)
    levels = (Level("worn"), Level("fresh"))
    columns = pd.DataFrame({"paint": rng.choice(["worn", "fresh"], 40), "size": rng.normal(size=40)})
    price = np.exp(9 + 0.3 * (columns["paint"] == "fresh") + rng.normal(0, 0.1, 40))
    for direction, least, most in (("up", 0.2, 0.4), ("down", -1e-6, 1e-6)):
        roles = {"paint": Attribute("paint", Role.ORDINAL, levels=levels, direction=direction)}
        regressor = PriceRegressor(roles, lattice_points=3).fit(columns, price)
        pair = pd.DataFrame({"paint": ["worn", "fresh"], "size": [0.0, 0.0]})
        assert least < np.diff(np.log(regressor.predict(pair)))[0] < most
