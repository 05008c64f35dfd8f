"""Each chart keeps its promises: ends where they are stated, words apart and large enough, figures as in the text."""

import dataclasses
import datetime as dt
import json
from itertools import pairwise

import numpy as np
import pytest

from tests.unit.sheets.conftest import shop_frame
from valuation.answers.estimate import estimate
from valuation.comparables import from_frame
from valuation.regression import PriceModel
from valuation.regression.distribution import PriceDistribution
from valuation.regression.price_curve import curve_at, price_curve
from valuation.schema import default_schema, parse_vehicle
from valuation.sheets.bands_chart import bands_picture
from valuation.sheets.chart_layout import text_width
from valuation.sheets.chart_style import BLUE, CLAY, FAINT, INK, MIDDLE, NARROW, PAPER, WIDE, Frame
from valuation.sheets.charts import effects_picture, estimate_picture, influence_picture
from valuation.sheets.deal_charts import paths_picture, profit_picture, steps_picture, timeline_picture
from valuation.sheets.paper_charts import LETTERS, TYPE, WIDTH
from valuation.sheets.place import Place, Point, place_among, place_of
from valuation.sheets.place_chart import place_picture
from valuation.sheets.records import make_again, sheet_inputs
from valuation.sheets.sale_charts import price_by_date, track_picture
from valuation.sheets.talks_chart import talks_picture
from valuation.sheets.work_chart import work_picture
from valuation.text.locale import LOCALES, Locale
from valuation.text.plain import plain

HERE = Locale()
FRAMES = {"wide": WIDE, "middle": MIDDLE, "narrow": NARROW, "paper": Frame(WIDTH, LETTERS, TYPE, HERE)}
TEXT_WIDTH_OF_A4 = (210 - 2 * 18) / 25.4 * 72
"""Points between the margins of ``templates/paper.typ``."""
LONG = "Haywain " * 25


def curve_of(median, spread):
    distribution = PriceDistribution.log_normal([np.log(median)], [spread])
    low, high = (float(end[0]) for end in distribution.interval(0.8))
    return plain(price_curve(distribution)), {"coverage": 0.8, "low": low, "high": high}


def grid_of(median, n=6):
    return [
        {"sale": f"{LONG}{i}", "outcome": "sold" if i < 5 else "asking", "adjusted_price": median * (0.97 + 0.01 * i)}
        for i in range(n)
    ]


def an_estimate(median=45_312.0, spread=0.16):
    curve, interval = curve_of(median, spread)
    return estimate_picture(curve, interval, median, grid_of(median), "USD", HERE.about)


