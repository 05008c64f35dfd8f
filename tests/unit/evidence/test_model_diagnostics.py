"""Diagnostics of a fitted model, and what they mean for one vehicle."""

import dataclasses

import numpy as np
import pytest

from valuation.answers.explain import explain
from valuation.errors import EvidenceError
from valuation.evidence import diagnose_model
from valuation.evidence.model_diagnostics import interval_notes
from valuation.regression import PriceModel
from valuation.regression.heteroscedasticity import HOMOSCEDASTIC


def codes(notes):
    return {note.code: note.text for note in notes}


@pytest.fixture(scope="module")
def uneven(shop):
    """Dear vehicles scatter six times as far as cheap ones."""
    frame = shop.frame(150, 21)
    grade = frame["condition"].map({name: k for k, name in enumerate(shop.conditions)}).to_numpy()
    error = np.random.default_rng(5).normal(0, 1, 150) * (0.05 + 0.08 * grade)
    frame["price"] = np.round(frame["price"] * np.exp(error), 2)
    return PriceModel.fit(shop.read(frame.assign(confirmed="yes")), **shop.fast)


def test_a_clean_table_is_left_in_peace(sold_model):
    found = diagnose_model(sold_model)
    assert found.n == 60
    assert interval_notes(sold_model, 20000.0) == ()


def test_it_is_made_once_for_a_model(sold_model):
    assert diagnose_model(sold_model) is diagnose_model(sold_model)


def test_only_sold_rows_are_looked_at(model):
    assert diagnose_model(model).n == model.sales_used["sold"] < 80


def test_uneven_spread_is_named_with_its_place(uneven, subject):
    """Either the interval follows the spread, or it is said that it does not; and where this vehicle stands."""
    said = codes(interval_notes(uneven, 90_000.0))
    assert {"spread_followed", "spread_grows"} & set(said)
    assert "among the most expensive third of the table" in said["spread_here"]
    low = codes(interval_notes(uneven, 4_000.0))
    assert "among the cheapest third" in low["spread_here"]
    found = diagnose_model(uneven)
    assert f"above {found.typical_miss[2]:.0f} %" in said["spread_here"]
    assert set(said) <= set(codes(explain(uneven, subject).notes)) | {"spread_here"}


@pytest.mark.parametrize("slope", [0.0, 0.005])
def test_an_interval_of_one_width_for_all_is_named_as_such(uneven, slope):
    """The same table in a fit that does not, or hardly, let the scatter change with the price."""
    core = dataclasses.replace(uneven.core, heteroscedasticity=dataclasses.replace(HOMOSCEDASTIC, slope=slope))
    flat = dataclasses.replace(uneven, core=core, fit_result=dataclasses.replace(uneven.fit_result, core=core))
    said = codes(interval_notes(flat, 90_000.0))
    assert "too wide for cheap and too narrow for expensive vehicles" in said["spread_grows"]
    assert "spread_followed" not in said


def test_a_hidden_attribute_makes_two_humps(shop, subject):
    frame = shop.frame(120, 22)
    frame.loc[np.random.default_rng(1).random(120) < 0.5, "price"] *= 2.6
    fit = PriceModel.fit(shop.read(frame.assign(confirmed="yes")), **shop.fast)
    assert "something that parts the vehicles is not in the table" in codes(explain(fit, subject).notes)["two_humps"]


def test_attributes_that_move_together_are_named(shop):
    frame = shop.frame(90, 23)
    frame["original_finish"] = np.where(frame["family"] == "Penhurrow Haywain", "yes", "no")
    fit = PriceModel.fit(shop.read(frame), **shop.fast)
    said = codes(interval_notes(fit, 20000.0))["attributes_move_together"]
    assert "Make and model line" in said
    assert "Original finish" in said


def test_a_wild_price_is_named(shop):
    frame = shop.frame(60, 24)
    frame.loc[30, "price"] *= 5
    fit = PriceModel.fit(shop.read(frame.assign(confirmed="yes")), **shop.fast)
    assert [sale.name for sale in diagnose_model(fit).unusual] == ["S030"]


def test_a_model_without_sales_cannot_be_checked(model):
    with pytest.raises(EvidenceError, match=r"Cannot check the fit.*holds no sales"):
        diagnose_model(model.without_sales())
    assert interval_notes(model.without_sales(), 20000.0) == ()


@pytest.mark.parametrize(
    ("rank", "where"),
    [(43, "cheapest third"), (54, "middle third"), (96, "middle third"), (107, "most expensive third")],
)
def test_the_place_in_the_table_goes_by_thirds(uneven, rank, where):
    """With 150 sales the cheapest third are the first fifty by fitted price, the dearest the last fifty."""
    ordered = np.sort(np.exp(uneven.core.location(uneven.fit_result.rows)))
    assert len(ordered) == 150
    assert where in codes(interval_notes(uneven, float(ordered[rank])))["spread_here"]
