"""Vehicles to be valued: reading, checking, and the row that the regression sees."""

import copy
import dataclasses
import datetime as dt
import json
import pickle
import re

import numpy as np
import pandas as pd
import pytest

from valuation.errors import VehicleError
from valuation.schema import (
    Attribute,
    Level,
    Role,
    Schema,
    Vehicle,
    default_schema,
    parse_vehicle,
    read_vehicle,
    vehicle_from_words,
    vehicles_frame,
)

VINTAGE = default_schema()
TERN = {"family": "Tern", "model_year": 1951, "condition": "driver", "original_finish": True, "mileage": "45,000 miles"}
SMALL = Schema(
    "small",
    (
        Attribute("seen", Role.DATE),
        Attribute("grade", Role.ORDINAL, levels=(Level("low"), Level("high")), missing="refuse"),
        Attribute("size", Role.NUMBER, missing="lowest", minimum=3),
        Attribute("kind", Role.NOMINAL, levels=(Level("a"), Level("b"))),
    ),
)


def test_toml_with_and_without_a_table_of_attributes(tmp_path):
    flat, nested = tmp_path / "flat.toml", tmp_path / "nested.toml"
    flat.write_text('name = "Tern 1951"\nfamily = "Tern"\nmodel_year = 1951\ncondition = "driver"\n', encoding="utf-8")
    nested.write_text(
        'name = "Tern 1951"\n[attributes]\nFamily = "Tern"\nYear = "1951"\ncondition = "Good driver"\n',
        encoding="utf-8",
    )
    assert read_vehicle(flat, VINTAGE) == read_vehicle(nested, VINTAGE)
    assert read_vehicle(flat, VINTAGE).attributes == {"family": "Tern", "model_year": 1951.0, "condition": "driver"}


def test_json_gives_the_same_vehicle_and_a_file_without_a_name_lends_its_own(tmp_path):
    file = tmp_path / "barn find.json"
    file.write_text(json.dumps(TERN), encoding="utf-8")
    vehicle = read_vehicle(file, VINTAGE)
    assert vehicle == parse_vehicle(TERN, VINTAGE, "barn find")
    assert vehicle.attributes["mileage"] == 45000.0
    assert parse_vehicle(json.loads(json.dumps(vehicle.as_dict())), VINTAGE) == vehicle


def test_a_date_survives_json():
    vehicle = parse_vehicle({"seen": dt.date(2024, 5, 31), "grade": "low"}, SMALL)
    assert vehicle.as_dict()["attributes"]["seen"] == "2024-05-31"
    assert parse_vehicle(vehicle.as_dict(), SMALL) == vehicle


def test_attributes_cannot_be_changed_in_place_and_copies_are_equal():
    vehicle = parse_vehicle(TERN, VINTAGE, "t")
    with pytest.raises(TypeError, match="does not support item assignment"):
        vehicle.attributes["condition"] = "show"  # type: ignore[index]
    assert pickle.loads(pickle.dumps(vehicle)) == copy.deepcopy(vehicle) == vehicle


def test_blank_and_null_are_unknown():
    assert parse_vehicle({"paint": None, "body": " ", "mileage": "n/a"}, VINTAGE).attributes == {}


def test_a_family_never_seen_is_accepted():
    assert parse_vehicle({"family": "Unheard-of Nine"}, VINTAGE).attributes == {"family": "Unheard-of Nine"}


def test_levels_take_the_spelling_of_a_table():
    vehicle = parse_vehicle({"family": "penhurrow  haywain", "model_year": 1951}, VINTAGE)
    assert vehicle.spelled_as({"family": ["Penhurrow Haywain", "Tern"], "body": ["pickup"]}).attributes == {
        "family": "Penhurrow Haywain",
        "model_year": 1951.0,
    }
    assert vehicle.spelled_as({"family": ["Tern"]}) == vehicle


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"condishon": "driver"}, r"attribute 'condishon' that the schema 'vintage' does not know\..*mean 'condition'"),
        (
            {"condition": "drivr"},
            r"in condition, 'drivr' is not a level of condition\. Write 'driver' if that is meant",
        ),
        ({"model_year": -1951}, r"in model_year, Model year -1951 is out of range; 1885 to 2015 is accepted"),
        ({"model_year": float("inf")}, r"in model_year, 'inf' is infinite"),
        ({"model_year": [1951]}, r"model_year is \[1951\]; one text, number, date, true or false is needed"),
        ({"original_finish": "perhaps"}, r"in original_finish, 'perhaps' is neither yes nor no"),
        ({"model_year": 1951, "Year": 1952}, r"'model_year' is given twice"),
        ({"name": 5}, r"whose name is 5: write it in quotes"),
        ({"attributes": "driver"}, r"'attributes' is 'driver'; a table of names and values is needed"),
        ({"attributes": {}, "paint": "worn"}, r"found 'paint' beside the table 'attributes'\. Move it into"),
        ({"family": "x" * 300}, r"family is a text of 300 characters"),
        (["condition"], r"found \['condition'\]; a table of attributes is needed"),
    ],
)
def test_refusals(data, words):
    with pytest.raises(VehicleError, match=words):
        parse_vehicle(data, VINTAGE)


