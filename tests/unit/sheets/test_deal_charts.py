"""The charts of a deal and of a record: three prices apart, profit as far as it is sure, sales counted."""

import datetime as dt

import pytest

from tests.unit.sheets.chart_samples import (
    HERE,
    a_track,
    check_words_apart,
    everywhere,
    px,
    rows_of,
    some_bands,
    some_paths,
    words,
)
from valuation.sheets.chart_style import BLUE, CLAY, FAINT, NARROW
from valuation.sheets.talks_chart import talks_picture


def test_the_track_record_runs_by_date_and_counts_the_sales_inside():
    chart = a_track(sales=9, name="Dray ")
    days = [row[0].rsplit(", ", 1)[1] for row in chart.rows]
    assert days == sorted(days)
    inside = sum(row[-1] == "inside" for row in chart.rows)
    assert 0 < inside < 9
    assert chart.title == f"{inside} of 9 sales ended inside the range stated before the sale"
    outside = rows_of(chart.spec, "point", shape="diamond", fill=CLAY)
    assert len(outside) == 9 - inside + 1  # and the one that says what the mark means
    assert a_track(sales=1).title in {
        f"The one sale ended {where} the range stated before it" for where in ("inside", "outside")
    }


def test_floor_target_and_ask_never_hide_each_other_however_near_they_are():
    for apart in (1e-4, 0.004, 0.1):
        spec = some_bands(apart=apart).at(NARROW)
        said = [text for _, text in words(spec)]
        assert {"floor", "target", "ask", "break-even"} <= {text.split(" ")[0] for text in said}
        check_words_apart(spec, NARROW)


def test_the_paths_say_their_profit_as_far_as_the_simulation_is_sure():
    chart = some_paths()
    assert chart.title.endswith("expect +13,500, the most of 3 paths")
    assert ("sell as found", "goes in", "31,500", "27,000", "36,000") in chart.rows


@everywhere
@pytest.mark.parametrize("fall", [0.0, 0.01, 0.3])
def test_no_word_of_the_talks_lies_on_the_line_of_the_floor_or_of_the_ask(frame, fall):
    bid = {"offered_on": "2026-11-26", "amount": 38_000.0, "answer": "", "counter": None, "answered_on": ""}
    floors = [{"day": f"2026-{10 + k}-03", "floor": 41_000.0 * (1 - fall * k)} for k in range(3)]
    told = [{"called": "Ada", "bids": [bid]}]
    for now in (40_000.0, 40_700.0, 41_000.0):
        chart = talks_picture(told, floors, 55_300.0, now, dt.date(2026, 11, 26), "USD", HERE)
        spec = chart.at(frame)
        line = [
            (
                px(spec, row["x"]) * (1 - part / 40) + px(spec, row["x2"]) * part / 40,
                row["y"] * (1 - part / 40) + row["y2"] * part / 40,
            )
            for row in (
                *rows_of(spec, "rule", color=BLUE, strokeWidth=2.2),
                *rows_of(spec, "rule", color=FAINT, strokeDash=[4, 3]),
            )
            for part in range(41)
        ]
        assert line
        struck = [text for box, text in words(spec) for x, y in line if box[0] < x < box[2] and box[1] < y < box[3]]
        assert not struck
        assert "floor now" in " ".join(text for _, text in words(spec))
