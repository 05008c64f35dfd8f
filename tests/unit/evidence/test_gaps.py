"""Gaps of the table: the rank-one update against a fit that has the row, ranking, and words."""

import numpy as np
import pytest

from valuation.answers.explain import explain
from valuation.build.figures import about
from valuation.evidence.subject import Subject
from valuation.regression import PriceModel
from valuation.schema import parse_vehicle


@pytest.fixture(scope="module")
def single(shop):
    """One set of variances, so that the covariance is that of one penalised fit."""
    return PriceModel.fit(shop.read(shop.frame(80, 1)), lattice_points=1, tails=False)


def gaps(model, subject, coverage=0.8, as_of=None):
    return explain(model, subject, as_of, coverage).gaps


def twin(found):
    return next(gap for gap in found if gap.kind == "twin")


def fitted_variance_with(fit, subject, added):
    """Variance of the subject's fitted log price when a row is really appended, at the same variances."""
    core, log_sd = fit.core, fit.fit_result.mixture.log_sd[0]
    matrix = np.vstack([fit.fit_result.rows.matrix, added])
    weight = np.append(fit.fit_result.weight, 1.0)
    precision = np.zeros(matrix.shape[1])
    for block, value in zip(core.blocks, np.exp(-2 * log_sd[1:]), strict=True):
        precision[block.start : block.stop] = value / core.stretch[block.start : block.stop] ** 2
    noise = fit.fit_result.mixture.parts[0].noise
    covariance = np.linalg.inv((matrix * weight[:, None]).T @ matrix / noise + np.diag(precision))
    x = Subject.of(fit, subject, fit.last_sale).columns
    return float(x @ covariance @ x), float(x @ core.covariance @ x), noise


def narrowing(model, subject, less, day):
    """By how many percent the 80 % interval narrows when the median's variance falls by ``less``."""
    core, rows = model.core, model.rows([subject], day)
    location = core.location(rows)
    doubt = np.sqrt(core.doubt(rows) ** 2 - less)
    after, before = core.around(location, doubt, core.scatter(rows)), core.distribution(rows)
    widths = [np.log(np.divide(*one.interval(0.8)[::-1]))[0] for one in (after, before)]
    return 100 * (1 - widths[0] / widths[1])


def test_narrowing_is_that_of_a_fit_that_has_the_row(single, subject):
    assert single.fit_result.held == ()
    day = single.last_sale  # past it something is unknown that the appended row would have to know too
    gap = twin(gaps(single, subject, as_of=day))
    after, before, _ = fitted_variance_with(single, subject, Subject.of(single, subject, day).columns)
    assert gap.narrows_percent == pytest.approx(narrowing(single, subject, before - after, day), rel=1e-7)


def test_the_interval_said_is_the_narrower_one(model, subject):
    valuation = model.value(subject)
    for gap in gaps(model, subject):
        assert 0 <= gap.narrows_percent < 100
        assert valuation.interval.low <= gap.low * (1 + 1e-12) < valuation.median < gap.high
        wide = np.log(valuation.interval.high / valuation.interval.low)
        assert np.log(gap.high / gap.low) == pytest.approx(wide * (1 - gap.narrows_percent / 100), rel=1e-6)


def test_best_first(model, subject):
    sizes = [gap.narrows_percent for gap in gaps(model, subject)]
    assert sizes == sorted(sizes, reverse=True)


def test_what_is_unknown_about_the_vehicle_itself_no_sale_mends(model, subject):
    known = {name: value for name, value in subject.attributes.items() if name != "condition"}
    unknown = parse_vehicle(known, model.schema, "no condition")
    own = model.core.unknown_variance(model.rows([unknown]))["condition"][0]
    assert own > 0
    scale = model.distribution([unknown]).scale[0]
    for gap in gaps(model, unknown):
        assert (1 - gap.narrows_percent / 100) * scale > np.sqrt(own)


def test_a_twin_and_each_attribute_are_tried(model, subject):
    found = gaps(model, subject)
    assert [gap.kind for gap in found].count("twin") == 1
    shared = {gap.attribute: gap.level for gap in found if gap.kind == "same"}
    assert shared == {
        "family": "Penhurrow Haywain",
        "model_year": "1951",
        "condition": "driver",
        "original_finish": "no",
        "mileage": "52000",
    }


def test_the_rare_family_is_the_gap_that_matters(shop, subject):
    """A family with three sales: sharing the family helps more than sharing any other attribute."""
    frame = shop.frame(60, 13)
    frame["family"] = ["Orvane Tessera"] * 3 + frame["family"].replace("Orvane Tessera", "Tarrowby Linnet").tolist()[3:]
    fit = PriceModel.fit(shop.read(frame), **shop.fast)
    rare = parse_vehicle({**subject.attributes, "family": "Orvane Tessera"}, fit.schema)
    same = [gap for gap in gaps(fit, rare) if gap.kind == "same"]
    assert same[0].attribute == "family"
    assert same[0].sales_now == 3
    assert "with make and model line Orvane Tessera, 3 in the table, average otherwise" in same[0].words
    common = twin(gaps(fit, subject)).narrows_percent
    assert twin(gaps(fit, rare)).narrows_percent > 2 * common


def test_a_family_never_seen_is_helped_by_its_first_sale(model, subject):
    new = parse_vehicle({**subject.attributes, "family": "Marrow Vale"}, model.schema)
    found = gaps(model, new)
    family = next(gap for gap in found if gap.kind == "same" and gap.attribute == "family")
    assert family.sales_now == 0
    assert family.narrows_percent > 5
    assert twin(found).narrows_percent > twin(gaps(model, subject)).narrows_percent


def test_a_model_from_a_file_knows_no_counts(model, subject):
    found = gaps(model.without_sales(), subject)
    assert {gap.sales_now for gap in found} == {None}
    assert [gap.narrows_percent for gap in found] == [gap.narrows_percent for gap in gaps(model, subject)]


def test_words(model, subject):
    gap = twin(gaps(model, subject, coverage=0.9))
    assert gap.words.startswith("One more sale of a vehicle like this one would narrow the 90 % interval by about ")
    assert f"to {about(gap.low)} to {about(gap.high)}" in gap.words
    idle = [g for g in gaps(model, subject) if g.narrows_percent < 0.05]
    assert all("would hardly narrow" in g.words for g in idle)