def test_an_attribute_that_the_schema_refuses_to_do_without():
    with pytest.raises(VehicleError, match=r"its grade is missing, and the schema 'small' requires it\. Add 'grade'"):
        parse_vehicle({"size": 5}, SMALL)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("a.toml", "condition = driver", "not well-formed TOML: .*stands in quotes"),
        ("a.json", "{", "not well-formed JSON"),
    ],
)
def test_files_that_cannot_be_understood(tmp_path, name, text, words):
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(VehicleError, match=words):
        read_vehicle(tmp_path / name, VINTAGE)


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(VehicleError, match=r"Cannot read the vehicle file .*gone\.toml: No such file"):
        read_vehicle(tmp_path / "gone.toml", VINTAGE)
    (tmp_path / "odd.toml").write_bytes(b"\xff\x81")
    with pytest.raises(VehicleError, match="it is not UTF-8 text"):
        read_vehicle(tmp_path / "odd.toml", VINTAGE)


def test_the_frame_is_typed_for_the_regression():
    frame = vehicles_frame([parse_vehicle(TERN, VINTAGE, "t")], VINTAGE)
    assert list(frame.columns) == list(VINTAGE.names)
    assert frame.index.tolist() == ["t"]
    condition = frame["condition"].dtype
    assert isinstance(condition, pd.CategoricalDtype)
    assert condition.ordered
    assert tuple(condition.categories) == VINTAGE.attribute("condition").level_names
    assert frame["drivetrain"].dtype == pd.CategoricalDtype(list(VINTAGE.attribute("drivetrain").level_names))
    assert frame["model_year"].dtype == frame["original_finish"].dtype == np.dtype(float)
    assert frame.loc["t", "original_finish"] == 1.0
    assert frame["paint"].isna().all()
    assert frame.loc["t", "awards"] == "none"  # a missing cell is the lowest level, as the schema says


def test_many_vehicles_in_one_frame():
    frame = vehicles_frame(
        [
            parse_vehicle({"grade": "low", "seen": "2024-05-31"}, SMALL, "a"),
            Vehicle("b", {"grade": "high", "kind": "b"}),
        ],
        SMALL,
    )
    assert frame["seen"].dtype == np.dtype("datetime64[ns]")
    assert frame["seen"].isna().tolist() == [False, True]
    assert frame["grade"].tolist() == ["low", "high"]
    assert frame["size"].tolist() == [3.0, 3.0]
    assert frame["kind"].isna().tolist() == [True, False]


def test_no_vehicles_give_an_empty_typed_frame():
    frame = vehicles_frame([], SMALL)
    assert frame.shape == (0, 4)
    assert frame["seen"].dtype == np.dtype("datetime64[ns]")


SEEN = {"family": ["Garrow Wren", "Garrow Heron"]}


def test_words_of_a_command_line_are_the_same_vehicle_as_a_file_in_whatever_order():
    words = ["Condition=Driver", "model_year=1952", "family=garrow-wren"]
    vehicle = vehicle_from_words(words, VINTAGE, SEEN)
    assert vehicle == parse_vehicle(
        {"name": vehicle.name, "family": "Garrow Wren", "model_year": 1952, "condition": "driver"}, VINTAGE
    )
    assert vehicle.name == "Garrow Wren 1952 driver"
    assert vehicle_from_words(words[::-1], VINTAGE, SEEN) == vehicle
    assert vehicle_from_words([*words, "Name=Our Wren"], VINTAGE, SEEN).name == "Our Wren"


