"""Least squares against certified fits: NIST Statistical Reference Datasets, linear least squares.

Source of data and certified values: National Institute of Standards and Technology, *Statistical Reference Datasets*
(StRD), https://www.itl.nist.gov/div898/strd/ (a work of the United States government). Certified to 15 digits by
arithmetic of 500 digits. The tolerances are those that a good fit in double precision meets.
"""

from pathlib import Path

import numpy as np
import pytest
import scipy
import statsmodels.api as sm

from valuation.errors import RegressionError
from valuation.regression.leastsquares import least_squares


def powers(x, degree):
    return np.asarray(x, dtype=float)[:, None] ** np.arange(degree + 1)


def standard_errors(fit):
    return np.sqrt(np.diag(fit.covariance))


def test_longley():
    # Longley (1967), JASA 62, 819-841; StRD Longley. Data as carried by statsmodels.
    data = sm.datasets.longley.load_pandas()
    matrix = np.column_stack([np.ones(16), data.exog.to_numpy()])
    fit = least_squares(matrix, data.endog.to_numpy())
    certified = [
        -3482258.63459582,
        15.0618722713733,
        -0.0358191792925910,
        -2.02022980381683,
        -1.03322686717359,
        -0.0511041056535807,
        1829.15146461355,
    ]
    errors = [
        890420.383607373,
        84.9149257747669,
        0.0334910077722432,
        0.488399681651699,
        0.214274163161675,
        0.226073200069370,
        455.478499142212,
    ]
    assert fit.coefficients == pytest.approx(certified, rel=1e-7, abs=0)
    assert standard_errors(fit) == pytest.approx(errors, rel=1e-7, abs=0)
    assert (fit.freedom, fit.noise) == (9, pytest.approx(304.854073561965**2, rel=1e-7))


def test_norris():
    # Norris, NIST: calibration of ozone monitors; StRD Norris. The file inside scipy holds data and certified values.
    file = Path(scipy.__file__).parent / "stats/tests/data/nist_linregress/Norris.dat"
    lines = file.read_text().splitlines()
    assert "-0.262323073774029     0.232818234301152" in "\n".join(lines[30:46])
    y, x = np.array([line.split() for line in lines[60:96]], dtype=float).T
    fit = least_squares(powers(x, 1), y)
    assert fit.coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9, abs=0)
    assert standard_errors(fit) == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-9, abs=0)
    assert np.sqrt(fit.noise) == pytest.approx(0.884796396144373, rel=1e-9)
    unexplained = fit.noise * fit.freedom / ((y - y.mean()) ** 2).sum()
    assert 1 - unexplained == pytest.approx(0.999993745883712, abs=1e-14)


# Wampler (1970), JASA 65, 549-565; StRD Wampler1 to Wampler3: quintics on x = 0, 1, ..., 20.
WAMPLER = powers(range(21), 5)
WAMPLER3 = """760 -2042 2111 -1684 3888 1858 11379 17560 39287 64382 113159 175108 273291 400186 581243 811568 1121004
1506550 2002767 2611612 3369180"""


@pytest.mark.parametrize("base", [1.0, 0.1], ids=["Wampler1", "Wampler2"])
def test_exact_quintics(base):
    certified = base ** np.arange(6)
    response = WAMPLER @ certified
    fit = least_squares(WAMPLER, response)
    assert fit.coefficients == pytest.approx(certified, rel=1e-5, abs=0)
    assert np.sqrt(fit.noise) < 1e-12 * response.max()


def test_quintic_with_the_certified_noise():
    response = np.array(WAMPLER3.split(), dtype=float)
    # The published noise vector: y less the exact quintic.
    noise = response - WAMPLER.sum(axis=1)
    assert noise[:3].tolist() == [759.0, -2048.0, 2048.0]
    fit = least_squares(WAMPLER, response)
    assert fit.coefficients == pytest.approx(np.ones(6), rel=1e-5, abs=0)
    errors = [2152.32624678170, 2363.55173469681, 779.343524331583, 101.475507550350, 5.64566512170752]
    assert standard_errors(fit) == pytest.approx([*errors, 0.112324854679312], rel=1e-8, abs=0)
    assert np.sqrt(fit.noise) == pytest.approx(2360.14502379268, rel=1e-8)


