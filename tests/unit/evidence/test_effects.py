"""Effects: the ratio of two estimates, the interval of the contrast, and how much of it the table says."""

import dataclasses

import numpy as np
import pytest

from valuation.errors import EvidenceError
from valuation.evidence.effects import effects, round_step
from valuation.regression import PriceModel
from valuation.schema import Expectation, parse_vehicle


def one(found, attribute, kind, to_level=None):
    (effect,) = [e for e in found if e.attribute == attribute and e.kind == kind and to_level in (None, e.to_level)]
    return effect


def test_each_effect_is_the_ratio_of_two_estimates(model, subject):
    """The interaction at the subject's other attributes is in it, since whole vehicles are compared."""
    found = effects(model, subject)
    estimate = model.value(subject).median
    for attribute, level, kind in (
        ("condition", "show", "against_subject"),
        ("family", "Orvane Tessera", "against_subject"),
        ("original_finish", True, "yes_no"),
        ("mileage", 72000, "change"),
    ):
        text = {True: "yes", 72000: "72000"}.get(level, level)
        effect = one(found, attribute, kind, text)
        other = model.value(parse_vehicle({**subject.attributes, attribute: level}, model.schema)).median
        assert effect.percent == pytest.approx(100 * (other / estimate - 1), rel=1e-9)
        assert effect.money == pytest.approx(other - estimate, rel=1e-9)


def test_a_step_is_priced_at_the_vehicle_with_the_lower_level(model, subject):
    step = one(effects(model, subject), "condition", "step", "runner")
    prices = [
        model.value(parse_vehicle({**subject.attributes, "condition": level}, model.schema)).median
        for level in ("project", "runner")
    ]
    assert (step.from_level, step.to_level) == ("project", "runner")
    assert step.money == pytest.approx(prices[1] - prices[0], rel=1e-9)
    assert step.percent == pytest.approx(100 * (prices[1] / prices[0] - 1), rel=1e-9)


def test_every_attribute_is_there_in_order_with_the_date_last(model, subject):
    found = effects(model, subject)
    names = list(dict.fromkeys(effect.attribute for effect in found))
    assert names == ["family", "model_year", "condition", "original_finish", "mileage", "sale_date"]
    assert sum(effect.kind == "step" for effect in found) == 4
    assert [e.to_level for e in found if e.attribute == "model_year"] == ["1946", "1956"]
    whole, last_year = [e for e in found if e.kind == "per_year"]
    assert whole.from_level == model.first_sale.isoformat()
    assert whole.to_level == last_year.to_level == model.last_sale.isoformat()


def test_more_sales_say_more(shop, model, subject):
    few = PriceModel.fit(shop.read(shop.frame(24, 5)), **shop.fast)
    for attribute, kind, level in (("original_finish", "yes_no", "yes"), ("condition", "step", "show")):
        small, large = (one(effects(fit, subject), attribute, kind, level).from_table for fit in (few, model))
        assert 0 <= small < large < 1


def test_a_sure_expectation_leaves_the_table_little_to_say(shop, subject):
    table = shop.read(shop.frame(40, 6))

    def fitted(give_or_take):
        attributes = tuple(
            dataclasses.replace(a, expected=Expectation(35, give_or_take)) if a.name == "condition" else a
            for a in table.schema.attributes
        )
        schema = dataclasses.replace(table.schema, attributes=attributes)
        fit = PriceModel.fit(dataclasses.replace(table, schema=schema), interaction=False, **shop.fast)
        return [e for e in effects(fit, subject) if e.attribute == "condition" and e.kind == "step"]

    sure, unsure = fitted(0.5), fitted(25)
    assert all(a.from_table < b.from_table for a, b in zip(sure, unsure, strict=True))
    assert all(e.expected_percent == pytest.approx(35) for e in sure)
    mean = [np.mean([np.log1p(e.percent / 100) for e in steps]) for steps in (sure, unsure)]
    assert abs(mean[0] - np.log(1.35)) < abs(mean[1] - np.log(1.35))


@pytest.mark.parametrize("interaction", [False, True])
def test_a_step_held_by_its_direction_says_so(shop, subject, interaction):
    """Show vehicles sold for less than drivers: the sales do not show the expected order here."""
    frame = shop.frame(60, 7)
    frame.loc[frame["condition"] == "show", "price"] *= 0.3
    found = effects(PriceModel.fit(shop.read(frame), interaction=interaction, **shop.fast), subject)
    step, first = (one(found, "condition", "step", level) for level in ("show", "project"))
    assert step.held
    assert not first.held
    assert step.percent == pytest.approx(0, abs=5 if interaction else 1e-6)
    assert step.from_table == 0 < first.from_table
    assert "the sales do not show the expected order here" in step.words


def test_an_unknown_attribute_is_set_against_the_average_and_unsure(model, subject):
    known = dict(subject.attributes)
    del known["condition"]
    unknown = type(subject)("no condition", known)
    effect = one(effects(model, unknown), "condition", "against_subject", "show")
    sure = one(effects(model, subject), "condition", "against_subject", "show")
    assert effect.from_level == "unknown"
    width, usual = (np.log1p(e.high_percent / 100) - np.log1p(e.low_percent / 100) for e in (effect, sure))
    assert width > 2 * usual


def test_a_model_from_a_file_has_the_same_effects(model, subject):
    assert effects(model.without_sales(), subject) == effects(model, subject)


def test_words(model, subject):
    effect = one(effects(model, subject), "condition", "against_subject", "show")
    assert effect.words.startswith("Condition, driver to show: +")
    assert "of what is known of it comes from the table" in effect.words
    drift = next(e for e in effects(model, subject) if e.kind == "per_year")
    assert drift.words.startswith(f"Date of sale, a year between {model.first_sale} and {model.last_sale}: ")
    assert effect.low_percent < effect.percent < effect.high_percent


def test_coverage_out_of_range_is_refused(model, subject):
    with pytest.raises(EvidenceError, match="coverage of an interval"):
        effects(model, subject, coverage=1.0)


@pytest.mark.parametrize(("size", "step"), [(1.0, 1.0), (0.99, 0.5), (4.9, 2.0), (2000.0, 2000.0)])
def test_round_steps(size, step):
    assert round_step(size) == pytest.approx(step)


def test_a_very_unsure_expectation_leaves_all_to_the_table(flat_model, subject):
    for effect in effects(flat_model, subject):
        assert effect.from_table == pytest.approx(1, abs=1e-6)
        assert not effect.held
