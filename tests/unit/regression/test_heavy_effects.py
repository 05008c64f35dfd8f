"""One expensive family among plain ones, one big step among small ones: not drawn to the rest as one variance would."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor, heavy_effects
from valuation.schema.attributes import Attribute, Level, Role

FAMILIES = {"wren": 0.05, "tern": -0.05, "heron": 0.0, "plover": -0.1, "orvane": 0.9}
GRADES = {"derelict": 0.0, "project": 0.6, "runner": 0.65, "driver": 0.7, "show": 0.75}
ROLES = {"family": "nominal", "grade": Attribute("grade", Role.ORDINAL, levels=tuple(map(Level, GRADES)))}


def table(seed, n=45):
    """Three sales of the expensive family, the others shared out."""
    rng = np.random.default_rng(seed)
    family = np.r_[np.repeat("orvane", 3), rng.choice(list(FAMILIES)[:4], n - 3)]
    cells = pd.DataFrame({"family": family, "grade": rng.choice(list(GRADES), n)})
    worth = cells["family"].map(FAMILIES) + cells["grade"].map(GRADES)
    return cells, np.exp(9 + worth.to_numpy(float) + rng.normal(0, 0.2, n))


def shortfalls(tables=10):
    """Mean log points by which the expensive family and the big step come out under the truth."""
    cells = pd.DataFrame({"family": ["orvane", "wren", "wren"], "grade": ["runner", "derelict", "project"]})
    logs = np.array(
        [np.log(PriceRegressor(ROLES, lattice_points=8).fit(*table(k)).predict(cells)) for k in range(tables)]
    )
    runner = np.array(
        [
            np.log(PriceRegressor(ROLES, lattice_points=8).fit(*table(k)).predict(cells.assign(grade="runner")))
            for k in range(tables)
        ]
    )
    return 0.85 - (runner[:, 0] - runner[:, 1]).mean(), 0.6 - (logs[:, 2] - logs[:, 1]).mean()


def test_what_stands_apart_is_drawn_less(monkeypatch):
    family, step = shortfalls()
    monkeypatch.setattr(heavy_effects, "KINDS", ())
    drawn_family, drawn_step = shortfalls()
    assert drawn_family > 0
    assert family < 0.9 * drawn_family
    assert step < drawn_step - 0.01


def test_a_stretch_is_the_fixed_point_of_the_weights_of_students_t():
    fit = PriceRegressor(ROLES, interaction=False, tails=False, lattice_points=1).fit(*table(3)).fit_
    core, [part] = fit.core, fit.mixture.parts
    at = core.design.columns_of("family")
    square = (part.mean[at] ** 2 + part.covariance.diagonal()[at]) / core.block_variance[0]
    nu = heavy_effects.DEGREES_OF_FREEDOM
    assert core.stretch[at] == pytest.approx(np.sqrt((nu + square) / (nu + 1)), rel=0.02)
    assert core.stretch[at].argmax() == sorted(FAMILIES).index("orvane")
    assert core.stretch[0] == 1
