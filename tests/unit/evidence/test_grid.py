"""The adjustment grid: sums to the cent, signs, choice, weights, and the regression's own figure reproduced."""

import dataclasses
import datetime as dt

import numpy as np
import pytest

from valuation.build.figures import about
from valuation.evidence.grid import adjustment_grid
from valuation.evidence.grid_rows import Grid, GridLine, GridRow, in_cents, reconcile
from valuation.evidence.subject import Subject
from valuation.text.plain import plain


def codes(grid: Grid):
    return {note.code: note.text for note in grid.notes}


@pytest.mark.parametrize("which", ["model", "sold_model", "flat_model"])
def test_lines_add_up_to_the_cent_and_multiply_to_the_ratio(which, request, subject):
    fit = request.getfixturevalue(which)
    for row in adjustment_grid(fit, subject, count=None).rows:
        assert in_cents(row.price) + sum(in_cents(line.amount) for line in row.lines) == in_cents(row.adjusted_price)
        assert round(row.price + sum(line.amount for line in row.lines), 2) == row.adjusted_price
        product = np.prod([line.factor for line in row.lines])
        assert row.price * product == pytest.approx(row.adjusted_price, abs=0.02)


def test_prices_are_those_of_the_table(model, subject):
    sales = model.comparables.sales.set_index("sale")
    for row in adjustment_grid(model, subject, count=None).rows:
        sale = sales.loc[row.sale]
        assert row.price == round(sale["high"] if row.outcome == "asking" else sale["low"], 2)
        assert (row.date, row.outcome) == (sale["date"].date(), sale["outcome"])
        assert row.source == sale["source"]


def test_lines_stand_in_a_fixed_order(model, subject):
    expected = ["sale_date", "family", "model_year", "condition", "original_finish", "mileage", "interaction"]
    for row in adjustment_grid(model, subject).rows:
        assert [line.attribute for line in row.lines] == expected
        assert row.lines[3].to_level == "driver"


def test_a_better_comparable_adjusts_down_and_a_worse_one_up(model, subject):
    order = ["derelict", "project", "runner", "driver", "show"]
    seen = set()
    for row in adjustment_grid(model, subject, count=None).rows:
        (line,) = [line for line in row.lines if line.attribute == "condition"]
        better = np.sign(order.index(line.from_level) - order.index("driver"))
        seen.add(better)
        assert np.sign(line.amount) == -better
        assert np.sign(np.log(line.factor)) == pytest.approx(-better)
    assert seen == {-1, 0, 1}


def test_net_and_gross_of_opposite_adjustments():
    """Plus 3,000 and minus 3,000 are net 0 and gross 6,000."""
    lines = (GridLine("a", "x", "y", 1.3, 3000.0), GridLine("b", "x", "y", 1 / 1.3, -3000.0))
    row = GridRow(
        sale="S1",
        outcome="sold",
        source="",
        date=None,
        price=10_000.0,
        adjusted_price=10_000.0,
        lines=lines,
        weight=1.0,
    )
    assert (row.net, row.gross, row.gross_percent) == (0, 6000, 60)


def test_the_nearest_come_first_and_weigh_most_among_equals(sold_model, subject):
    grid = adjustment_grid(sold_model, subject, count=None)
    distances = [row.distance for row in grid.rows]
    weights = [row.weight for row in grid.rows]
    assert distances == sorted(distances)
    assert weights == sorted(weights, reverse=True)
    assert sum(weights) == pytest.approx(1)
    few = adjustment_grid(sold_model, subject, count=4)
    assert [row.sale for row in few.rows] == [row.sale for row in grid.rows[:4]]
    assert few.reconciled == pytest.approx(
        np.exp(sum(row.weight * np.log(row.adjusted_price) for row in few.rows)), rel=1e-12
    )


def test_a_twin_of_the_subject_is_the_nearest(shop, subject, sold_model):
    """With all attributes alike the later sale comes first."""
    base = sold_model.comparables
    frame = shop.frame(60, 2)
    for place, date in ((3, "2022-01-10"), (40, "2026-01-20")):
        frame.loc[place, ["family", "model_year", "condition", "original_finish", "mileage", "date"]] = [
            "Penhurrow Haywain", 1951, "driver", "no", 52000, date,
        ]  # fmt: skip
    table = dataclasses.replace(shop.read(frame), fingerprint=base.fingerprint)
    grid = adjustment_grid(sold_model, subject, dt.date(2026, 1, 20), comparables=table, count=None)
    names = [row.sale for row in grid.rows]
    assert names[0] == "S040"
    assert 0 < names.index("S003") < 10
    alike = [line for line in grid.rows[0].lines if line.attribute not in ("sale_date", "interaction")]
    assert all(line.amount == 0 and line.factor == pytest.approx(1, abs=1e-12) for line in alike)


def test_sold_rows_come_before_others_and_others_have_no_weight(model, subject):
    grid = adjustment_grid(model, subject, count=None)
    outcomes = [row.outcome == "sold" for row in grid.rows]
    assert outcomes == sorted(outcomes, reverse=True)
    assert not all(outcomes)
    assert all(row.weight == 0 for row in grid.rows if row.outcome != "sold")
    assert "no weight" in codes(grid)["grid_unsold"]
    assert all(row.outcome == "sold" for row in adjustment_grid(model, subject).rows)


def test_a_table_without_a_sale_reconciles_to_nothing(model, subject):
    table = model.comparables
    bids = table.sales["low"] > 0
    table = dataclasses.replace(
        table, sales=table.sales[bids].assign(outcome="bid_not_met"), attributes=table.attributes[bids]
    )
    grid = adjustment_grid(model, subject, comparables=table)
    assert grid.reconciled is None
    assert [row.weight for row in grid.rows] == [0] * 6


