"""The interaction block."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression.design import Design, attributes_of, learn_term
from valuation.regression.fit import Options, fit_core
from valuation.regression.interaction import MOST_CENTRES, Interaction, learn_interaction
from valuation.schema.attributes import Attribute, Level, Role


def crossed(n=150, seed=4):
    """Sales in which a bigger engine is worth something in one family only."""
    rng = np.random.default_rng(seed)
    X = pd.DataFrame(
        {"family": rng.choice(["a", "b"], n), "engine": rng.uniform(1, 5, n), "doors": rng.uniform(2, 5, n)}
    )
    worth = np.where(X["family"] == "a", 0.35, 0.0) * (X["engine"] - 3)
    return X, (9 + worth + rng.normal(0, 0.08, n)).to_numpy()


@pytest.fixture(scope="module")
def learned():
    X, y = crossed()
    design = Design.of(tuple(learn_term(X[a.name], a) for a in attributes_of(X, None)))
    encoded = design.encode(X)
    matrix = design.matrix(encoded, len(X))
    coefficients = np.linalg.lstsq(matrix, y, rcond=None)[0]
    interaction = learn_interaction(design, encoded, matrix, coefficients, float(y.std()))
    assert interaction is not None
    return design, encoded, matrix, interaction


def test_columns_have_unit_variance_together_and_no_line(learned):
    design, encoded, matrix, interaction = learned
    columns = interaction.columns(design, encoded, matrix)
    assert len(interaction.centres) <= MOST_CENTRES
    assert (columns**2).sum(axis=1).mean() == pytest.approx(1.0)
    assert np.abs(columns.mean(axis=0)).max() < 0.01
    assert np.abs(matrix[:, interaction.straight].T @ columns / len(columns)).max() < 0.01


def test_the_kernel_stands_on_rows_of_the_table_each_once(learned):
    design, encoded, _, interaction = learned
    points = np.hstack([encoded[t.attribute].coordinates for t in design.terms]) * interaction.weight
    nearest = np.array([((points - centre) ** 2).sum(axis=1).argmin() for centre in interaction.centres])
    assert points[nearest] == pytest.approx(interaction.centres)
    assert len(set(nearest.tolist())) == len(nearest)


def test_the_block_comes_back_from_plain_data_to_the_bit(learned):
    design, encoded, matrix, interaction = learned
    back = Interaction.from_state(interaction.state())
    assert np.array_equal(back.columns(design, encoded, matrix), interaction.columns(design, encoded, matrix))


def test_far_outside_the_table_the_block_stays_bounded():
    X, y = crossed()
    core = fit_core(X, y, y, attributes_of(X, None), Options()).core
    assert core.interaction is not None
    far = core.rows(pd.DataFrame({"family": ["a", "never seen"], "engine": [1e9, -1e9], "doors": [1e9, -1e9]}))
    part = far.matrix[:, core.parts()["interaction"]] @ core.coefficients[core.parts()["interaction"]]
    assert np.abs(part).max() < 3 * y.std()


def test_it_pays_where_attributes_matter_together():
    X, y = crossed()
    fresh, price = crossed(seed=9)
    off = []
    for used in (True, False):
        core = fit_core(X, y, y, attributes_of(X, None), Options(interaction=used)).core
        off.append(np.abs(core.location(core.rows(fresh)) - price).mean())
    assert off[0] < 0.7 * off[1]


def test_one_attribute_has_none_to_combine_with():
    X, y = crossed()
    assert fit_core(X[["engine"]], y, y, attributes_of(X[["engine"]], None), Options()).core.interaction is None


def test_a_grade_with_a_direction_is_worth_more_in_any_company():
    rng = np.random.default_rng(6)
    n, names = 120, ("poor", "fair", "good")
    X = pd.DataFrame({"family": rng.choice(["a", "b"], n), "grade": rng.choice(names, n), "size": rng.normal(size=n)})
    place = X["grade"].map({name: i for i, name in enumerate(names)}).to_numpy()
    y = 9 + np.where(X["family"] == "a", 0.3, -0.1) * place + 0.2 * X["size"].to_numpy() + rng.normal(0, 0.1, n)
    grade = Attribute("grade", Role.ORDINAL, levels=tuple(map(Level, names)), direction="up")
    core = fit_core(X, y, y, attributes_of(X, {"grade": grade}), Options()).core
    at = [core.location(core.rows(X.assign(grade=name))) for name in names]
    assert np.all(at[1] >= at[0] - 1e-12)
    assert np.all(at[2] >= at[1] - 1e-12)
