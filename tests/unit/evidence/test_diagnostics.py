"""Misses in two groups and attributes that go together: found where they are, not where they are not."""

import numpy as np
import pandas as pd
import pytest
from sklearn.mixture import GaussianMixture

from valuation.answers.explain import explain
from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.collinearity import overlaps
from valuation.evidence.diagnostics import interval_notes
from valuation.evidence.humps import VARIANCE_FLOOR, humps
from valuation.regression import PriceModel


def texts(notes):
    return {note.code: note.text for note in notes}


def test_a_clean_table_is_left_in_peace(sold_model):
    assert interval_notes(sold_model) == ()


def test_a_model_without_sales_says_nothing(model):
    assert interval_notes(model.without_sales()) == ()


def test_a_hidden_attribute_makes_two_humps(shop, subject):
    frame = shop.frame(120, 22)
    frame.loc[np.random.default_rng(1).random(120) < 0.5, "price"] *= 2.6
    fit = PriceModel.fit(shop.read(frame.assign(confirmed="yes")), **shop.fast)
    assert "something that parts the vehicles is not in the table" in texts(explain(fit, subject).notes)["two_humps"]


def test_attributes_that_move_together_are_named(shop, subject):
    frame = shop.frame(90, 23)
    frame["original_finish"] = np.where(frame["family"] == "Penhurrow Haywain", "yes", "no")
    fit = PriceModel.fit(shop.read(frame), **shop.fast)
    said = texts(explain(fit, subject).notes)["attributes_move_together"]
    assert "Make and model line" in said
    assert "Original finish" in said


def test_two_groups_of_misses_are_said_with_where_they_lie():
    rng = np.random.default_rng(0)
    found = humps(np.where(np.arange(80) < 48, -0.3, 0.45) + rng.normal(0, 0.08, 80))
    assert found.two
    assert found.shares == pytest.approx((0.6, 0.4), abs=0.01)
    assert found.centres == pytest.approx((-0.3, 0.45), abs=0.03)


@pytest.mark.parametrize("n", [30, 60, 200])
def test_heavy_tails_and_skewness_are_not_taken_for_humps(n):
    rng = np.random.default_rng(1)
    for draw in (rng.standard_normal, lambda size: rng.standard_t(3, size), rng.laplace, None):
        seen = 0
        for _ in range(20):
            sample = rng.gamma(3, size=n) if draw is None else draw(size=n)
            seen += humps(sample).two
        assert seen <= 3


@pytest.mark.parametrize(("n", "apart"), [(40, 4.0), (90, 2.5), (200, 5.0)])
def test_the_gain_in_bic_is_that_of_scikit_learns_mixtures(n, apart):
    values = np.random.default_rng(n).normal(size=n) + apart * (np.arange(n) % 2)
    standard = ((values - values.mean()) / values.std())[:, None]
    one, two = (
        GaussianMixture(k, reg_covar=VARIANCE_FLOOR, n_init=5, tol=1e-9, max_iter=3000, random_state=0).fit(standard)
        for k in (1, 2)
    )
    assert humps(values).bic_gain == pytest.approx(one.bic(standard) - two.bic(standard), abs=0.05)


@pytest.mark.parametrize("values", [[0.1, 0.2], [0.3] * 20])
def test_misses_without_a_shape_are_refused(values):
    with pytest.raises(TooFewSalesError, match="At least 3 that differ are needed"):
        humps(values)


def test_a_pair_that_moves_together_is_named_once():
    rng = np.random.default_rng(5)
    year = rng.normal(size=60)
    design = pd.DataFrame({"y": year, "m": -year + rng.normal(0, 0.2, 60), "c": rng.normal(size=60)})
    [pair] = overlaps(design, ["model year", "mileage", "condition"])
    assert (pair.first, pair.second) == ("model year", "mileage")
    assert pair.share == pytest.approx(np.corrcoef(design["y"], design["m"])[0, 1] ** 2, rel=1e-9)


def test_full_sets_of_level_columns_do_no_harm():
    rng = np.random.default_rng(7)
    levels = np.eye(3)[rng.integers(0, 3, 50)]  # one column for each level: they sum to 1
    design = np.column_stack([levels, levels[:, 0], rng.normal(size=50), np.full(50, 4.0)])
    [pair] = overlaps(design, ["body"] * 3 + ["saloon", "model year", "constant"])
    assert (pair.first, pair.second, pair.share) == ("body", "saloon", 1.0)


def test_many_columns_for_few_sales_overlap_by_chance_and_are_not_named():
    design = np.random.default_rng(8).normal(size=(15, 12))
    assert overlaps(design, ["a"] * 6 + ["b"] * 6) == ()


@pytest.mark.parametrize("design", [np.ones(4), np.full((9, 2), np.nan), np.ones((9, 3))])
def test_a_design_that_does_not_fit_is_refused(design):
    with pytest.raises(EvidenceError, match="Cannot check collinearity"):
        overlaps(design, ["a", "b"])
