"""Every refusal of PriceRegressor: its class and its words."""

import numpy as np
import pandas as pd
import pytest

from valuation.errors import RegressionError, TooFewSalesError
from valuation.regression import PriceRegressor


def refused(match, columns, price, error=RegressionError, **settings):
    with pytest.raises(error, match=match) as caught:
        PriceRegressor(lattice_points=1, **settings).fit(columns, price)
    assert isinstance(caught.value, ValueError)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (np.inf, r"the price in row 40 is infinite \(inf\) on its low side"),
        (np.nan, r"the price in row 40 is NaN \(not a number\)"),
        (0.0, r"the price in row 40 is zero or negative"),
        (-5.0, r"the price in row 40 is zero or negative"),
    ],
)
def test_a_price_that_is_none(sales, bad, words):
    columns, price = sales
    refused(f"Cannot use 1 of the prices: {words}. Mend or leave it out", columns, np.r_[price[:39], bad])


def test_pairs_that_say_nothing_or_contradict_themselves(sales):
    columns, price = sales
    refused(
        "Cannot use 40 of the prices: .* low side above its high side", columns, np.column_stack([price, price / 2])
    )
    pairs = np.column_stack([price, price])
    pairs[3] = 0, np.inf
    refused(r"the price in row 4 is open on both sides and says nothing", columns, pairs)
    pairs[3] = -1, 5000
    refused("is zero or negative", columns, pairs)
    pairs[3] = 0, 0
    refused("is zero or negative", columns, pairs)
    refused(r"one number or one low/high pair a sale; found shape \(40, 3\)", columns, np.column_stack([price] * 3))


def test_prices_that_cannot_be_read(sales):
    columns, price = sales
    refused("Cannot read the prices as numbers: could not convert string to float: 'plenty'", columns, ["plenty"] * 40)
    refused("the target y is None: give a price for each sale", columns, None)
    refused("Found 40 rows of attributes but 39 prices. Give one price a row", columns, price[:39])


def test_too_few_rows(sales):
    columns, price = sales
    words = "Cannot fit 11 usable sale.* and at least 12 are needed. Add comparable sales"
    refused(words, columns.head(11), price[:11], error=TooFewSalesError)


@pytest.mark.parametrize("sold", [0, 7])
def test_too_few_of_them_sold(sales, sold):
    columns, price = sales
    asking = np.column_stack([np.where(np.arange(40) < sold, price, 0), price])
    words = f"40 usable rows of which {sold} were sold: at least 8 must be sales, .* Add rows with outcome 'sold'"
    refused(words, columns, asking, error=TooFewSalesError)


def test_eight_sold_rows_among_asking_prices_are_enough(sales):
    columns, price = sales
    asking = np.column_stack([np.where(np.arange(40) < 8, price, 0), price])
    fit = PriceRegressor(lattice_points=1).fit(columns, asking)
    assert np.all(np.isfinite(fit.predict_interval(columns)))


def test_roles_that_do_not_fit(sales):
    columns, price = sales
    for roles, words in (
        ({"colour": "nominal"}, "Cannot use roles for 'colour': the table has no such columns. Its columns are 'year'"),
        ({"year": "numeric"}, "Cannot give 'year' the role 'numeric'. Roles are number, smooth, count, ordinal"),
        ({"family": "ordinal"}, "Cannot order the levels of 'family': .* not an ordered Categorical. Give the levels"),
        ({"family": "number"}, "Cannot read 'family' as numbers: .* Mend the cells or give it another role"),
        ({"family": "date"}, "Cannot read 'family' as dates: .* Write dates as 2024-05-31"),
    ):
        refused(words, columns, price, roles=roles)


def test_cells_that_are_no_number(sales, fitted):
    columns, price = sales
    endless = columns.assign(year=np.r_[np.inf, columns["year"].iloc[1:]])
    refused("Cannot use an infinite number in 'year'. Mend the cell or leave it empty", endless, price)
    with pytest.raises(RegressionError, match="Cannot use an infinite number in 'year'"):
        fitted.predict(endless)


def test_a_grade_that_is_not_on_the_scale(fitted, sales):
    superb = sales[0].head(2).assign(grade="superb")
    words = "Cannot place 'superb' on the scale of 'grade'. Its levels are poor, fair, good. Use one of them or leave"
    with pytest.raises(RegressionError, match=words):
        fitted.predict(superb)


def test_columns_other_than_those_of_the_fit(fitted, sales):
    columns, _ = sales
    for other, words in (
        (columns.drop(columns="year"), "seen at fit time, yet now missing:\n- year"),
        (columns.assign(wheels=4), "unseen at fit time:\n- wheels"),
        (columns[columns.columns[::-1]], "must be in the same order"),
    ):
        with pytest.raises(RegressionError, match=f"(?s)Cannot estimate from these columns.*{words}"):
            fitted.predict(other)


def test_tables_that_are_none(sales):
    columns, price = sales
    twice = pd.concat([columns, columns[["year"]]], axis=1)
    refused("Cannot use a table with columns of the same name: year. Rename or remove one of each", twice, price)
    refused("Cannot use a table without columns", pd.DataFrame(index=range(40)), price)


def test_a_coverage_asked_for_later(fitted, sales):
    for coverage in (0.0, 1.0, 80):
        with pytest.raises(RegressionError, match="A coverage must lie strictly between 0 and 1; found"):
            fitted.predict_interval(sales[0], coverage)