def a_place(median=45_000.0, rows=60, families=3, ringed=5, groups=("rough", "fair", "fine"), dated=True):
    points = tuple(
        Point(
            price=median * (0.5 + 0.02 * i),
            outcome=("sold", "sold", "bid_not_met", "asking")[i % 4],
            date=dt.date(2024, 1, 1) + dt.timedelta(days=i) if dated else None,
            group=groups[i // 4 % len(groups)] if groups else "",
            alike=i % families == 0,
            today=median * (0.55 + 0.02 * i) if dated else 0.0,
            number=i + 1 if i < ringed else 0,
        )
        for i in range(rows)
    )
    return Place("condition" if groups else "", groups, groups[-1] if groups else "", "Penhurrow", points, 0)


def place_chart(median=45_000.0, **more):
    return place_picture(
        a_place(median, **more),
        HERE,
        "USD",
        estimate=median,
        low=median * 0.8,
        high=median * 1.26,
        day="25 November 2026",
    )


def a_ladder(median=45_000.0, parts=11):
    factors = [
        {"title": f"{LONG} {i}", "level": "driver", "factor": 1 + (-1) ** i * 0.04 * (i + 1)} for i in range(parts)
    ]
    base = median / np.prod([one["factor"] for one in factors])
    return effects_picture(float(base), factors, median, "USD", HERE.about)


def a_track(price=45_000.0, sales=14, name=LONG):
    pairs = [
        {
            "subject": f"{name}{i}",
            "sold_on": f"20{24 - i % 4}-0{1 + i % 9}-11",
            "price": price * (1 + 0.05 * i),
            "median": price,
            "low": price * 0.8,
            "high": price * 1.3,
            "inside": 1 + 0.05 * i <= 1.3,
        }
        for i in range(sales)
    ]
    return track_picture(pairs, "USD", HERE.about)


def some_bands(median=45_000.0, apart=0.02, offers=6):
    bands = {
        "floor": median * (1 - apart),
        "target": median,
        "ask": median * (1 + apart),
        "break_even": median * (1 - 1.5 * apart),
    }
    told = [{"amount": median * (0.8 + 0.01 * i), "who": "Ambrose of the mill" if i % 2 else ""} for i in range(offers)]
    return bands_picture(curve_of(median, 0.16)[0], bands, told, "USD", HERE)


def some_talks(median=45_000.0, buyers=5, name="Ambrose of the mill"):
    threads = [
        {
            "called": f"{name} {i}",
            "bids": [
                {
                    "offered_on": f"2026-11-{12 + i + 4 * k:02}",
                    "amount": median * (0.75 + 0.03 * i + 0.04 * k),
                    "answer": ("", "accept", "counter", "hold", "decline")[i % 5] if k else "counter",
                    "counter": median * (1 - 0.02 * k) if not k or i % 5 == 2 else None,
                    "answered_on": f"2026-11-{13 + i + 4 * k:02}",
                }
                for k in (1, 0)
            ],
        }
        for i in range(buyers)
    ]
    floors = [{"day": f"2026-{10 + k}-03", "floor": median * (0.93 - 0.03 * k)} for k in range(3)]
    return talks_picture(threads, floors, median * 1.08, median * 0.85, dt.date(2026, 11, 27), "USD", HERE)


def some_paths(median=45_000.0):
    paths = [
        {
            "name": name,
            "expected_profit": gain * median,
            "simulation_errors": {"expected_profit": 0.001 * median},
            "outlay": {"mean": 0.7 * median, "low": 0.6 * median, "high": 0.8 * median},
            "sale_price": {"mean": median, "low": 0.8 * median, "high": 1.2 * median},
        }
        for name, gain in ((LONG, 0.3), ("sell as found", 0.1), ("show build", -0.2))
    ]
    return paths_picture(paths, "USD", HERE.about)


def some_steps(median=45_000.0):
    steps = [
        {"id": "a", "name": LONG, "adds": 0.3 * median, "costs": 0.1 * median, "net": 0.2 * median},
        {"id": "b", "name": "paint", "adds": -0.2 * median, "costs": 0.1 * median, "net": -0.3 * median},
    ]
    return steps_picture(steps, "USD", HERE.about)


def fine_steps(median=45_000.0):
    steps = [
        {"id": "a", "name": LONG, "adds": 0.9 * median, "costs": 0.8 * median, "net": 0.1 * median},
        {"id": "b", "name": "paint", "adds": 0.2 * median, "costs": 0.1 * median, "net": 0.1 * median},
    ]
    return steps_picture(steps, "USD", HERE.about)


def a_profit(median=45_000.0):
    amounts = np.linspace(-0.4, 1.0, 61)
    points = [
        {
            "amount": float(a * median),
            "odds_below": float((a + 0.4) / 1.4),
            "height": float(np.exp(-(((a - 0.3) / 0.25) ** 2))),
        }
        for a in amounts
    ]
    return profit_picture({"name": LONG, "points": points}, 0.12, 0.3 * median, "USD", HERE.about)


def a_timeline(median=0.0):
    steps = [
        {
            "id": f"s{i}",
            "start": {"mean": 3.0 * i},
            "finish": {"mean": 3.0 * i + 4, "high": 3.0 * i + 6},
            "odds_critical": 0.9 * (i % 2),
        }
        for i in range(5)
    ]
    dates = {"early": "1 May 2027", "likely": "14 June 2027", "late": "3 August 2027"}
    return timeline_picture({"steps": steps}, {"s1": LONG}, {"name": LONG, "weeks": 17.0}, dates)


def some_influence(median=45_000.0):
    rows = [
        {
            "sale": f"{LONG}{i}",
            "change": (-1) ** i * 0.01 * i * median,
            "estimate_without": median * (1 - (-1) ** i * 0.01 * i),
        }
        for i in range(12)
    ]
    return influence_picture(rows, median, "USD", HERE.about)


def some_dates(median=45_000.0, rows=40):
    sales = [
        {
            "sale": f"S{i}",
            "date": f"20{20 + i % 6}-0{1 + i % 9}-11",
            "price": median * (0.4 + 0.05 * i),
            "outcome": ("sold", "bid_not_met", "asking")[i % 3],
        }
        for i in range(rows)
    ]
    subject = {"sale": LONG, "date": "2026-11-25", "price": median, "low": 0.8 * median, "high": 1.2 * median}
    return price_by_date(sales, subject, "USD", HERE.about)


def some_work(median=45_000.0):
    def points(start, *shares):
        return [{"on": f"2027-0{i + 1}-01", "weeks": start + 4.3 * i, "money": share * median}
                for i, share in enumerate(shares)]  # fmt: skip

    work = {
        "bought_on": "2027-01-01", "event_on": "2027-05-29", "all_in": 0.93 * median, "planned_all_in": 0.85 * median,
        "planned": points(0.0, 0.2, 0.35, 0.6, 0.8), "actual": points(0.0, 0.2, 0.42),
        "expected": points(4.3, 0.42, 0.9),
    }  # fmt: skip
    return work_picture(work, "USD", HERE.about)


CHARTS = {
    "estimate": an_estimate,
    "place": place_chart,
    "effects": a_ladder,
    "track": a_track,
    "bands": some_bands,
    "talks": some_talks,
    "paths": some_paths,
    "steps": some_steps,
    "steps that all add": fine_steps,
    "profit": a_profit,
    "timeline": a_timeline,
    "work": some_work,
    "influence": some_influence,
    "dates": some_dates,
}
everywhere = pytest.mark.parametrize("frame", FRAMES.values(), ids=FRAMES)
every_chart = pytest.mark.parametrize("make", CHARTS.values(), ids=CHARTS)
any_price = pytest.mark.parametrize("median", [3.72, 45_000.0, 3_720_000.0])


def layers(spec, kind):
    return [layer for layer in spec["layer"] if layer["mark"]["type"] == kind]


def rows_of(spec, kind, **style):
    return [
        row for layer in layers(spec, kind) if style.items() <= layer["mark"].items() for row in layer["data"]["values"]
    ]


def px(spec, value):
    scale = spec["layer"][0]["encoding"]["x"]["scale"]
    low, high = scale["domain"]
    if scale["type"] == "log":
        low, high, value = np.log([low, high, value])
    return (value - low) / (high - low) * spec["width"]


def words(spec):
    """Every text of a picture that is not a halo: its box and itself."""
    found = []
    for layer in layers(spec, "text"):
        mark = layer["mark"]
        if mark["color"] == PAPER:
            continue
        for row in layer["data"]["values"]:
            width = text_width(row["text"], mark["fontSize"])
            at = px(spec, row["x"]) + mark["dx"] - {"left": 0, "center": 0.5, "right": 1}[mark["align"]] * width
            half = 0.42 * mark["fontSize"]
            found.append(((at, row["y"] - half, at + width, row["y"] + half), row["text"]))
    return found


def axis_labels(spec):
    axis = spec["layer"][0]["encoding"]["x"]["axis"]
    labels = json.loads(axis["labelExpr"].split("[indexof(")[0])
    return [(px(spec, tick), label) for tick, label in zip(axis["values"], labels, strict=True) if label]


@everywhere
@any_price
@every_chart
def test_no_word_covers_another_or_leaves_the_picture(make, median, frame):
    spec = make(median).at(frame)
    found = words(spec)
    left, right = -spec["padding"]["left"], spec["width"] + spec["padding"]["right"]
    for i, (box, text) in enumerate(found):
        assert box[0] >= left - 1, f"{text} starts left of the picture"
        assert box[2] <= right + 1, f"{text} ends right of the picture"
        assert -spec["padding"]["top"] <= box[1], f"{text} stands above the picture"
        assert box[3] <= spec["height"] + frame.letters / 2, f"{text} stands on the axis"
        for other, also in found[:i]:
            apart = box[0] >= other[2] or other[0] >= box[2] or box[1] >= other[3] or other[1] >= box[3]
            assert apart, f"{text!r} covers {also!r}"
    labels = [
        (at - text_width(t, frame.letters) / 2, at + text_width(t, frame.letters) / 2) for at, t in axis_labels(spec)
    ]
    assert all(before[1] < after[0] for before, after in pairwise(labels))
    assert labels[0][0] >= left - 1
    assert labels[-1][1] <= right + 1


@everywhere
@every_chart
def test_all_lettering_can_be_read(make, frame):
    spec = make(45_000.0).at(frame, headed=True)
    config = spec["config"]["axis"]
    sizes = [config["labelFontSize"], config["titleFontSize"], spec["title"]["fontSize"]]
    sizes += [layer["mark"]["fontSize"] for layer in layers(spec, "text")]
    total = spec["width"] + spec["padding"]["left"] + spec["padding"]["right"]
    assert total == pytest.approx(frame.width, abs=1)
    assert min(sizes) >= 12
    if frame.font == TYPE:
        assert min(sizes) * TEXT_WIDTH_OF_A4 / total >= 7


@every_chart
def test_the_same_figures_give_the_same_picture(make):
    assert json.dumps(make(45_000.0).spec) == json.dumps(make(45_000.0).spec)
    assert make(45_000.0).svg(NARROW) == make(45_000.0).svg(NARROW)


@every_chart
def test_every_chart_has_a_finding_words_and_a_table(make):
    chart = make(45_000.0)
    assert chart.title[0].isupper() or chart.title[0].isdigit()
    assert chart.alt.startswith(chart.title)
    assert len(chart.rows) > 1
    assert {len(row) for row in chart.rows} == {len(chart.columns)}


@any_price
@every_chart
def test_a_logarithmic_axis_says_so_and_carries_ticks_through_both_ends(make, median):
    for frame in FRAMES.values():
        encoding = make(median).at(frame)["layer"][0]["encoding"]["x"]
        said = " ".join(encoding["axis"]["title"]).endswith("log scale")
        assert said == (encoding["scale"]["type"] == "log")
        if said:
            assert [encoding["axis"]["values"][0], encoding["axis"]["values"][-1]] == encoding["scale"]["domain"]


@everywhere
@any_price
def test_the_shaded_range_ends_exactly_where_the_stated_range_ends(median, frame):
    curve, interval = curve_of(median, 0.16)
    chart = estimate_picture(curve, interval, median, (), "USD", HERE.about)
    shaded = [row["x"] for row in rows_of(chart.at(frame), "area", fill=BLUE)]
    assert (shaded[0], shaded[-1]) == (interval["low"], interval["high"])
    low, high = HERE.about(shaded[0]), HERE.about(shaded[-1])
    assert chart.title == f"Eight in ten such sales end between {low} and {high}"
    said = {text for _, text in words(chart.at(frame))}
    assert {low, high, HERE.about(median)} <= said


@pytest.mark.parametrize("spread", [0.004, 0.16, 1.0])
def test_the_density_is_smooth_and_has_one_peak(spread):
    curve, _ = curve_of(45_000.0, spread)
    heights = np.array([point["height"] for point in curve])
    assert heights.max() == 1.0
    assert (np.diff(np.sign(np.diff(heights))) != 0).sum() == 1
    assert np.abs(np.diff(heights)).max() < 0.04


def test_a_heavy_tailed_narrow_peak_is_still_drawn_smooth():
    mixed = PriceDistribution(np.log([45_000.0]), np.array([[0.01, 0.9]]), np.array([0.9, 0.1]))
    heights = np.array([point.height for point in price_curve(mixed)])
    assert np.abs(np.diff(heights)).max() < 0.04
    assert (heights > 0.5).sum() > 20


def test_a_curve_is_made_again_where_an_older_program_put_its_points():
    distribution = PriceDistribution.log_normal([np.log(45_000.0)], [0.2])
    amounts = np.linspace(20_000, 90_000, 81).tolist()
    assert [point.amount for point in curve_at(distribution, amounts)] == amounts
    again = price_curve(distribution)
    assert curve_at(distribution, [point.amount for point in again]) == again


def test_an_open_range_is_said_as_it_is():
    curve, interval = curve_of(45_000.0, 0.16)
    chart = estimate_picture(curve, {**interval, "high": float("inf")}, 45_000.0, (), "", HERE.about)
    assert chart.title == f"Eight in ten such sales end above {HERE.about(interval['low'])}"
    assert rows_of(chart.spec, "area", fill=BLUE)[-1]["x"] == curve[-1]["amount"]


def test_the_nearest_sales_are_numbered_as_in_the_grid():
    spec = an_estimate().spec
    marks = {row["said"].split(".")[0]: row["x"] for row in rows_of(spec, "point")}
    assert marks == {str(n): pytest.approx(row["adjusted_price"]) for n, row in enumerate(grid_of(45_312.0), 1)}


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
        test_no_word_covers_another_or_leaves_the_picture(lambda median: place_chart(median, **more), 45_000.0, frame)


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


def test_the_track_record_runs_by_date_and_counts_the_sales_inside():
    chart = a_track(sales=9, name="Dray ")
    days = [row[0].rsplit(", ", 1)[1] for row in chart.rows]
    assert days == sorted(days)
    inside = sum(row[-1] == "inside" for row in chart.rows)
    assert 0 < inside < 9
    assert chart.title == f"{inside} of 9 sales ended inside the range stated before the sale"
    outside = rows_of(chart.spec, "point", shape="diamond", fill=CLAY)
    assert len(outside) == 9 - inside + 1  # and the one that says what the mark means


def test_floor_target_and_ask_never_hide_each_other_however_near_they_are():
    for apart in (1e-4, 0.004, 0.1):
        spec = some_bands(apart=apart).at(NARROW)
        said = [text for _, text in words(spec)]
        assert {"floor", "target", "ask", "break-even"} <= {text.split(" ")[0] for text in said}
        test_no_word_covers_another_or_leaves_the_picture(lambda _, apart=apart: some_bands(apart=apart), 0, NARROW)


def test_the_ladder_ends_at_the_estimate_and_folds_what_moves_little():
    chart = a_ladder(parts=11)
    rungs = [row["x2"] for row in rows_of(chart.spec, "rule", color=INK)]
    assert rungs[-1] == pytest.approx(45_000.0)
    assert len(rungs) == 8
    assert any("everything else" in text for _, text in words(chart.spec))
    assert len(chart.rows) == 13


def test_the_paths_say_their_profit_as_far_as_the_simulation_is_sure():
    chart = some_paths()
    assert chart.title.endswith("expect +13,500, the most of 3 paths")
    assert ("sell as found", "goes in", "31,500", "27,000", "36,000") in chart.rows


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
