"""Charts of invented figures for any price, and what stands on a drawn one."""

import datetime as dt
import json
from itertools import pairwise

import numpy as np
import pytest

from valuation.regression.distribution import PriceDistribution
from valuation.regression.price_curve import price_curve
from valuation.sheets.bands_chart import bands_picture
from valuation.sheets.chart_layout import text_width
from valuation.sheets.chart_style import MIDDLE, NARROW, PAPER, WIDE, Frame
from valuation.sheets.charts import effects_picture, estimate_picture, influence_picture
from valuation.sheets.deal_charts import paths_picture, profit_picture, steps_picture, timeline_picture
from valuation.sheets.paper_charts import LETTERS, TYPE, WIDTH
from valuation.sheets.place import Place, Point
from valuation.sheets.place_chart import place_picture
from valuation.sheets.sale_charts import price_by_date, track_picture
from valuation.sheets.talks_chart import talks_picture
from valuation.sheets.work_chart import work_picture
from valuation.text.locale import Locale
from valuation.text.plain import plain

HERE = Locale()
FRAMES = {"wide": WIDE, "middle": MIDDLE, "narrow": NARROW, "paper": Frame(WIDTH, LETTERS, TYPE, HERE)}
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


def check_words_apart(spec, frame):
    """No word covers another, leaves the picture or stands on the axis."""
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
