"""TOML and JSON: what is written reads back the same, and what no file of this house holds is refused."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from valuation.text.files import read_text_file
from valuation.text.json import read_json
from valuation.text.toml import read_toml, toml_text

plain = (
    st.booleans()
    | st.integers(-(2**60), 2**60)
    | st.floats(allow_nan=False)
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
    | st.dates(dt.date(1, 1, 1))
)
inner = st.recursive(
    plain,
    lambda one: st.lists(one, max_size=3) | st.dictionaries(st.text("ab .é\"'", max_size=3), one, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.text("ab .é\"'=", max_size=4), inner, max_size=4))
def test_data_survives_toml(data):
    assert read_toml(toml_text(data)) == data


def test_a_plan_is_written_as_a_person_would():
    data = {
        "name": "quick",
        "event": {"name": "Spring meet", "chances": {"show": {"local": 0.3}}},
        "steps": [{"id": "paint", "cost": [1, 2.5, 3.0], "sets": {"paint": "fresh"}, "after": None}],
    }
    assert toml_text(data) == (
        'name = "quick"\n\n[event]\nname = "Spring meet"\n\n[event.chances]\nshow = { local = 0.3 }\n\n'
        '[[steps]]\nid = "paint"\ncost = [1, 2.5, 3]\nsets = { paint = "fresh" }\n'
    )


def test_what_toml_cannot_hold_is_named():
    with pytest.raises(ValueError, match=r"holds 1j under 'odd'"):
        toml_text({"steps": [{"odd": 1j}]})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[" * 1000, "is not well-formed TOML"),
        ("a = " + "[" * 100_000, "nests lists or tables"),
        ("a = " + "[" * 90 + "]" * 90, "lists or tables more than 64 deep"),
        ("a = " + "9" * 5000, "a value that cannot be read"),
        ("a = = 1", "is not well-formed TOML"),
        (".".join(["a"] * 20_000) + " = 1", "nests lists or tables"),
        (".".join(['"a"'] * 20_000) + " = 1", "nests lists or tables"),
        ("[" + ".".join(["a"] * 20_000) + "]", "nests lists or tables"),
        ("x = { " + ".".join(["a"] * 20_000) + " = 1 }", "nests lists or tables"),
        ("a" * 1_000_001, "has 1,000,001 characters"),
    ],
)
def test_toml_that_cannot_be_used_is_refused(text, words):
    with pytest.raises(ValueError, match=words):
        read_toml(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[" * 1000, "nests lists or tables|is not well-formed"),
        ("[" * 100_000 + "]" * 100_000, "nests lists or tables"),
        ("[" * 90 + "]" * 90, "lists or tables more than 64 deep"),
        ('{"a": NaN}', "holds NaN, which is not a number"),
        ('{"a": -Infinity}', "holds -Infinity, which is not a number"),
        ('{"a": 1e999}', "holds the number 1e999, which is too large"),
        ('{"a": ' + "9" * 400 + "}", "holds a whole number of 400 digits"),
        ('{"a": ' + "9" * 9000 + "}", "holds a whole number of 9,000 digits"),
        ('{"a": "\\ud800"}', "holds a lone surrogate character"),
        ('{"a": 1, "a": 2}', "gives 'a' twice"),
        ("{", "is not well-formed JSON"),
    ],
)
def test_json_that_cannot_be_used_is_refused(text, words):
    with pytest.raises(ValueError, match=words):
        read_json(text)


def test_a_whole_sign_in_two_halves_is_read():
    assert read_json('"\\ud83d\\ude97"') == "🚗"


def test_files_that_hold_no_text_are_refused(tmp_path):
    (tmp_path / "odd").write_bytes(b"\xff\x00\xfe")
    for path, words in ((tmp_path, "Is a directory"), (tmp_path / "none", "No such file"), (tmp_path / "odd", "UTF-8")):
        with pytest.raises(ValueError, match=words):
            read_text_file(path)
    with pytest.raises(ValueError, match="null"):
        read_text_file("a\0b")
