"""Sales with empty cells: they count for what is known of them, and do not widen the intervals of the others."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor
from valuation.regression.empty_cells import has_empty_cells, unknown_effects


def sales(share, n=80, seed=0):
    """A flag worth 100 %, little scatter, and a share of the flags not known."""
    rng = np.random.default_rng(seed)
    flag = rng.random(n) < 0.5
    columns = pd.DataFrame({"finished": flag.astype(float), "size": rng.normal(size=n)})
    price = np.exp(9 + np.log(2) * flag + 0.1 * columns["size"] + rng.normal(0, 0.1, n)).to_numpy()
    columns.loc[rng.random(n) < share, "finished"] = np.nan
    return columns, price


def fit(columns, price, **settings):
    return PriceRegressor({"finished": "flag"}, lattice_points=4, **settings).fit(columns, price)


@pytest.mark.parametrize("tails", [False, True])
def test_the_scatter_of_one_sale_is_not_inflated(tails):
    regressor = fit(*sales(0.3), tails=tails)
    assert has_empty_cells(regressor.fit_.rows)
    # True scatter .1; were the empty cells taken for scatter, a third of the sales would be off by about .35.
    assert np.sqrt(regressor.core_.noise) == pytest.approx(0.1, abs=0.025)


def test_what_a_flag_not_known_adds_is_its_spread():
    regressor = fit(*sales(0.3), tails=False)
    core = regressor.core_
    by_attribute, by_sale = unknown_effects(core.design, regressor.fit_.rows, core.coefficients, core.covariance)
    # A flag worth log 2 in half of the sales: variance (log 2)^2 / 4.
    assert by_attribute["finished"] == pytest.approx(np.log(2) ** 2 / 4, rel=0.15)
    empty = regressor.fit_.rows.encoded["finished"].missing
    assert by_sale.tolist() == np.where(empty, by_attribute["finished"], 0.0).tolist()
    assert core.term_variance["finished"] == pytest.approx(by_attribute["finished"], rel=1e-12)
    weight = regressor.fit_.weight
    assert weight[~empty].tolist() == [1.0] * int((~empty).sum())
    assert weight[empty] == pytest.approx(core.noise / (core.noise + by_sale[empty]), rel=0.05)


def test_a_vehicle_wholly_known_is_priced_as_closely_as_by_the_wholly_known_sales():
    columns, price = sales(0.3)
    known = columns["finished"].notna()
    with_gaps, without = fit(columns, price), fit(columns[known], price[known])
    low, high = with_gaps.predict_interval(columns[known])
    narrow, wide = without.predict_interval(columns[known])
    assert np.mean(np.log(high / low)) < 1.1 * np.mean(np.log(wide / narrow))


def test_a_sale_that_counts_for_little_by_its_empty_cell_is_not_called_wild():
    regressor = fit(*sales(0.3, seed=2))
    empty = regressor.fit_.rows.encoded["finished"].missing
    assert regressor.core_.degrees_of_freedom is not None
    assert np.all(regressor.fit_.weight[empty] < 0.5)
    assert "tails_heavy" not in {note.code for note in regressor.notes_}


def test_one_sided_sales_with_empty_cells():
    columns, price = sales(0.3)
    pairs = np.column_stack([price, price])
    pairs[:15, 1] = np.inf
    pairs[15:25, 0] = 0.0
    regressor = fit(columns, pairs, tails=False)
    assert np.sqrt(regressor.core_.noise) == pytest.approx(0.1, abs=0.03)
    pair = pd.DataFrame({"finished": [0.0, 1.0], "size": [0.0, 0.0]})
    assert np.diff(np.log(regressor.predict(pair)))[0] == pytest.approx(np.log(2), abs=0.12)
