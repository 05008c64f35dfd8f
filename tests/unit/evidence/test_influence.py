"""Influence of single sales: the closed form against refits without the row, and what it says."""

import dataclasses

import numpy as np
import pytest

from valuation.answers.explain import explain
from valuation.build.figures import about
from valuation.evidence.influence import REFITTED, locations_without
from valuation.evidence.subject import Subject
from valuation.regression import PriceModel


def influence(model, subject):
    return explain(model, subject).influence


def refitted(fit, columns, drop):
    """Log estimate from each set of variances solved anew without a row, and the sets weighted anew."""
    keep = np.arange(len(fit.response)) != drop
    matrix, weight = fit.rows.matrix[keep], fit.weight[keep]
    deviations = (fit.response - fit.core.centre)[keep] - matrix @ fit.core.prior_mean
    x, y = fit.rows.matrix[drop], fit.response[drop] - fit.core.centre - fit.rows.matrix[drop] @ fit.core.prior_mean
    locations, log_share = [], []
    for share, log_sd, part in zip(fit.mixture.weight, fit.mixture.log_sd, fit.mixture.parts, strict=True):
        precision = np.zeros(matrix.shape[1])
        for block, value in zip(fit.core.blocks, np.exp(-2 * log_sd[1:]), strict=True):
            precision[block.start : block.stop] = value / fit.core.stretch[block.start : block.stop] ** 2
        covariance = np.linalg.inv((matrix * weight[:, None]).T @ matrix / part.noise + np.diag(precision))
        mean = covariance @ (matrix.T @ (weight * deviations)) / part.noise
        locations.append(columns @ (mean + fit.core.prior_mean))
        spread = x @ covariance @ x + part.noise / fit.weight[drop]
        # Marginal likelihood of the rest = that of all / density of the row given the rest.
        density = -0.5 * (np.log(2 * np.pi * spread) + (y - x @ mean) ** 2 / spread)
        log_share.append(np.log(share) - density)
    share = np.exp(np.array(log_share) - max(log_share))
    return share @ np.array(locations) / share.sum() + fit.core.centre


def test_closed_form_equals_refits_at_fixed_variances(shop, subject):
    """No direction is held here, so a refit is plainly penalised; censored rows keep their pseudo-observations."""
    model = PriceModel.fit(shop.read(shop.frame(80, 1, unsold=0.2)), **shop.fast)
    assert model.fit_result.held == ()
    columns = Subject.of(model, subject).columns
    found = locations_without(model.fit_result, columns)
    for row in (0, 7, 33, 79, int(np.argmax(np.abs(found - Subject.of(model, subject).location)))):
        assert found[row] == pytest.approx(refitted(model.fit_result, columns, row), abs=1e-9)


def test_without_shrinkage_it_is_least_squares_without_the_row(flat_model, subject):
    """Against least squares made anew without each row, on the same columns."""
    fit = flat_model.fit_result
    columns = Subject.of(flat_model, subject).columns
    found = {one.sale: one for one in influence(flat_model, subject)}
    for row, name in enumerate(flat_model.comparables.sales["sale"]):
        keep = np.arange(60) != row
        coefficients = np.linalg.lstsq(fit.rows.matrix[keep], fit.response[keep], rcond=None)[0]
        assert found[name].estimate_without == pytest.approx(np.exp(columns @ coefficients), rel=1e-7)


def test_cooks_distance_without_shrinkage(flat_model, subject):
    """Against statsmodels' influence measures, brought from its noise variance to that of the fit."""
    import statsmodels.api as sm

    fit = flat_model.fit_result
    plain = sm.OLS(fit.response, fit.rows.matrix).fit()
    reference = plain.get_influence().cooks_distance[0] * plain.scale / fit.mixture.parts[0].noise
    found = {one.sale: one.pull for one in influence(flat_model, subject)}
    assert [found[name] for name in flat_model.comparables.sales["sale"]] == pytest.approx(reference, rel=1e-6)


