"""The rolling back-test: it never looks ahead, a planted leak is caught, and what it reports."""

import dataclasses
import json

import numpy as np
import pandas as pd
import pytest

from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.backtest import back_test, earlier, left_out_check
from valuation.regression import PriceModel
from valuation.schema import Attribute, Role
from valuation.text.plain import plain

QUICK = {"interaction": False, "tails": False, "lattice_points": 1}


@pytest.fixture(scope="module")
def report(mixed_table):
    return back_test(mixed_table, cut_offs=4, **QUICK)


def test_every_fit_saw_earlier_rows_only(mixed_table):
    """The training rows themselves are looked at, by their dates."""
    seen = []

    def fit(table):
        seen.append(table)
        return PriceModel.fit(table, **QUICK)

    report = back_test(mixed_table, cut_offs=4, fit=fit)
    cut_offs = sorted({sale.cut_off for sale in report.sales})
    assert len(seen) == len(cut_offs) == 4
    whole = mixed_table.sales
    for table, cut_off in zip(seen, cut_offs, strict=True):
        assert table.sales["date"].max() < pd.Timestamp(cut_off)
        assert list(table.attributes.index) == list(table.sales.index)
        assert len(table.sales) == (whole["date"] < pd.Timestamp(cut_off)).sum() == table.rows
    for sale in report.sales:
        assert sale.date >= sale.cut_off
        assert sale.sales_seen == (whole["date"] < pd.Timestamp(sale.cut_off)).sum()


def test_results_do_not_change_when_later_rows_are_altered(shop, report):
    """All cells of the last twenty rows are made different; what was said of sales before them stays to the bit."""
    frame = shop.frame(80, 1, unsold=0.2)
    at = frame["date"].iloc[60]
    frame.loc[60:, "price"] *= 3.7
    frame.loc[60:, ["family", "condition", "mileage"]] = ["Brand New Line", "derelict", 990_000]
    table = shop.read(frame.assign(confirmed="yes"))
    days = sorted({sale.cut_off for sale in report.sales})
    altered = back_test(table, cut_offs=4, **QUICK)
    assert sorted({sale.cut_off for sale in altered.sales}) == days
    before = [sale for sale in report.sales if sale.date.isoformat() < at]
    assert len(before) > 20
    assert [sale for sale in altered.sales if sale.date.isoformat() < at] == before
    after = [sale for sale in report.sales if sale.date.isoformat() >= at]
    assert [sale for sale in altered.sales if sale.date.isoformat() >= at] != after


def test_a_planted_future_row_is_caught(mixed_table):
    """A fitter that quietly keeps the whole table: the check on the rows that the model holds names the leak."""
    with pytest.raises(EvidenceError, match=r"saw S\d+.*sold on that day or\s+later"):
        back_test(mixed_table, cut_offs=3, fit=lambda table: PriceModel.fit(mixed_table, **QUICK))


def test_one_future_row_among_many_is_caught(mixed_table):
    def leaky(table):
        last = mixed_table.sales.index[[-1]]
        rows = table.sales.index.append(last)
        return PriceModel.fit(
            dataclasses.replace(table, sales=mixed_table.sales.loc[rows], attributes=mixed_table.attributes.loc[rows]),
            **QUICK,
        )

    with pytest.raises(EvidenceError, match="saw S079, sold on that day"):
        back_test(mixed_table, cut_offs=3, fit=leaky)


def test_a_planted_future_column_is_caught(mixed_table):
    """A column that says when the vehicle was sold on, which nobody knew at the time."""
    resold = Attribute("resold_on", Role.DATE)
    schema = dataclasses.replace(mixed_table.schema, attributes=(*mixed_table.schema.attributes, resold))
    later = mixed_table.sales["date"] + pd.Timedelta(days=700)
    table = dataclasses.replace(mixed_table, schema=schema, attributes=mixed_table.attributes.assign(resold_on=later))
    with pytest.raises(EvidenceError, match=r"column 'resold_on' of S.* tells of days on or after the cut-off"):
        back_test(table, cut_offs=3, **QUICK)
    known = table.attributes.assign(resold_on=mixed_table.sales["date"] - pd.Timedelta(days=700))
    assert back_test(dataclasses.replace(table, attributes=known), cut_offs=2, **QUICK).sales


