"""A vehicle or plans as they are told: files, words, or a file that words change."""

import pytest

from valuation.answers.given import told_plans, told_vehicle
from valuation.errors import PlanError, VehicleError


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("a vehicle.toml", "b.toml", "odd=name.toml"):
        (tmp_path / name).touch()


@pytest.mark.parametrize(
    ("told", "file", "words", "changed", "spoken"),
    [
        (["a vehicle.toml"], "a vehicle.toml", (), "", "'a vehicle.toml'"),
        (["year=1951", "family=Garrow Wren"], None, ("year=1951", "family=Garrow Wren"), "",
         "year=1951 'family=Garrow Wren'"),
        (["b.toml", "year=1951"], "b.toml", ("year=1951",), "year", "b.toml year=1951"),
        (["odd=name.toml"], "odd=name.toml", (), "", "odd=name.toml"),
    ],
)  # fmt: skip
def test_a_vehicle_is_a_file_or_words_or_both(here, told, file, words, changed, spoken):
    found = told_vehicle(told)
    assert (found.file, found.words, found.changed, found.spoken) == (file, words, changed, spoken)


def test_two_files_are_no_vehicle(here):
    with pytest.raises(VehicleError, match="a vehicle is one file, or words such as condition=driver"):
        told_vehicle(["a vehicle.toml", "b.toml"])


@pytest.mark.parametrize("told", [["none.toml"], ["none.toml", "year=1951"]])
def test_a_missing_vehicle_says_both_ways_to_make_one(here, told):
    with pytest.raises(VehicleError, match=r"in words instead, such as year=1951.*'valuation start FOLDER' makes one"):
        told_vehicle(told)


def test_plans_are_files_each_or_one_vehicle_in_words(here):
    assert [one.file for one in told_plans(["a vehicle.toml", "b.toml"])] == ["a vehicle.toml", "b.toml"]
    [one] = told_plans(["b.toml", "year=1951"])
    assert (one.file, one.words) == ("b.toml", ("year=1951",))
    with pytest.raises(PlanError, match="'valuation start FOLDER' writes a plan to fill in"):
        told_plans(["b.toml", "none.toml"])
