"""Every sentence of the evidence with a share or a direction, on sales whose answer is known beforehand."""

import re

import numpy as np
import pytest

from valuation.answers.explain import explain
from valuation.evidence.calibration import calibration
from valuation.evidence.effects import effects
from valuation.evidence.grid import adjustment_grid
from valuation.evidence.ratio_study import ratio_study
from valuation.regression.model import PriceModel

TWIN = ["Penhurrow Haywain", 1951, "driver", "no", 52000]
CELLS = ["family", "model_year", "condition", "original_finish", "mileage"]


def told(notes, code):
    [text] = [note.text for note in notes if note.code == code]
    return text


def with_twins(shop, price):
    """Forty sales and one of the subject's twin at a price far from what the others say."""
    frame = shop.frame(40, 11)
    frame.loc[20, CELLS] = TWIN
    frame.loc[20, "price"] = price
    return PriceModel.fit(shop.read(frame.assign(confirmed="yes")), **shop.fast)


@pytest.mark.parametrize(("price", "side"), [(90_000.0, "up"), (4_000.0, "down")])
def test_a_dear_twin_holds_the_estimate_up_and_a_cheap_one_down(shop, subject, price, side):
    model = with_twins(shop, price)
    first = explain(model, subject).influence[0]
    assert first.sale == "S020"
    assert f"the sale holds it {side} by" in first.words
    assert (first.estimate_without < model.value(subject).median) is (side == "up")


@pytest.mark.parametrize(("price", "side"), [(90_000.0, "above"), (4_000.0, "below")])
def test_nearest_sales_that_are_dear_come_to_more_than_the_estimate_and_cheap_ones_to_less(shop, subject, price, side):
    grid = adjustment_grid(with_twins(shop, price), subject)
    assert (grid.reconciled > grid.estimate) is (side == "above")
    apart = abs(100 * (grid.reconciled / grid.estimate - 1))
    assert f", {apart:.0f} % {side} the estimate of" in told(grid.notes, "grid_reconciled")


@pytest.mark.parametrize(("yearly", "word"), [(1.2, "rose"), (0.8, "fell")])
def test_prices_rose_or_fell_and_early_levels_lie_on_the_other_side(shop, subject, yearly, word):
    model = PriceModel.fit(shop.read(shop.frame(120, 3, drift=np.log(yearly))), **shop.fast)
    trend = explain(model, subject).trend
    text = told(trend.notes, "drift")
    assert f": they {word}." in text
    assert ("moved by +" in text) is (word == "rose")
    assert (trend.levels[0].level < 1) is (word == "rose")


def test_a_better_grade_adds_and_a_worse_one_takes_off(model, subject):
    order = ["derelict", "project", "runner", "driver", "show"]
    steps = [one for one in effects(model, subject) if one.attribute == "condition" and one.kind == "against_subject"]
    assert len(steps) == 4
    for one in steps:
        better = order.index(one.to_level) > order.index(one.from_level)
        assert (one.percent >= 0, one.money >= 0) == (better, better)


def test_one_more_sale_narrows_to_what_is_said(model, subject):
    now = model.value(subject).interval
    said = [gap for gap in explain(model, subject).gaps if "would narrow" in gap.words]
    assert said
    for gap in said:
        ends = re.search(r"to ([\d,]+) to ([\d,]+), if it sells near what is expected", gap.words).groups()
        low, high = (float(one.replace(",", "")) for one in ends)
        assert now.low < low < high < now.high


def test_prices_that_fall_below_mean_intervals_that_lie_too_high():
    prices = np.linspace(10_000, 30_000, 60)
    inside = np.arange(60) < 40
    for factor, side, leaning in ((0.5, "below", "high"), (2.0, "above", "low")):
        low, high = prices * 0.9, prices * 1.1
        realised = np.where(inside, prices, prices * factor)
        found = calibration(realised, prices, intervals={0.8: (low, high)})
        assert (found.shares[0].inside, found.shares[0].n) == (40, 60)
        text = told(found.notes, "misses_on_one_side")
        assert text == f"20 of the 20 prices outside fell {side} the interval: the intervals lie too {leaning}."
        assert "40 fell inside" in found.shares[0].words
        assert "promises about 48" in found.shares[0].words


@pytest.mark.parametrize(("factor", "word"), [(1.3, "high"), (0.7, "low")])
def test_estimates_over_the_price_run_high_and_under_it_low(factor, word):
    rng = np.random.default_rng(2)
    prices = rng.uniform(10_000, 60_000, 60)
    study = ratio_study(prices * factor * np.exp(rng.normal(0, 0.05, 60)), prices)
    assert told(study.notes, "level").endswith(f"estimates run {word}.")


@pytest.mark.parametrize(("slope", "word", "other"), [(0.25, "high", "high"), (-0.25, "low", "low")])
def test_dear_vehicles_estimated_high_or_low_beside_cheap_ones(slope, word, other):
    rng = np.random.default_rng(3)
    prices = np.exp(rng.uniform(9, 11.5, 80))
    estimates = prices * np.exp(slope * (np.log(prices) - 10.2) + rng.normal(0, 0.04, 80))
    study = ratio_study(estimates, prices)
    dearest, cheapest = np.argmax(prices), np.argmin(prices)
    assert (estimates[dearest] / prices[dearest] > estimates[cheapest] / prices[cheapest]) is np.bool_(slope > 0)
    assert f"expensive vehicles are estimated too {word} compared" in told(study.notes, "price_bias")
    assert f"expensive vehicles are estimated too {other} compared" in told(study.notes, "price_differential")


def test_half_of_the_sales_end_above_the_estimate_and_the_stated_share_inside(model, subject):
    value = model.value(subject, coverage=0.8)
    assert float(value.distribution.cdf(np.array([value.median]))[0]) == pytest.approx(0.5, abs=1e-6)
    ends = [float(value.distribution.cdf(np.array([end]))[0]) for end in (value.interval.low, value.interval.high)]
    assert ends[1] - ends[0] == pytest.approx(0.8, abs=1e-6)
