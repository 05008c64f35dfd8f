"""The reader finds exactly what was planted in the demo's table, and puts its prices on one basis."""

import csv
import tomllib
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from valuation.comparables import Comparables, read_comparables
from valuation.schema import read_schema, read_vehicle

DATA = Path(__file__).parents[3] / "data"
TRUTH = tomllib.loads((DATA / "true_effects.toml").read_text(encoding="utf-8"))
SCHEMA = read_schema(DATA / "schema.toml")


@pytest.fixture(scope="module")
def comparables() -> Comparables:
    return read_comparables(DATA / "comparables.csv", SCHEMA, today=date(2026, 11, 1))


@pytest.fixture(scope="module")
def entered() -> dict[str, dict[str, str]]:
    with (DATA / "comparables.csv").open(encoding="utf-8", newline="") as file:
        return {row["sale"]: row for row in csv.DictReader(file)}


def test_faults_are_the_planted_ones_and_no_others(
    comparables: Comparables, entered: dict[str, dict[str, str]]
) -> None:
    with (DATA / "planted_faults.csv").open(encoding="utf-8", newline="") as file:
        planted = {(row["sale"], row["column"] or "vehicle") for row in csv.DictReader(file)}
    sale_of_row = dict(enumerate(entered, start=2))
    assert {(sale_of_row[fault.row], fault.column) for fault in comparables.faults} == planted
    assert len(comparables.faults) == len(planted) == 7
    assert all(fault.sets_aside for fault in comparables.faults)


def test_mends_of_the_slip_and_of_the_misspelling_name_the_truth(comparables: Comparables) -> None:
    mends = {fault.code: fault.mend for fault in comparables.faults}
    assert "32,500" in mends["slipped_digit"]
    assert "'driver'" in mends["unknown_level"]


def test_outcomes_are_counted(comparables: Comparables) -> None:
    assert comparables.outcome_counts() == {"sold": 135, "bid_not_met": 22, "asking": 18, "set_aside": 7}


def test_dates_of_three_styles_are_read_alike(comparables: Comparables) -> None:
    dates = comparables.sales["date"]
    assert dates.is_monotonic_increasing  # the table is written in the order of the days
    assert dates.min() >= pd.Timestamp(TRUTH["drift"]["since"][0])
    assert dates.max() <= pd.Timestamp(TRUTH["as_of"])


def test_prices_stand_on_what_the_buyer_paid(comparables: Comparables, entered: dict[str, dict[str, str]]) -> None:
    rates = {"USD": 1.0, TRUTH["mess"]["foreign"]["currency"]: TRUTH["mess"]["foreign"]["rate"]}
    sold = comparables.sales[comparables.sales["outcome"] == "sold"]
    assert {entered[sale]["currency"] for sale in sold["sale"]} == rates.keys()
    for sale, low, high in zip(sold["sale"], sold["low"], sold["high"], strict=True):
        row, venue = entered[sale], TRUTH["venues"][entered[sale]["venue"]]
        paid = float(row["price"]) * (1 + venue["premium"] / 100) * rates[row["currency"]] + venue["fee"]
        assert low == high == pytest.approx(paid, abs=0.005)


def test_schema_file_names_the_stated_premiums_fees_and_rate() -> None:
    venues = TRUTH["venues"].items()
    assert SCHEMA.venue_premiums == {name: venue["premium"] for name, venue in venues}
    assert SCHEMA.venue_fees == {name: venue["fee"] for name, venue in venues if venue["fee"]}
    assert SCHEMA.rates == {TRUTH["mess"]["foreign"]["currency"]: TRUTH["mess"]["foreign"]["rate"]}


@pytest.mark.parametrize("path", sorted((DATA / "vehicles").glob("*.toml")), ids=lambda path: path.stem)
def test_vehicles_give_every_attribute(path: Path) -> None:
    assert set(read_vehicle(path, SCHEMA).attributes) == set(SCHEMA.names)


def test_data_dictionary_names_every_column_and_file(entered: dict[str, dict[str, str]]) -> None:
    dictionary = (DATA / "README.md").read_text(encoding="utf-8")
    columns = next(iter(entered.values()))
    files = [path.name for path in DATA.iterdir() if path.suffix in (".csv", ".toml", ".py")]
    for word in [*columns, *files]:
        assert f"| `{word}` |" in dictionary, word