def with_weights(grid, model, weights):
    """The grid's rows with other weights, given in the order of the table."""
    names = model.comparables.sales["sale"].tolist()
    given = dict(zip(names, weights, strict=True))
    return tuple(dataclasses.replace(row, weight=given[row.sale]) for row in grid.rows)


@pytest.mark.parametrize("which", ["sold_model", "flat_model"])
def test_all_rows_with_the_weights_of_the_fit_give_the_estimate_back(which, request, subject):
    """The intercept is never shrunk, so the weighted residuals add up to nothing."""
    fit = request.getfixturevalue(which)
    rows = with_weights(adjustment_grid(fit, subject, count=None), fit, fit.fit_result.weight)
    assert reconcile(rows) == pytest.approx(fit.value(subject).median, rel=1e-6)


def regression_weights(fit, subject):
    x, part = Subject.of(fit, subject).columns, fit.fit_result.mixture.parts[0]
    return fit.fit_result.rows.matrix @ part.covariance @ x / part.noise


def test_all_rows_with_the_regressions_own_weights_give_the_estimate_back(flat_model, subject):
    """Without shrinkage the grid reproduces the prediction of a log model."""
    weights = regression_weights(flat_model, subject)
    assert weights.sum() == pytest.approx(1)
    logs = flat_model.fit_result.response
    estimate = flat_model.value(subject).median
    assert np.exp(weights @ logs) == pytest.approx(estimate, rel=1e-9)
    rows = with_weights(adjustment_grid(flat_model, subject, count=None), flat_model, weights)
    assert reconcile(rows) == pytest.approx(estimate, rel=1e-6)


def test_with_shrinkage_the_regressions_own_weights_fall_short(sold_model, subject):
    rows = with_weights(
        adjustment_grid(sold_model, subject, count=None), sold_model, regression_weights(sold_model, subject)
    )
    gap = abs(np.log(reconcile(rows) / sold_model.value(subject).median))
    assert 1e-5 < gap < 0.1


def test_notes_explain_choice_weights_and_the_custom(model, subject):
    grid = adjustment_grid(model, subject)
    said = codes(grid)
    assert "sold not long ago" in said["grid_choice"]
    assert about(grid.reconciled) in said["grid_reconciled"]
    assert about(grid.estimate) in said["grid_reconciled"]
    far = adjustment_grid(model, subject, count=None)
    wide = sum(row.gross_percent > 25 for row in far.rows)
    assert codes(far)["grid_gross"].startswith(f"{wide} of 80 are adjusted by more than 25 % gross.")
    assert "common practice, no source" in codes(far)["grid_gross"]
    assert all("Differences worth about" in row.why for row in grid.rows)


def test_without_a_table_the_grid_is_empty_and_says_what_to_do(model, subject):
    grid = adjustment_grid(model.without_sales(), subject)
    assert (grid.rows, grid.reconciled) == ((), None)
    assert grid.estimate == pytest.approx(model.value(subject).median)
    assert "give the table of comparables" in codes(grid)["grid_needs_table"]


def test_the_table_given_to_a_loaded_model_makes_the_same_lines(model, subject):
    whole = adjustment_grid(model, subject)
    given = adjustment_grid(model.without_sales(), subject, comparables=model.comparables)
    assert [row.lines for row in given.rows] == [row.lines for row in whole.rows]
    assert "grid_other_table" not in codes(given)


def test_another_table_is_named_as_such(model, shop, subject):
    grid = adjustment_grid(model, subject, comparables=shop.read(shop.frame(20, 9)))
    assert "another table" in codes(grid)["grid_other_table"]


def test_rows_of_the_answer(model, subject):
    row = adjustment_grid(model, subject, dt.date(2026, 10, 1)).rows[0]
    assert list(plain(row)) == [
        "sale", "date", "outcome", "source", "price", "lines", "adjusted_price", "net", "gross", "gross_percent",
        "weight", "distance", "why", "as_written", "row",
    ]  # fmt: skip
    assert list(plain(row.lines[0])) == ["attribute", "from_level", "to_level", "factor", "amount", "title"]
    assert row.lines[0].to_level == "2026-10-01"
    assert row.as_written == f"{row.price:,.2f}".removesuffix(".00")


def test_the_weight_of_a_sale_falls_with_the_square_of_its_distance(sold_model, subject):
    """Row by row from the lines shown, the covariance of the coefficients and the years between."""
    as_of, fit = dt.date(2026, 1, 20), sold_model.fit_result
    places = {name: place for place, name in enumerate(sold_model.comparables.sales["sale"])}
    columns = Subject.of(sold_model, subject, as_of).columns
    grid = adjustment_grid(sold_model, subject, as_of, count=None)
    inverse = []
    for row in grid.rows:
        apart = columns - fit.rows.matrix[places[row.sale]]
        square = sum(np.log(line.factor) ** 2 for line in row.lines)
        square += sum(
            a * c * b
            for a, line in zip(apart, fit.core.covariance, strict=True)
            for c, b in zip(line, apart, strict=True)
        )
        square += (0.03 * (as_of - row.date).days / 365.25) ** 2
        assert row.distance == pytest.approx(np.sqrt(square), rel=1e-9)
        inverse.append(fit.core.noise / fit.weight[places[row.sale]] + square)
    total = sum(1 / one for one in inverse)
    assert [row.weight for row in grid.rows] == pytest.approx([1 / one / total for one in inverse], rel=1e-9)
