"""PriceRegressor on the tables that shops have: roles, notes, thin levels, missing cells, odd columns, any size."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceDistribution, PriceRegressor
from valuation.schema import Attribute, Role

FEW = 4
"""Sets of variances averaged over in these tests: enough, and quick."""


def fit(columns, price, **settings):
    return PriceRegressor(lattice_points=FEW, **settings).fit(columns, price)


def codes(regressor):
    return {note.code for note in regressor.notes_}


def note(regressor, code):
    return next(note.text for note in regressor.notes_ if note.code == code)


def width(regressor, columns):
    """Upper over lower end of the 80 % interval."""
    low, high = regressor.predict_interval(columns)
    return high / low


def test_roles_are_read_off_the_columns(fitted, sales):
    assert {a.name: a.role for a in fitted.attributes_} == {
        "year": Role.NUMBER,
        "grade": Role.ORDINAL,
        "family": Role.NOMINAL,
        "papers": Role.FLAG,
        "sold_on": Role.DATE,
    }
    assert fitted.attributes_[1].level_names == ("poor", "fair", "good")
    assert fitted.feature_names_in_.tolist() == sales[0].columns.tolist()
    assert fitted.n_features_in_ == 5


def test_roles_given_by_word_or_attribute_come_first(sales):
    columns, price = sales
    up = Attribute("year", Role.SMOOTH, direction="up")
    found = fit(columns, price, roles={"year": up, "papers": "count"}).attributes_
    assert (found[0], found[3].role) == (up, Role.COUNT)


def test_every_answer_has_a_row_for_each_vehicle(fitted, sales):
    columns, _ = sales
    five = columns.head(5)
    medians = fitted.predict(five)
    low, high = fitted.predict_interval(five)
    wide_low, wide_high = fitted.predict_interval(five, 0.95)
    distribution = fitted.predict_distribution(five)
    assert isinstance(distribution, PriceDistribution)
    assert medians.shape == low.shape == high.shape == distribution.mean().shape == (5,)
    assert np.all((wide_low < low) & (low < medians) & (medians < high) & (high < wide_high))
    assert distribution.median() == pytest.approx(medians, rel=1e-12)
    assert distribution.cdf(low) == pytest.approx(np.full(5, 0.1), abs=1e-9)
    centre_low, centre_high = fitted.predict_mean_distribution(five).interval(0.8)
    assert np.all((low < centre_low) & (centre_high < high))
    assert fitted.predict(columns.head(0)).shape == (0,)


def test_numeric_arrays_without_roles_give_what_a_frame_of_numbers_gives():
    rng = np.random.default_rng(2)
    X = rng.normal(size=(30, 2))
    price = np.exp(9 + 0.4 * X[:, 0] + rng.normal(0, 0.1, 30))
    by_array, by_frame = fit(X, price), fit(pd.DataFrame(X, columns=["a", "b"]), price)
    assert by_array.predict(X) == pytest.approx(by_frame.predict(pd.DataFrame(X, columns=["a", "b"])), rel=1e-12)
    assert [a.name for a in by_array.attributes_] == ["x0", "x1"]
    assert not hasattr(by_array, "feature_names_in_")
    gap = X.copy()
    gap[0, 0] = np.nan
    assert width(by_array, gap[:1]) > width(by_array, X[:1])


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("year", lambda c: c.astype("Int64")),
        ("family", lambda c: c.astype("string")),
        ("family", lambda c: c.astype("category")),
        ("papers", lambda c: c.astype("boolean")),
        ("sold_on", lambda c: c.dt.tz_localize("UTC")),
    ],
)
def test_another_dtype_for_the_same_cells_changes_nothing(fitted, sales, name, other):
    columns, price = sales
    changed = columns.assign(**{name: other(columns[name])})
    assert fit(changed, price).predict(changed) == pytest.approx(fitted.predict(columns), rel=1e-10)


def test_dates_may_be_text_when_the_role_says_so(fitted, sales):
    columns, price = sales
    text = columns.assign(sold_on=columns["sold_on"].dt.strftime("%Y-%m-%d"))
    found = fit(text, price, roles={"sold_on": "date"}).predict(text)
    assert found == pytest.approx(fitted.predict(columns), rel=1e-10)


def test_a_level_never_seen_is_an_average_one_with_a_wider_interval(fitted, sales):
    known = sales[0].head(6)
    unknown = known.assign(family="gull")
    assert np.all(width(fitted, unknown) > width(fitted, known))
    by_family = [fitted.predict(known.assign(family=family)) for family in ("heron", "tern", "wren")]
    assert np.all(fitted.predict(unknown) < np.max(by_family, axis=0))
    assert np.all(fitted.predict(unknown) > np.min(by_family, axis=0))


@pytest.mark.parametrize("name", ["grade", "family", "year", "papers", "sold_on"])
def test_empty_cells_widen_the_interval_on_average(fitted, sales, name):
    # On average: of one vehicle at the edge of the table, an interval may be wider with the cell than without it.
    columns, _ = sales
    kind = object if name in ("papers", "family") else columns[name].dtype
    empty = columns.assign(**{name: pd.Series([None] * 40, index=columns.index, dtype=kind)})
    widening = np.log(width(fitted, empty)) - np.log(width(fitted, columns))
    assert widening.mean() > 0
    assert np.all(widening > -0.05)


def test_a_vehicle_of_which_nothing_is_known_may_be_any_of_the_table(fitted, sales):
    columns, price = sales
    empty = columns.head(1).astype({"papers": object}).assign(family=None, year=np.nan, papers=None, sold_on=pd.NaT)
    empty["grade"] = pd.Series([None], dtype=columns["grade"].dtype)
    low, high = fitted.predict_interval(empty)
    assert ((low < price) & (price < high)).mean() == pytest.approx(0.8, abs=0.15)


def test_a_table_with_a_fifth_of_its_cells_empty(sales):
    columns, price = sales
    rng = np.random.default_rng(1)
    holes = columns.astype({"papers": object})
    for name in holes:
        holes.loc[rng.random(40) < 0.2, name] = None
    regressor = fit(holes, price)
    error = np.abs(np.log(regressor.predict(holes) / price))
    assert np.median(error) < 0.2
    assert np.all(np.isfinite(width(regressor, holes)))


def test_twelve_rows_are_enough_and_say_that_they_are_few(sales):
    columns, price = sales
    regressor = fit(columns.head(12), price[:12])
    assert "There are only 12 sales to go by" in note(regressor, "few_sales")
    assert np.all(width(regressor, columns) > 1.2)
    assert "few_sales" not in codes(fit(columns.head(30), price[:30]))


def test_a_family_with_three_sales_leans_on_the_others(sales):
    columns, price = sales
    family = np.array(["tern"] * 37 + ["wren"] * 3)
    price = price * np.where(family == "wren", 2.0, 1.0)  # the three bring twice the price
    regressor = fit(columns.assign(family=family), price)
    one = columns.head(1)
    tern, wren, gull = (regressor.predict(one.assign(family=f))[0] for f in ("tern", "wren", "gull"))
    assert 1.2 < wren / tern < 2.0
    assert tern < gull < wren
    widths = [width(regressor, one.assign(family=f))[0] for f in ("tern", "wren", "gull")]
    assert widths == sorted(widths)


def test_a_constant_column_moves_nothing_and_is_named(fitted, sales):
    columns, price = sales
    regressor = fit(columns.assign(wheels=4.0, place="barn"), price)
    assert note(regressor, "column_constant").startswith("wheels, place: the same in every sale")
    same, other = columns.assign(wheels=4.0, place="barn"), columns.assign(wheels=6.0, place="field")
    assert regressor.predict(same) == pytest.approx(fitted.predict(columns), rel=0.05)
    assert regressor.predict(other) == pytest.approx(regressor.predict(same), rel=0.02)
    assert np.all(width(regressor, other) > width(regressor, same))


@pytest.mark.parametrize("empty", [np.nan, None])
def test_a_column_without_a_single_cell_says_nothing(sales, empty):
    columns, price = sales
    more = columns.assign(wheels=pd.Series([empty] * 40, dtype=float if empty is not None else object))
    regressor = fit(more, price)
    assert "column_constant" in codes(regressor)
    assert np.all(np.isfinite(regressor.predict(more)))


def test_rows_that_repeat_are_counted(sales):
    columns, price = sales
    regressor = fit(pd.concat([columns, columns.head(3)], ignore_index=True), np.r_[price, price[:3]])
    assert note(regressor, "rows_repeated").startswith("3 rows repeat another in every cell")
    assert "rows_repeated" not in codes(fit(columns, price))


def test_columns_that_move_together_are_named_and_the_estimate_stands(fitted, sales):
    columns, price = sales
    twice = columns.assign(age=2020 - columns["year"])
    regressor = fit(twice, price)
    assert note(regressor, "columns_collinear").startswith("year with age")
    assert regressor.predict(twice) == pytest.approx(fitted.predict(columns), rel=0.05)


def test_equal_prices_give_that_price_and_say_so(sales):
    columns, _ = sales
    regressor = fit(columns, np.full(40, 9000.0))
    assert regressor.predict(columns) == pytest.approx(np.full(40, 9000.0), rel=1e-6)
    low, high = regressor.predict_interval(columns)
    assert np.all((low < 9000) & (high > 9000) & (high / low < 1.1))
    assert "prices_equal" in codes(regressor)


def test_the_same_sale_fifteen_times(sales):
    columns = pd.concat([sales[0].head(1)] * 15, ignore_index=True)
    regressor = fit(columns, np.full(15, 9000.0))
    assert regressor.predict(columns.head(1)) == pytest.approx([9000.0], rel=1e-6)
    assert codes(regressor) >= {"prices_equal", "column_constant", "rows_repeated", "few_sales"}


def test_one_wild_sale_hardly_moves_the_rest_and_is_told(fitted, sales):
    columns, price = sales
    wild = price.copy()
    wild[0] *= 10
    regressor = fit(columns, wild)
    assert note(regressor, "tails_heavy").startswith("A few prices lie far from the rest: 1 sale counts for less")
    moved = np.log(regressor.predict(columns.iloc[1:]) / fitted.predict(columns.iloc[1:]))
    assert np.median(np.abs(moved)) < 0.05
    plain = fit(columns, wild, tails=False)
    assert "tails_heavy" not in codes(plain)


def test_bids_and_asks_move_the_estimate_their_way(sales):
    columns, price = sales
    sold = np.arange(40) < 20
    bids = np.column_stack([price * 1.5, np.where(sold, price * 1.5, np.inf)])
    asks = np.column_stack([np.where(sold, price * 0.7, 0.0), price * 0.7])
    bids[sold] = asks[sold] = price[sold, None]
    none = fit(columns[sold], price[sold]).predict(columns)
    assert np.median(fit(columns, bids).predict(columns) / none) > 1.05
    assert np.median(fit(columns, asks).predict(columns) / none) < 0.95


def test_a_bid_far_below_and_an_ask_far_above_say_nothing(sales):
    columns, price = sales
    sold = np.arange(40) < 25
    idle = np.column_stack([np.where(sold, price, price / 1000), np.where(sold, price, np.inf)])
    idle[30:] = np.column_stack([np.zeros(10), price[30:] * 1000])
    with_them, without = fit(columns, idle, tails=False), fit(columns[sold], price[sold], tails=False)
    # The centres and scales of the columns are learned on other rows, so the penalties differ a little.
    assert with_them.predict(columns) == pytest.approx(without.predict(columns), rel=0.06)


def test_the_whole_range_of_money(fitted, sales):
    columns, price = sales
    for factor in (1e-9, 1e12):
        found = fit(columns, price * factor).predict(columns)
        assert found == pytest.approx(fitted.predict(columns) * factor, rel=1e-8)
    noise = np.exp(np.random.default_rng(0).normal(0, 12, 40))
    assert np.all(np.isfinite(fit(columns, noise).predict_interval(columns)))


def test_more_columns_than_rows():
    rng = np.random.default_rng(0)
    X = rng.normal(size=(20, 40))
    price = np.exp(9 + 0.5 * X[:, 0] + rng.normal(0, 0.1, 20))
    regressor = fit(X, price, interaction=False, tails=False)
    assert np.all(np.isfinite(regressor.predict_interval(X)))


def test_a_level_in_every_row_of_its_own(sales):
    columns, price = sales
    regressor = fit(columns.assign(plate=[f"no {i}" for i in range(40)]), price)
    new = columns.assign(plate="another")
    assert np.median(np.abs(np.log(regressor.predict(new) / price))) < 0.2


def test_a_few_thousand_rows():
    rng = np.random.default_rng(0)
    columns = pd.DataFrame({"size": rng.normal(size=3000), "kind": rng.choice(list("abcdef"), 3000)})
    price = np.exp(9 + 0.3 * columns["size"] + 0.2 * (columns["kind"] == "a") + rng.normal(0, 0.2, 3000))
    regressor = fit(columns, price)
    low, high = regressor.predict_interval(columns)
    assert ((low < price) & (price < high)).mean() == pytest.approx(0.8, abs=0.03)
    pair = pd.DataFrame({"size": [0.0, 1.0], "kind": ["b", "b"]})
    assert np.diff(np.log(regressor.predict(pair)))[0] == pytest.approx(0.3, abs=0.03)
    alone = regressor.predict_distribution(columns.iloc[[7]])
    assert regressor.predict_distribution(columns)[7].quantile(0.3) == pytest.approx(alone.quantile(0.3), rel=1e-12)
