"""How answers look by themselves: one short line, a table that no text of a user can break, pandas tables, pictures."""

import datetime as dt
import re
from dataclasses import replace

import pandas as pd
import pytest

import valuation as v
from valuation.build.figures import about, at_least, at_most

DAY = dt.date(2026, 10, 31)
HOSTILE = "<script>alert('x')</script>"


@pytest.fixture(scope="module")
def shop():
    schema = v.read_schema("data/schema.toml")
    sales = pd.read_csv("data/comparables.csv", dtype=str)
    table = v.from_frame(sales, schema, name=HOSTILE, today=DAY)
    model = v.PriceModel.fit(table, lattice_points=4, tails=False)
    car = replace(v.read_vehicle("data/vehicles/haywain-pickup.toml", schema), name=HOSTILE)
    plan = v.read_plan("data/plans/haywain-keep-the-paint.toml", schema)
    return table, model, car, plan


@pytest.fixture(scope="module")
def answers(shop):
    table, model, car, plan = shop
    bands = v.bands(model, plan, DAY)
    return {
        "comparables": table,
        "check": v.check(table),
        "model": model,
        "valuation": model.value(car, DAY),
        "estimate": v.estimate(model, car, DAY),
        "evidence": v.explain(model, car, DAY),
        "backtest": v.backtest(table),
        "paths": v.compare_paths(model, [replace(plan, name=HOSTILE)], DAY),
        "steps": v.steps(model, plan, DAY),
        "field": v.field(model, [plan], [1950.0, 1954.0], DAY),
        "bands": bands,
        "offer": v.offer(bands, plan.sale, v.OfferLog("find", offers=(v.Offer(40_000.0, DAY, HOSTILE),))),
    }


def test_every_answer_prints_as_one_short_line(answers):
    for name, answer in answers.items():
        assert len(repr(answer)) < 400, name
        assert "\n" not in repr(answer), name


def test_every_answer_shows_a_table_in_a_notebook_and_runs_nothing(answers):
    for name, answer in answers.items():
        html = answer._repr_html_()
        assert "<table>" in html, name
        assert "<script" not in html, name
    for name in ("comparables", "model", "valuation", "estimate", "evidence", "paths", "offer"):
        assert "&lt;script&gt;" in answers[name]._repr_html_(), name


@pytest.fixture(scope="module")
def parts(answers, shop):
    """What stands beside the answers on the public surface: what is given, rows of answers, sheets."""
    table, model, car, plan = shop
    evidence = answers["evidence"]
    return {
        "schema": table.schema,
        "vehicle": car,
        "plan": replace(plan, name=HOSTILE),
        "log": v.OfferLog(HOSTILE, offers=(v.Offer(40_000.0, DAY, "Ada"), v.Offer(41_000.0, DAY))),
        "index": v.consumer_price_index(),
        "grid": v.adjustment_grid(model, car, DAY),
        "grid row": evidence.grid[0],
        "buyer sheet": v.buyer_sheet(model, evidence, shop=HOSTILE),
        "deal sheet": v.deal_sheet(model, [plan], DAY),
        "field card": v.field_card(model, [plan], DAY, years=[1950.0, 1954.0]),
    }


@pytest.fixture(scope="module")
def rows(answers):
    """Rows of answers, as one meets them when a list is printed."""
    evidence = answers["evidence"]
    return {
        "attribute": answers["comparables"].schema.attributes[0],
        "factor": evidence.factors[0],
        "interval": evidence.interval,
        "effect": evidence.effects[0],
        "influence": evidence.influence[0],
        "gap": evidence.gaps[0],
        "grid line": evidence.grid[0].lines[0],
        "path": answers["paths"].paths[0],
        "offer": v.Offer(40_000.0, DAY, "Ada"),
    }


def test_nothing_that_one_meets_in_a_notebook_prints_as_a_dump(parts, rows):
    for name, part in {**parts, **rows}.items():
        assert re.fullmatch(r"<[^\n]{5,350}>", repr(part)), name
        assert not re.search(r"\w=|\d\.\d{4}|[({]'\w+':", repr(part)), f"{name} prints its fields: {part!r}"
    for name, part in parts.items():
        assert "<table>" in part._repr_html_(), name
        assert "<script" not in part._repr_html_(), name


def test_money_that_was_worked_out_is_rounded_and_what_was_paid_is_not(answers, rows):
    bands, found = answers["bands"], answers["estimate"]
    floor, target, ask = at_least(bands.floor), about(bands.target), about(bands.ask)
    assert repr(bands) == f"<What to ask: floor {floor} USD; target {target} USD; ask {ask} USD>"
    assert f">walk away above</td><td>{at_most(bands.walk_away_above)} USD</td>" in bands._repr_html_()
    best = answers["paths"].paths[0]
    assert f"<td>{at_most(best.most_to_pay)} USD</td>" in answers["paths"]._repr_html_()
    assert repr(rows["interval"]) == f"<80% from {about(found.interval.low)} to {about(found.interval.high)}>"
    assert f"<td>{found.grid[0].price:,.0f}</td>" in found._repr_html_()


