"""The time trend, the estimate on other dates, and prices moved by an outside index."""

import dataclasses
import datetime as dt

import numpy as np
import pandas as pd
import pytest

from valuation.answers.explain import explain
from valuation.errors import EvidenceError
from valuation.evidence import adjustment_grid, consumer_price_index, deflate
from valuation.evidence.deflation import index_factors, sale_dates
from valuation.evidence.effects import effects
from valuation.evidence.grid_rows import in_cents
from valuation.evidence.price_index import PriceIndex
from valuation.regression import PriceModel
from valuation.schema import Vehicle

LATER = dt.date(2026, 10, 1)
AVERAGE = Vehicle("average", {})


def price_trend(model, as_of=None, coverage=0.8, vehicle=AVERAGE):
    return explain(model, vehicle, as_of, coverage).trend


@pytest.fixture(scope="module")
def rising(shop):
    """Prices that rise by 15 % a year, clearly."""
    return PriceModel.fit(shop.read(shop.frame(120, 3, drift=np.log(1.15))), **shop.fast)


@pytest.fixture
def index():
    months = np.array(["2020-01", "2023-02", "2026-12"], dtype="datetime64[M]")
    return PriceIndex("lorry", months, np.array([100.0, 120.0, 150.0]), source="invented")


def test_a_drift_is_found_with_its_interval(rising):
    trend = price_trend(rising, coverage=0.8)
    assert trend.low_percent < 15 < trend.high_percent
    assert trend.low_percent > 5
    assert trend.notes[0].code == "drift"
    assert "they rose" in trend.notes[0].text


def test_a_drift_that_cannot_be_told_from_none_is_said_to(shop):
    trend = price_trend(PriceModel.fit(shop.read(shop.frame(40, 6, drift=0.0)), **shop.fast))
    assert trend.low_percent < 0 < trend.high_percent
    assert "does not show whether they rose or fell" in trend.notes[0].text


def test_levels_by_quarter_are_relative_to_the_as_of_date(rising):
    trend = price_trend(rising, rising.last_sale)
    assert trend.by == "quarter"
    assert [level.period for level in trend.levels][:2] == ["2021 Q1", "2021 Q2"]
    assert sum(level.sales for level in trend.levels) == 120
    assert trend.levels[0].level < 0.7
    assert trend.levels[-1].level == pytest.approx(1, abs=0.02)
    assert all(level.low < level.level < level.high for level in trend.levels)
    widths = [np.log(level.high / level.low) for level in trend.levels]
    assert widths[0] > widths[-1]


def test_a_level_is_the_ratio_of_estimates_on_the_two_dates(rising, subject):
    trend = price_trend(rising, LATER, vehicle=subject)
    level = trend.levels[3]
    ratio = rising.value(subject, level.date).median / rising.value(subject, LATER).median
    assert level.level == pytest.approx(ratio, rel=1e-9)


def test_the_yearly_rate_is_the_effect_of_the_sale_date(rising, subject):
    trend = price_trend(rising, vehicle=subject)
    whole = next(effect for effect in effects(rising, subject) if effect.kind == "per_year")
    found = (trend.percent_per_year, trend.low_percent, trend.high_percent)
    assert found == pytest.approx((whole.percent, whole.low_percent, whole.high_percent))


def test_a_long_table_is_told_by_year(shop):
    frame = shop.frame(60, 5)
    frame["date"] = pd.date_range("2012-01-15", periods=60, freq="2MS").strftime("%Y-%m-%d")
    trend = price_trend(PriceModel.fit(shop.read(frame), **shop.fast))
    assert trend.by == "year"
    assert [level.period for level in trend.levels] == [str(year) for year in range(2012, 2022)]


def test_tables_that_cannot_say(shop):
    frame = shop.frame(30, 6)
    table = shop.read(frame)
    sales = table.sales.assign(date=pd.Series(pd.NaT, index=table.sales.index, dtype="datetime64[ns]"))
    undated = PriceModel.fit(dataclasses.replace(table, sales=sales), **shop.fast)
    assert price_trend(undated, LATER).levels == ()
    assert price_trend(undated, LATER).notes[0].code == "no_drift"
    frame["date"] = pd.date_range("2026-03-01", periods=30, freq="D").strftime("%Y-%m-%d")
    short = price_trend(PriceModel.fit(shop.read(frame), **shop.fast))
    assert short.percent_per_year is None
    assert short.notes[0].code == "drift_unknown"


def test_a_model_without_sales_has_the_same_trend_but_no_counts(rising):
    bare = price_trend(rising.without_sales())
    assert {level.sales for level in bare.levels} == {None}
    assert [level.level for level in bare.levels] == [level.level for level in price_trend(rising).levels]


