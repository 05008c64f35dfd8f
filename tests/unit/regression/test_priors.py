"""What is expected before the table speaks."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor
from valuation.regression.design import Design, learn_term
from valuation.regression.priors import KIND_PRIORS, LEVELS_DIFFER, coefficient_prior
from valuation.schema.attributes import Attribute, Expectation, Level, Role

GRADES = tuple(map(Level, ("poor", "fair", "good")))


def designed(*attributes):
    rng = np.random.default_rng(1)
    table = pd.DataFrame(
        {
            "grade": rng.choice(["poor", "fair", "good"], 30),
            "miles": rng.uniform(1e4, 9e4, 30),
            "original": rng.choice([0.0, 1.0], 30),
            "body": rng.choice(["coupe", "truck"], 30),
        }
    )
    design = Design.of(tuple(learn_term(table[a.name], a) for a in attributes))
    return design, coefficient_prior(design, design.blocks, {a.name: a for a in attributes}, 0.5)


def test_without_expectations_every_block_has_its_kinds_mean():
    design, prior = designed(Attribute("grade", Role.ORDINAL, levels=GRADES), Attribute("body", Role.NOMINAL))
    assert np.all(prior.mean == 0)
    kinds = ["noise", *(block.kind for block in design.blocks)]
    assert np.exp(prior.variances.log_mean) == pytest.approx([KIND_PRIORS[k][0] * 0.5 for k in kinds])
    assert prior.variances.log_sd == pytest.approx([KIND_PRIORS[k][1] for k in kinds])


@pytest.mark.parametrize(
    ("attribute", "level", "base", "steps"),
    [
        (
            Attribute("grade", Role.ORDINAL, levels=GRADES, expected=Expectation(12.0, 4.0)),
            {"grade": "good"},
            {"grade": "poor"},
            2,
        ),
        (
            Attribute("miles", Role.NUMBER, expected=Expectation(-3.0, 1.0, per=10_000)),
            {"miles": 6e4},
            {"miles": 4e4},
            2,
        ),
        (Attribute("original", Role.FLAG, expected=Expectation(12.0, 4.0)), {"original": 1.0}, {"original": 0.0}, 1),
    ],
    ids=["grade", "miles", "flag"],
)
def test_an_expected_effect_is_the_priors_mean_for_such_a_difference(attribute, level, base, steps):
    design, prior = designed(attribute)
    two = pd.DataFrame([base, level])
    matrix = design.matrix(design.encode(two), 2)
    expected = np.log1p(attribute.expected.percent / 100) * steps
    assert (matrix[1] - matrix[0]) @ prior.mean == pytest.approx(expected)
    held = prior.variances.log_sd == 0
    assert held.sum() == 1
    assert held[1], "its width is what the schema says and is not chosen anew"


@pytest.mark.parametrize("differ", ["much", "little"])
def test_levels_that_are_said_to_differ_have_a_prior_of_their_own(differ):
    _, prior = designed(Attribute("body", Role.NOMINAL, levels_differ=differ))
    assert np.exp(prior.variances.log_mean[1]) == pytest.approx(LEVELS_DIFFER[differ][0] * 0.5)
    assert prior.variances.log_sd[1] == LEVELS_DIFFER[differ][1]


def test_a_rare_expensive_family_is_drawn_less_towards_the_others_where_families_are_said_to_differ():
    """Two sales of a family worth twice the others, among thirty of three plain ones."""
    rng = np.random.default_rng(3)
    family = np.array(["wren", "tern", "heron"] * 10 + ["orvane"] * 2, dtype=object)
    table = pd.DataFrame({"family": family, "year": rng.integers(1930, 1970, 32) * 1.0})
    price = np.exp(9 + 0.7 * (family == "orvane") + rng.normal(0, 0.25, 32))
    one = pd.DataFrame({"family": ["orvane", "wren"], "year": [1950.0, 1950.0]})

    def worth(differ):
        fitted = PriceRegressor({"family": Attribute("family", Role.NOMINAL, levels_differ=differ)}).fit(table, price)
        return float(np.log(np.divide(*fitted.predict(one))))

    apart = np.log(price[family == "orvane"]).mean() - np.log(price[family == "wren"]).mean()
    assert worth("little") < worth("") < worth("much") < apart, "drawn to the others, the less the more they may differ"


@pytest.mark.parametrize(
    ("percent", "give_or_take", "sd"),
    [(100.0, 10.0, 0.05), (-50.0, 10.0, 0.2), (25.0, 5.0, 0.04), (0.0, 3.0, 0.03)],
)
def test_the_doubt_of_an_expected_effect_is_a_share_of_the_price_that_it_leads_to(percent, give_or_take, sd):
    """Twice the price give or take a tenth of the first is twice the price give or take a twentieth of itself."""
    attribute = Attribute("original", Role.FLAG, expected=Expectation(percent, give_or_take))
    design, prior = designed(attribute)
    matrix = design.matrix(design.encode(pd.DataFrame({"original": [0.0, 1.0]})), 2)
    (column,) = np.flatnonzero(matrix[1] - matrix[0])
    step = matrix[1, column] - matrix[0, column]
    assert np.exp(prior.variances.log_mean[1]) * step == pytest.approx(sd, rel=1e-12)