def test_the_line_says_the_figures_of_the_answer(answers):
    value = answers["valuation"]
    assert f"{about(value.median)} USD" in repr(value)
    assert f"{about(value.interval.low)} to {about(value.interval.high)}" in repr(value)
    assert "as of 2026-10-31" in repr(value)
    assert answers["paths"].why in repr(answers["paths"])


def test_words_begin_at_the_left_and_figures_end_at_the_right(answers):
    header = answers["comparables"]._repr_html_().partition("<tbody>")[0]
    left = ' style="text-align:left"'
    assert "<th>row</th>" in header
    assert "<th>price</th>" in header
    assert f"<th{left}>outcome</th>" in header


def test_notes_stand_under_the_table_once(answers):
    html = answers["evidence"]._repr_html_()
    assert html.count("<li>") == len(answers["evidence"].notes) > 0


def test_a_long_table_is_cut_and_counted(answers):
    html = answers["comparables"]._repr_html_()
    assert html.count("<tr>") == 21
    assert f"and {answers['comparables'].n_usable - 20} more" in html


def test_tables_hold_the_answers_own_figures(answers):
    factors = v.frame(answers["valuation"])
    assert answers["valuation"].base * factors["factor"].prod() == pytest.approx(answers["valuation"].median)
    grid = v.frame(answers["estimate"].grid)
    assert (grid["price"] + grid["net"]).tolist() == pytest.approx(grid["adjusted_price"].tolist())
    assert str(grid["date"].dtype) == "datetime64[ns]"
    lines = v.frame(answers["estimate"].grid[0].lines)
    assert lines["amount"].sum() == pytest.approx(grid["net"].iloc[0])
    paths = v.frame(answers["paths"])
    assert paths.loc["sell as found", "outlay_mean"] == answers["paths"].path("sell as found").outlay.mean
    assert v.frame(answers["steps"]).index.tolist() == [one.id for one in answers["steps"].steps]
    field = v.frame(answers["field"])
    assert field.loc["project", 1954.0] == answers["field"].cell("project", 1954.0).most_to_pay
    assert v.frame(answers["backtest"])["inside"].sum() == sum(one.inside for one in answers["backtest"].sales)
    assert len(v.frame(answers["check"])) == len(answers["check"].faults) > 0
    assert len(v.frame(answers["comparables"])) == answers["comparables"].n_usable
    assert v.frame(answers["evidence"].trend)["level"].tolist() == [o.level for o in answers["evidence"].trend.levels]
    assert v.frame(answers["bands"])["ask"].tolist() == [one.ask for one in answers["bands"].asks]


def test_what_is_several_tables_is_refused_by_name(answers):
    with pytest.raises(v.ValuationError, match=r"table of 'Evidence'. It holds several: give one of factors, "):
        v.frame(answers["evidence"])
    with pytest.raises(v.ValuationError, match="one table of 'int'"):
        v.frame(7)


def test_pictures_are_drawn_and_say_what_they_show(answers):
    for name in ("comparables", "valuation", "estimate", "evidence", "backtest", "paths", "steps", "bands"):
        picture = v.chart(answers[name])
        assert picture.alt in repr(picture)
        assert len(repr(picture)) < 400
    assert picture._repr_svg_().startswith("<svg")
    median = about(answers["evidence"].median)
    assert median in v.chart(answers["evidence"]).alt
    assert median in v.chart(answers["evidence"], "factors").alt
    assert answers["evidence"].influence[0].sale in v.chart(answers["evidence"], "influence").alt


def test_a_picture_that_there_is_not_is_refused(answers):
    with pytest.raises(v.ValuationError, match=r"Cannot draw 'influence' of 'Estimate'\. Give one of price, factors"):
        v.chart(answers["estimate"], "influence")
    with pytest.raises(v.ValuationError, match=r"Cannot draw 'FieldTable'\. Give comparables"):
        v.chart(answers["field"])


def test_today_is_the_day_of_every_answer_unless_told(shop):
    _, model, car, _ = shop
    before = dt.date.today()
    days = [
        model.value(car).as_of,
        v.estimate(model, car).as_of,
        v.explain(model, car).as_of,
        v.explain(model, car).trend.as_of,
    ]
    assert all(before <= day <= dt.date.today() for day in days)
    cells = pd.DataFrame([car.attributes])
    assert v.value_frame(model, cells)["high"].tolist() == v.value_frame(model, cells, days[0])["high"].tolist()
    assert v.value_frame(model, cells)["high"].tolist() != v.value_frame(model, cells, model.last_sale)["high"].tolist()