def test_strongest_first_and_on_the_right_side(model, subject):
    found = influence(model, subject)
    estimate = model.value(subject).median
    sizes = [abs(np.log(one.estimate_without / estimate)) for one in found]
    assert sizes == sorted(sizes, reverse=True)
    assert len(found) == 80
    for one in found:
        assert one.change == pytest.approx(estimate - one.estimate_without)
        assert one.change_percent == pytest.approx(100 * (estimate / one.estimate_without - 1))
    first = found[0]
    side = "up" if first.change > 0 else "down"
    assert f"Without {first.sale} ({first.as_written}) the estimate is {about(first.estimate_without)}" in first.words
    assert f"holds it {side}" in first.words


def test_a_dear_twin_holds_the_estimate_up(shop, subject):
    frame = shop.frame(40, 11)
    frame.loc[20, ["family", "model_year", "condition", "original_finish", "mileage"]] = [
        "Penhurrow Haywain", 1951, "driver", "no", 52000,
    ]  # fmt: skip
    frame.loc[20, "price"] = 90000.0
    table = shop.read(frame.assign(confirmed="yes"))
    first = influence(PriceModel.fit(table, **shop.fast), subject)[0]
    assert first.sale == "S020"
    assert first.change > 0


@pytest.mark.parametrize("tails", [True, False])
def test_those_that_are_shown_are_what_a_fit_without_them_says(shop, subject, tails):
    """Against fits from scratch; the ranges of unsold rows stay as they were, so sold rows alone are looked at."""
    settings = {"tails": tails}
    frame = shop.frame(45, 1, unsold=0.2)
    model = PriceModel.fit(shop.read(frame), **settings)
    shown = [one for one in influence(model, subject)[:REFITTED] if one.outcome == "sold"]
    assert len(shown) >= 4
    for one in shown:
        without = PriceModel.fit(shop.read(frame[frame["sale"] != one.sale]), **settings)
        change = model.value(subject).median - without.value(subject).median
        assert one.change == pytest.approx(change, rel=0.1)


def test_a_sale_that_changes_nothing_is_said_to(model, subject):
    one = dataclasses.replace(influence(model, subject)[-1], change_percent=0.01)
    assert one.words.endswith("the same as with it.")


def test_a_model_without_sales_knows_none(model, subject):
    assert influence(model.without_sales(), subject) == ()


def test_cooks_distance_counts_the_weight_of_the_row(model, subject):
    """Each set of variances is solved anew without the row; one-sided rows weigh less than sold ones."""
    fit, matrix = model.fit_result, model.fit_result.rows.matrix
    assert np.ptp(fit.weight) > 0.1
    response = fit.response - fit.core.centre - matrix @ fit.core.prior_mean
    found = {one.sale: one.pull for one in influence(model, subject)}
    names = model.comparables.sales["sale"].tolist()
    for row in (int(np.argmin(fit.weight)), int(np.argmax(fit.weight)), 7, 33):
        keep, expected = np.arange(80) != row, 0.0
        for share, log_sd, part in zip(fit.mixture.weight, fit.mixture.log_sd, fit.mixture.parts, strict=True):
            precision = np.zeros(matrix.shape[1])
            for block, value in zip(fit.core.blocks, np.exp(-2 * log_sd[1:]), strict=True):
                precision[block.start : block.stop] = value / fit.core.stretch[block.start : block.stop] ** 2

            def solved(rows, precision=precision, noise=part.noise):
                weighted = matrix[rows].T * fit.weight[rows] / noise
                information = weighted @ matrix[rows] + np.diag(precision)
                return information, np.linalg.solve(information, weighted @ response[rows])

            (information, whole), (_, without) = solved(slice(None)), solved(keep)
            used = np.trace(np.linalg.solve(information, (matrix.T * fit.weight / part.noise) @ matrix))
            expected += share * (whole - without) @ information @ (whole - without) / used
        assert found[names[row]] == pytest.approx(expected, rel=1e-6)
