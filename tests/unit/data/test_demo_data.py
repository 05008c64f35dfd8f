"""The demo's table is what its script makes from the stated truth, and is as untidy as its dictionary says."""

import csv
import importlib.util
import math
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

DATA = Path(__file__).parents[3] / "data"
MADE = ("comparables.csv", "planted_faults.csv", "true_prices.toml")
TRUTH = tomllib.loads((DATA / "true_effects.toml").read_text(encoding="utf-8"))


def lines(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo", DATA / "make_demo.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def reference_vehicle(family: str) -> dict[str, Any]:
    return {"family": family, "body": next(iter(TRUTH["families"][family]["bodies"])), **TRUTH["reference"]}


def test_script_makes_the_committed_bytes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(DATA / "make_demo.py"), str(tmp_path)], check=True, timeout=60)
    for name in MADE:
        assert (tmp_path / name).read_bytes() == (DATA / name).read_bytes(), name


@pytest.mark.parametrize("family", TRUTH["base"])
def test_reference_vehicle_has_the_base_price(script: ModuleType, family: str) -> None:
    price = math.exp(script.log_median_price(TRUTH, reference_vehicle(family), date.fromisoformat(TRUTH["as_of"])))
    assert price == pytest.approx(TRUTH["base"][family])


def test_a_step_multiplies_the_price_by_what_the_truth_states(script: ModuleType) -> None:
    day = date.fromisoformat(TRUTH["as_of"])
    driver = reference_vehicle("Penhurrow Haywain")
    show = {**driver, "condition": "show", "drivetrain": "missing", "original_finish": "yes", "mileage": 70000}
    ratio = math.exp(script.log_median_price(TRUTH, show, day) - script.log_median_price(TRUTH, driver, day))
    assert ratio == pytest.approx(1.38 * 0.69 * 1.14 * 0.984)


def test_prices_rise_by_the_stated_drift(script: ModuleType) -> None:
    # Three segments from the file: 9 % a year to July 2023, 4 % to March 2025, then -1 %.
    years = [607 / 365.25, 609 / 365.25, 609 / 365.25]
    expected = 1.09 ** years[0] * 1.04 ** years[1] * 0.99 ** years[2]
    assert math.exp(script.rise_after(TRUTH, date(2021, 11, 1))) == pytest.approx(expected)
    assert script.rise_after(TRUTH, date.fromisoformat(TRUTH["as_of"])) == 0


def test_year_curve_joins_its_knots_and_stays_flat_beyond(script: ModuleType) -> None:
    curve = TRUTH["curve"]["model_year"]
    heights = [math.exp(script.year_curve(curve, year)) for year in (1900, 1938, 1946, 1952, 1970, 1999)]
    assert heights == pytest.approx([1.06, 1.06, 0.9, math.sqrt(0.96), 0.83, 0.83])


def test_heavy_draws_have_the_quantiles_of_t_with_four_degrees(script: ModuleType) -> None:
    # Printed in tables of Student's t, 4 degrees of freedom: 0.95 at 2.132, 0.99 at 3.747.
    dice = script.Dice(0)
    for share, quantile in ((0.95, 2.132), (0.99, 3.747), (0.05, -2.132), (0.5, 0.0)):
        dice.uniform = lambda share=share: share
        assert dice.heavy() == pytest.approx(quantile, abs=5e-4)


def test_table_holds_the_stated_mix() -> None:
    rows = [line for line in lines("comparables.csv") if not line["sale"].endswith("-b")]
    assert len(rows) == sum(family["sales"] for family in TRUTH["families"].values())
    for outcome in ("bid_not_met", "asking"):
        count = sum(row["outcome"] == outcome for row in rows)
        assert count == round(len(rows) * TRUTH["mess"][outcome] / 100)
    for family, stated in TRUTH["families"].items():
        assert sum(row["family"] == family for row in rows) == stated["sales"]
    vehicles = [row["vehicle"] for row in rows]
    assert len(vehicles) - len(set(vehicles)) == TRUTH["mess"]["resales"]
    assert len({row["source"] for row in rows}) == len(rows)


def test_every_planted_fault_stands_in_the_table() -> None:
    rows = {row["sale"]: row for row in lines("comparables.csv")}
    planted = lines("planted_faults.csv")
    assert len(planted) == 7
    for fault in planted:
        if fault["column"]:
            assert rows[fault["sale"]][fault["column"]] == fault["found"]
        else:
            original = rows[fault["sale"].removesuffix("-b")]
            assert {**rows[fault["sale"]], "sale": "", "source": ""} == {**original, "sale": "", "source": ""}