def test_each_sale_is_priced_once_by_the_fit_of_its_cut_off(mixed_table, report):
    names = [sale.sale for sale in report.sales]
    assert len(names) == len(set(names))
    sold = mixed_table.sales.loc[mixed_table.sales["outcome"] == "sold"]
    first = pd.Timestamp(report.sales[0].cut_off)
    assert names == sold.loc[sold["date"] >= first, "sale"].tolist()
    sale = report.sales[-1]
    fit = PriceModel.fit(earlier(mixed_table, pd.Timestamp(sale.cut_off)), **QUICK)
    cells = mixed_table.features().loc[mixed_table.sales["sale"] == sale.sale, [a.name for a in fit.attributes]]
    found = fit.core.distribution(fit.core.rows(cells))
    assert sale.estimate == float(found.median()[0])
    assert (sale.low, sale.high) == tuple(float(end[0]) for end in found.interval(0.8))
    # One probability by Python's own functions, many by scipy's: they agree to the last digits of a double.
    assert sale.place == pytest.approx(float(found.cdf(sale.price)[0]), rel=1e-14)


def test_the_record_counts_what_fell_inside(report):
    inside = sum(sale.low <= sale.price <= sale.high for sale in report.sales)
    main = next(share for share in report.calibration.shares if share.coverage == 0.8)
    assert (main.inside, main.n) == (inside, len(report.sales))
    assert report.words[0].startswith(
        f"Of the last {len(report.sales)} sales, priced as if unseen, {inside} fell inside"
    )
    ratios = [sale.estimate / sale.price for sale in report.sales]
    assert report.ratio_study.median_ratio.value == pytest.approx(np.median(ratios))
    assert "saw only rows sold, bid or asked before" in report.notes[0].text


def test_progress_goes_up_to_the_end(mixed_table, report):
    told = []
    back_test(mixed_table, cut_offs=4, progress=lambda done, total: told.append((done, total)), **QUICK)
    assert [total for _, total in told] == [len(report.sales)] * 4
    done = [count for count, _ in told]
    assert done == sorted(done)
    assert done[-1] == len(report.sales)


def test_rows_without_a_date_take_no_part(mixed_table):
    sales = mixed_table.sales.copy()
    gone = sales.index[[5, 70]]
    sales.loc[gone, "date"] = pd.NaT
    report = back_test(dataclasses.replace(mixed_table, sales=sales), cut_offs=2, **QUICK)
    assert not {"S005", "S070"} & {sale.sale for sale in report.sales}
    assert report.notes[1].text == "2 rows without a date took no part."


def test_it_is_plain_data(report):
    answer = json.loads(json.dumps(plain(report), allow_nan=False))
    assert list(answer) == ["method", "coverage", "words", "sales", "calibration", "ratio_study", "notes"]
    assert answer["sales"][0]["date"] == report.sales[0].date.isoformat()


def test_too_small_a_table_is_refused_with_what_is_needed(shop):
    with pytest.raises(TooFewSalesError, match="needs 12 rows, 8 of them sold, and 3 sales must follow"):
        back_test(shop.read(shop.frame(14, 1)))


def test_settings_out_of_range_are_refused(mixed_table):
    with pytest.raises(EvidenceError, match="0 cut-offs: at least 1"):
        back_test(mixed_table, cut_offs=0)
    with pytest.raises(EvidenceError, match="coverage of an interval"):
        back_test(mixed_table, coverage=1.5)


def test_left_out_check_takes_each_sold_row_as_the_others_see_it(model):
    report = left_out_check(model)
    fit = model.fit_result
    rows = np.flatnonzero(fit.exact)
    assert report.method == "leave_one_out"
    assert [sale.sale for sale in report.sales] == model.comparables.sales["sale"].iloc[rows].tolist()
    assert [sale.estimate for sale in report.sales] == pytest.approx(np.exp(fit.left_out.mean[rows]))
    for sale in report.sales:
        assert sale.inside == (sale.low <= sale.price <= sale.high) == (0.1 <= sale.place <= 0.9)
        assert (sale.cut_off, sale.sales_seen) == (None, 79)
    assert "a point or so too good" in report.notes[0].text


def test_left_out_check_needs_the_sales(model):
    with pytest.raises(EvidenceError, match="holds no sales"):
        left_out_check(model.without_sales())


def test_one_cut_off_is_enough(mixed_table):
    report = back_test(mixed_table, cut_offs=1, **QUICK)
    assert len({sale.cut_off for sale in report.sales}) == 1
