"""The chart of an estimate ends where the stated range ends, and the ladder of effects at the estimate."""

import numpy as np
import pytest

from tests.unit.sheets.chart_samples import (
    HERE,
    a_ladder,
    an_estimate,
    any_price,
    curve_of,
    everywhere,
    grid_of,
    rows_of,
    words,
)
from valuation.regression.distribution import PriceDistribution
from valuation.regression.price_curve import curve_at, price_curve
from valuation.sheets.chart_style import BLUE, INK
from valuation.sheets.charts import estimate_picture


@everywhere
@any_price
def test_the_shaded_range_ends_exactly_where_the_stated_range_ends(median, frame):
    curve, interval = curve_of(median, 0.16)
    chart = estimate_picture(curve, interval, median, (), "USD", HERE.about)
    shaded = [row["x"] for row in rows_of(chart.at(frame), "area", fill=BLUE)]
    assert (shaded[0], shaded[-1]) == (interval["low"], interval["high"])
    low, high = HERE.about(shaded[0]), HERE.about(shaded[-1])
    assert chart.title == f"Eight in ten such sales end between {low} and {high}"
    said = {text for _, text in words(chart.at(frame))}
    assert {low, high, HERE.about(median)} <= said


@pytest.mark.parametrize("spread", [0.004, 0.16, 1.0])
def test_the_density_is_smooth_and_has_one_peak(spread):
    curve, _ = curve_of(45_000.0, spread)
    heights = np.array([point["height"] for point in curve])
    assert heights.max() == 1.0
    assert (np.diff(np.sign(np.diff(heights))) != 0).sum() == 1
    assert np.abs(np.diff(heights)).max() < 0.04


def test_a_heavy_tailed_narrow_peak_is_still_drawn_smooth():
    mixed = PriceDistribution(np.log([45_000.0]), np.array([[0.01, 0.9]]), np.array([0.9, 0.1]))
    heights = np.array([point.height for point in price_curve(mixed)])
    assert np.abs(np.diff(heights)).max() < 0.04
    assert (heights > 0.5).sum() > 20


def test_a_curve_is_made_again_where_an_older_program_put_its_points():
    distribution = PriceDistribution.log_normal([np.log(45_000.0)], [0.2])
    amounts = np.linspace(20_000, 90_000, 81).tolist()
    assert [point.amount for point in curve_at(distribution, amounts)] == amounts
    again = price_curve(distribution)
    assert curve_at(distribution, [point.amount for point in again]) == again


def test_an_open_range_is_said_as_it_is():
    curve, interval = curve_of(45_000.0, 0.16)
    chart = estimate_picture(curve, {**interval, "high": float("inf")}, 45_000.0, (), "", HERE.about)
    assert chart.title == f"Eight in ten such sales end above {HERE.about(interval['low'])}"
    assert rows_of(chart.spec, "area", fill=BLUE)[-1]["x"] == curve[-1]["amount"]


def test_the_nearest_sales_are_numbered_as_in_the_grid():
    spec = an_estimate().spec
    marks = {row["said"].split(".")[0]: row["x"] for row in rows_of(spec, "point")}
    assert marks == {str(n): pytest.approx(row["adjusted_price"]) for n, row in enumerate(grid_of(45_312.0), 1)}


def test_the_ladder_ends_at_the_estimate_and_folds_what_moves_little():
    chart = a_ladder(parts=11)
    rungs = [row["x2"] for row in rows_of(chart.spec, "rule", color=INK)]
    assert rungs[-1] == pytest.approx(45_000.0)
    assert len(rungs) == 8
    assert any("everything else" in text for _, text in words(chart.spec))
    assert len(chart.rows) == 13
