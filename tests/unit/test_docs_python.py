"""docs/python.md and docs/python.py do what they show: every block is run, and what it prints is what stands there."""

import contextlib
import io
import re
import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
BLOCKS = re.compile(r"```python\n(.*?)```(?:\n+```text\n(.*?)```)?", re.DOTALL)


@pytest.fixture
def at_home(monkeypatch):
    monkeypatch.chdir(ROOT)


def run_blocks(page):
    """Code, what is shown of its output, and what it printed, block by block in one namespace."""
    names: dict[str, object] = {}
    for code, shown in BLOCKS.findall(page):
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(code, "docs/python.md", "exec"), names)
        yield code, shown, printed.getvalue()


def stripped(text):
    return [line.rstrip() for line in text.rstrip().splitlines()]


def test_every_block_runs_and_prints_what_is_shown(at_home):
    ran = list(run_blocks(PAGE))
    assert len(ran) == PAGE.count("```python") > 10
    for code, shown, printed in ran:
        assert stripped(printed) == stripped(shown), code


def test_a_wrong_output_would_be_seen():
    [(_, shown, printed)] = run_blocks("```python\nprint(1 + 1)\n```\n\n```text\n3\n```\n")
    assert stripped(printed) != stripped(shown)


def test_every_function_named_on_the_page_is_public():
    import valuation

    named = set(re.findall(r"\bv\.([A-Za-z_]+)", PAGE))
    assert named <= set(valuation.__all__)
    assert {"from_frame", "estimate", "explain", "backtest", "compare_paths", "frame", "chart"} <= named


def test_the_script_runs_and_its_estimate_lies_between_its_neighbours(at_home):
    names = runpy.run_path(str(ROOT / "docs" / "python.py"))
    prices = dict(zip(names["sales"]["condition"], names["sales"]["price"], strict=True))
    assert prices["runner"] < names["found"].median < prices["show"]
    assert names["grid"]["weight"].sum() == pytest.approx(1)
    assert names["paths"].paths[0].name == "sell as found"
    assert "<svg" in names["picture"].svg()