# Filippelli, NIST; StRD Filip: 82 pairs, a polynomial of degree 10 whose columns are nearly dependent.
FILIP_Y = """.8116 .9072 .9052 .9039 .8053 .8377 .8667 .8809 .7975 .8162 .8515 .8766 .8885 .8859 .8959 .8913 .8959 .8971
.9021 .909 .9139 .9199 .8692 .8872 .89 .891 .8977 .9035 .9078 .7675 .7705 .7713 .7736 .7775 .7841 .7971 .8329 .8641
.8804 .7668 .7633 .7678 .7697 .77 .7749 .7796 .7897 .8131 .8498 .8741 .8061 .846 .8751 .8856 .8919 .8934 .894 .8957
.9047 .9129 .9209 .9219 .7739 .7681 .7665 .7703 .7702 .7761 .7809 .7961 .8253 .8602 .8809 .8301 .8664 .8834 .8898
.8964 .8963 .9074 .9119 .9228"""
FILIP_X = """6.860120914 4.324130045 4.358625055 4.358426747 6.955852379 6.661145254 6.355462942 6.118102026 7.115148017
6.815308569 6.519993057 6.204119983 5.853871964 6.109523091 5.79832982 5.482672118 5.171791386 4.851705903 4.517126416
4.143573228 3.709075441 3.499489089 6.300769497 5.953504836 5.642065153 5.031376979 4.680685696 4.329846955 3.928486195
8.56735134 8.363211311 8.107682739 7.823908741 7.522878745 7.218819279 6.920818754 6.628932138 6.323946875 5.991399828
8.781464495 8.663140179 8.473531488 8.247337057 7.971428747 7.676129393 7.352812702 7.072065318 6.774174009 6.478861916
6.159517513 6.835647144 6.53165267 6.224098421 5.910094889 5.598599459 5.290645224 4.974284616 4.64454848 4.290560426
3.885055584 3.408378962 3.13200249 8.726767166 8.66695597 8.511026475 8.165388579 7.886056648 7.588043762 7.283412422
6.995678626 6.691862621 6.392544977 6.067374056 6.684029655 6.378719832 6.065855188 5.752272167 5.132414673 4.811352704
4.098269308 3.66174277 3.2644011"""


def test_filip_to_seven_digits():
    y = np.array(FILIP_Y.split(), dtype=float)
    x = -np.array(FILIP_X.split(), dtype=float)
    assert len(y) == len(x) == 82
    fit = least_squares(powers(x, 10), y)
    certified = [
        -1467.48961422980,
        -2772.17959193342,
        -2316.37108160893,
        -1127.97394098372,
        -354.478233703349,
        -75.1242017393757,
        -10.8753180355343,
        -1.06221498588947,
        -0.0670191154593408,
        -0.00246781078275479,
        -0.0000402962525080404,
    ]
    assert fit.coefficients == pytest.approx(certified, rel=1e-7, abs=0)


def test_a_column_that_repeats_the_others_is_refused_not_guessed():
    matrix = np.column_stack([powers(range(12), 1), 3 - 2 * np.arange(12.0)])
    with pytest.raises(RegressionError, match=r"the columns at \[2\] repeat the others"):
        least_squares(matrix, np.arange(12.0))


def test_a_column_of_zeros_and_more_columns_than_rows_are_refused():
    with pytest.raises(RegressionError, match=r"the columns at \[1\] are all zero"):
        least_squares(np.column_stack([np.ones(5), np.zeros(5)]), np.arange(5.0))
    with pytest.raises(RegressionError, match="Cannot fit 4 coefficients without penalties to 3 sales"):
        least_squares(powers(range(3), 3), np.arange(3.0))
