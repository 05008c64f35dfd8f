"""Where a vehicle stands among the sales: prices of the day, numbers of the grid, and no mark over another."""

import dataclasses
import json

import pytest

from tests.unit.sheets.chart_samples import (
    FRAMES,
    HERE,
    LONG,
    a_place,
    axis_labels,
    check_words_apart,
    everywhere,
    layers,
    place_chart,
    px,
    rows_of,
    words,
)
from tests.unit.sheets.conftest import shop_frame
from valuation.answers.estimate import estimate
from valuation.comparables import from_frame
from valuation.regression import PriceModel
from valuation.schema import default_schema, parse_vehicle
from valuation.sheets.chart_style import BLUE, FAINT, INK, PAPER, WIDE
from valuation.sheets.place import place_among, place_of
from valuation.sheets.place_chart import place_picture
from valuation.sheets.records import make_again, sheet_inputs
from valuation.text.locale import LOCALES


def test_prices_stand_at_the_level_of_the_day_as_the_grid_has_them(model, found, table):
    place = place_among(table, found, model, found.grid)
    numbered = {point.number: point for point in place.points if point.number}
    assert sorted(numbered) == list(range(1, len(found.grid) + 1))
    for number, row in enumerate(found.grid, start=1):
        (moved,) = [line.factor for line in row.lines if line.attribute == "sale_date"]
        assert numbered[number].price == pytest.approx(row.price, abs=0.01)
        assert numbered[number].today == pytest.approx(row.price * moved, rel=1e-6)
        assert numbered[number].date == row.date
    assert any(abs(point.today / point.price - 1) > 0.001 for point in place.points)
    chart = place_picture(
        place, HERE, "USD", estimate=found.median, low=found.interval.low, high=found.interval.high, day="today"
    )
    drawn = {row["x"] for row in rows_of(chart.spec, "point")}
    assert {point.today for point in place.points} <= drawn
    assert chart.spec["layer"][0]["encoding"]["x"]["axis"]["title"] == ["price at the level of today, USD, log scale"]


def test_without_a_model_or_dates_prices_stand_as_paid_and_the_axis_says_so(table, found):
    for place in (place_among(table, found), a_place(dated=False)):
        assert not place.brought
        chart = place_picture(
            place, HERE, "USD", estimate=45_000.0, low=40_000.0, high=50_000.0, day="25 November 2026"
        )
        assert "price as paid" in str(chart.spec["layer"][0]["encoding"]["x"]["axis"]["title"])
        assert "prices of" not in chart.title


def test_the_band_ends_where_the_stated_range_ends():
    spec = place_chart().spec
    (band,) = rows_of(spec, "rect")
    (bar,) = rows_of(spec, "rule", color=BLUE)
    assert (band["x"], band["x2"]) == (bar["x"], bar["x2"]) == (36_000.0, 56_700.0)
    assert band["y2"] == spec["height"]
    assert {"36,000", "56,700"} <= {text for _, text in words(spec)}


def test_family_and_outcome_are_told_by_filling_and_shape_and_not_by_colour_alone():
    spec = place_chart().spec
    styles = {
        (layer["mark"]["shape"], layer["mark"]["fill"], layer["mark"]["stroke"]) for layer in layers(spec, "point")
    }
    shapes = ("circle", "triangle-right", "triangle-left")
    assert {(shape, INK, PAPER) for shape in shapes} | {(shape, "transparent", FAINT) for shape in shapes} <= styles


def test_the_finding_counts_the_sales_most_like_the_vehicle_at_the_prices_that_are_drawn():
    place = a_place()
    like = [p.today for p in place.points if p.outcome == "sold" and p.alike and p.group == "fine"]
    assert like
    more = sum(price > 45_000.0 for price in like)
    assert place_chart().title == (
        f"{more} of {len(like)} sales like it (Penhurrow, condition: fine) brought more than 45,000 at the prices of "
        "25 November 2026"
    )


@pytest.mark.parametrize(
    "more", [{"rows": 12}, {"rows": 300}, {"families": 1}, {"groups": ()}, {"groups": (LONG, "b" * 90)}, {"ringed": 40}]
)
def test_the_place_holds_for_few_sales_and_many_one_family_no_scale_and_long_names(more):
    for frame in FRAMES.values():
        check_words_apart(place_chart(**more).at(frame), frame)


@everywhere
@pytest.mark.parametrize("rows", [12, 60, 300])
def test_no_mark_covers_the_number_of_a_sale_of_the_grid(frame, rows):
    spec = place_chart(rows=rows, ringed=6).at(frame)
    numbers = [box for box, text in words(spec) if text in "123456"]
    marks = [(px(spec, row["x"]), row["y"]) for layer in layers(spec, "point") for row in layer["data"]["values"]
             if layer["mark"]["size"] < 100]  # fmt: skip
    assert len(numbers) == 6
    for left, top, right, foot in numbers:
        assert not [at for at in marks if left < at[0] < right and top < at[1] < foot]


def test_the_names_of_the_levels_are_whole():
    place = place_chart().at(WIDE)
    assert {"fine: 20", "fair: 20", "rough: 20"} <= {text for _, text in words(place)}


def test_a_table_by_itself_says_how_far_its_levels_lie_apart(table):
    chart = place_picture(place_of(table), HERE, "USD")
    assert chart.title.startswith("Half of the sales brought more than ")
    assert "(derelict)" in chart.title
    assert not rows_of(chart.spec, "rect")


def test_figures_on_the_axis_are_written_as_the_shop_writes_them():
    frame = dataclasses.replace(WIDE, locale=LOCALES["de-DE"])
    assert "50.000" in [label for _, label in axis_labels(place_chart().at(frame))]


def test_a_record_made_before_prices_were_brought_to_the_day_is_still_made_again(buyer):
    bare = [dataclasses.replace(point, today=0.0, number=0) for point in buyer.place.points]
    old = dataclasses.replace(buyer, place=dataclasses.replace(buyer.place, points=tuple(bare)))
    record = json.loads(json.dumps(sheet_inputs(old, HERE)))
    assert set(record["sheet"]["place"]["points"][0]) == {"price", "outcome", "date", "group", "alike"}
    assert make_again(record, "html").decode().count("as paid") >= 1
    assert sheet_inputs(buyer, HERE)["sheet"]["place"]["points"][0]["today"] > 0


def test_a_fit_without_dates_brings_no_price_anywhere():
    schema = dataclasses.replace(default_schema(), date_required=False)
    table = from_frame(shop_frame(20).drop(columns=["date"]), schema, name="undated.csv")
    model = PriceModel.fit(table, lattice_points=4, tails=False)
    cells = {"family": "Penhurrow Haywain", "condition": "driver"}
    found = estimate(model, parse_vehicle(cells, schema, "Haywain"))
    assert not place_among(table, found, model, found.grid).brought