def test_a_new_level_that_looks_misspelt_is_asked_about_and_taken_when_it_is_new_indeed():
    odd = ["family=Garow Wren"]
    with pytest.raises(
        VehicleError, match=r"no sale in the table has family 'Garow Wren'\. Did you mean 'Garrow Wren'"
    ):
        vehicle_from_words(odd, VINTAGE, SEEN)
    assert vehicle_from_words(odd, VINTAGE, SEEN, as_written=True).attributes["family"] == "Garow Wren"
    assert vehicle_from_words(["family=Tarrowby"], VINTAGE, SEEN).attributes["family"] == "Tarrowby"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["driver"], "'driver': it is not of the form attribute=value. Write it as in condition=driver"),
        (["=driver"], "not of the form attribute=value"),
        (["condition=driver", "CONDITION=show"], "'CONDITION' is given twice"),
        (["condition=drvier"], "'drvier' is not a level of condition. Write 'driver' if that is meant"),
        (["conditiom=driver"], "Did you mean 'condition'?"),
    ],
)
def test_words_that_cannot_be_understood_are_refused(words, message):
    with pytest.raises(VehicleError, match=re.escape(message)):
        vehicle_from_words(words, VINTAGE, SEEN)


def test_words_change_what_a_vehicle_says_by_alias_too_and_leave_its_name():
    base = parse_vehicle({"name": "Our Wren", "family": "Garrow Wren", "model_year": 1952, "paint": "worn"}, VINTAGE)
    changed = vehicle_from_words(["year=1953", "Paint=fresh", "condition=driver"], VINTAGE, SEEN, base=base)
    assert changed.name == "Our Wren"
    assert changed.attributes == {"family": "Garrow Wren", "model_year": 1953, "condition": "driver", "paint": "fresh"}
    assert vehicle_from_words(["name=Yours"], VINTAGE, SEEN, base=base).name == "Yours"


@pytest.mark.parametrize(
    "told",
    [
        {"number": "PH-604", "condition": "driver", "family": "Haywain", "model_year": 1952},
        {"chassis_number": "PH-604", "condition": "driver", "family": "Haywain", "model_year": 1952},
        {"number": " PH-604 ", "attributes": {"condition": "driver", "family": "Haywain", "model_year": 1952}},
        {"attributes": {"vehicle": "PH-604", "condition": "driver", "family": "Haywain", "model_year": 1952}},
    ],
)
def test_what_identifies_a_vehicle_is_told_by_any_header_of_that_column(told):
    schema = default_schema()
    vehicle = parse_vehicle(told, schema, "Tern")
    assert vehicle.number == "PH-604"
    assert set(vehicle.attributes) == {"condition", "family", "model_year"}
    assert parse_vehicle(vehicle.as_dict(), schema) == vehicle
    assert parse_vehicle(vehicle.kept(), schema, vehicle.name) == vehicle
    assert pickle.loads(pickle.dumps(vehicle)) == vehicle
    assert vehicle.spelled_as({"family": ["HAYWAIN"]}).number == "PH-604"


def test_words_tell_the_number_too():
    words = ["vin=PH-604", "condition=driver", "family=Haywain", "model_year=1952"]
    told = vehicle_from_words(words, default_schema())
    assert told.number == "PH-604"
    assert vehicle_from_words(["condition=show"], default_schema(), base=told).number == "PH-604"
    assert vehicle_from_words(["number=PH-605"], default_schema(), base=told).number == "PH-605"


def test_two_different_numbers_are_refused():
    told = {"number": "PH-604", "vin": "PH-605", "condition": "driver"}
    with pytest.raises(VehicleError, match=r"'number' and 'vin' give different numbers of the vehicle\. Keep the one"):
        parse_vehicle(told, default_schema())
    assert parse_vehicle({**told, "vin": "PH-604"}, default_schema()).number == "PH-604"


def test_an_attribute_that_is_called_number_stays_one():
    schema = dataclasses.replace(default_schema(), attributes=(Attribute("number", Role.COUNT),))
    assert parse_vehicle({"number": 3}, schema).attributes == {"number": 3.0}
    told = {"number": "PH-604", "attributes": {"number": 3}}
    assert parse_vehicle(told, schema).attributes == {"number": 3.0}
    assert parse_vehicle(told, schema).number == "PH-604"
