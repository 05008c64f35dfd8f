"""Every chart keeps its promises: words apart and large enough, a finding, a table, and axes that say what they are."""

import json

import pytest

from tests.unit.sheets.chart_samples import FRAMES, any_price, check_words_apart, every_chart, everywhere, layers
from valuation.sheets.chart_style import NARROW
from valuation.sheets.paper_charts import TYPE

TEXT_WIDTH_OF_A4 = (210 - 2 * 18) / 25.4 * 72
"""Points between the margins of ``templates/paper.typ``."""


@everywhere
@any_price
@every_chart
def test_no_word_covers_another_or_leaves_the_picture(make, median, frame):
    check_words_apart(make(median).at(frame), frame)


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