def test_a_later_date_carries_the_drift_on_for_a_while_and_widens_the_interval(rising, subject):
    last = rising.last_sale
    days = (0, 200, 400, 1500, 1600)
    now, half_year, next_year, far, further = (rising.value(subject, last + dt.timedelta(days=one)) for one in days)
    assert now.median < half_year.median
    assert next_year.median / half_year.median == pytest.approx(half_year.median / now.median)
    assert next_year.median < far.median == pytest.approx(further.median)
    widths = [np.log(one.interval.high / one.interval.low) for one in (now, next_year, far)]
    assert widths[0] < widths[1] < widths[2]
    assert now.mean_interval.low > now.interval.low


def test_deflating_multiplies_the_money_of_each_row_by_its_months_factor(mixed_table, index):
    moved = deflate(mixed_table, index, LATER)
    expected = index.factor(mixed_table.sales["date"].to_numpy(), LATER).factors
    for column in ("low", "high", "price", "premium", "fees"):
        before, after = (table.sales[column].to_numpy() for table in (mixed_table, moved))
        assert after == pytest.approx(before * expected)
    assert np.isinf(moved.sales["high"]).sum() == np.isinf(mixed_table.sales["high"]).sum() > 0
    assert index_factors(moved) == pytest.approx(expected)
    assert index_factors(mixed_table) == pytest.approx(1)
    assert sale_dates(moved).equals(mixed_table.sales["date"].rename("sold_on"))
    assert moved.fingerprint != mixed_table.fingerprint


def test_a_fit_on_moved_prices_has_no_drift_of_its_own(rising, shop, subject):
    """Prices rose by 15 % a year; so does the index: what is left does not drift, and the estimate is the same."""
    months = pd.period_range("2021-01", "2026-12", freq="M")
    values = 100 * 1.15 ** (np.arange(len(months)) / 12)
    table = deflate(
        rising.comparables,
        PriceIndex("fifteen", np.array(months.astype(str), dtype="datetime64[M]"), values),
        rising.last_sale,
    )
    fit = PriceModel.fit(table, **shop.fast)
    assert [effect for effect in effects(fit, subject) if effect.attribute == "sale_date"] == []
    day = rising.last_sale  # past it the drift goes on, which an index to that day knows nothing of
    assert fit.value(subject, day).median == pytest.approx(rising.value(subject, day).median, rel=0.06)
    trend = price_trend(fit)
    assert trend.levels == ()
    assert "index 'fifteen'" in trend.notes[0].text


def test_the_grid_shows_prices_as_paid_and_the_index_as_a_line(mixed_table, index, shop, subject):
    fit = PriceModel.fit(deflate(mixed_table, index, LATER), **shop.fast)
    paid = mixed_table.sales.set_index("sale")
    for row in adjustment_grid(fit, subject, LATER).rows:
        day = paid.loc[row.sale, "date"].date()
        assert row.price == pytest.approx(paid.loc[row.sale, "low"], abs=0.005)
        assert row.as_written.startswith(f"{paid.loc[row.sale, 'price']:,.2f}".removesuffix(".00"))
        line = row.lines[0]
        assert (line.attribute, line.from_level, line.to_level) == ("sale_date", day.isoformat(), LATER.isoformat())
        assert line.factor == pytest.approx(float(index.factor(day, LATER).factors[0]))
        assert in_cents(row.price) + sum(in_cents(line.amount) for line in row.lines) == in_cents(row.adjusted_price)


def test_a_missing_month_is_read_between_its_neighbours_and_said(mixed_table):
    cpi = consumer_price_index()
    frame = mixed_table.sales.copy()
    frame.loc[frame.index[0], "date"] = pd.Timestamp("2025-10-15")
    moved = deflate(dataclasses.replace(mixed_table, sales=frame), cpi, dt.date(2025, 12, 1))
    assert np.isfinite(index_factors(moved)).all()
    assert "2025-10" in {note.code: note.text for note in moved.notes}["index_month_missing"]


def test_what_cannot_be_deflated_is_refused(mixed_table, index):
    moved = deflate(mixed_table, index, LATER)
    with pytest.raises(EvidenceError, match="moved by an index before"):
        deflate(moved, index, LATER)
    sales = mixed_table.sales.copy()
    sales.loc[sales.index[4], "date"] = pd.NaT
    with pytest.raises(EvidenceError, match="S004 without a date"):
        deflate(dataclasses.replace(mixed_table, sales=sales), index, LATER)
