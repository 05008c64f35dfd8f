"""A schema saved as plain data or as a file comes back as the same schema."""

import json

import pytest

from valuation.errors import SchemaError
from valuation.schema import (
    Attribute,
    Expectation,
    Level,
    Role,
    Schema,
    default_schema,
    parse_schema,
    schema_from_dict,
)

ODD = Schema(
    name="odd",
    title='Quotes " and \\ and ü',
    attributes=(
        Attribute("size in m²", Role.NUMBER, unit="m²", minimum=0.1, expected=Expectation(1 / 3, 2.5, 7.0)),
        Attribute(
            "grade", Role.ORDINAL, levels=(Level("low"), Level("high", "A tab\there.", ("top",))), direction="up"
        ),
        Attribute("seen", Role.DATE, missing="refuse", required=True, label="Seen on", meaning="When."),
        Attribute("kind", Role.NOMINAL, aliases=("sort", "type of thing")),
    ),
    sale_aliases={"price": ("what it cost",)},
    outcome_aliases={"sold": ("gone",)},
    default_outcome="sold",
    currency="EUR",
    rates={"USD": 0.9},
    venue_premiums={"The Hall, 2nd floor": 12.5},
    venue_fees={"The Hall, 2nd floor": 99.0},
    venue_gaps={"The Hall, 2nd floor": 7.5},
    day_first=True,
    date_required=True,
)


@pytest.mark.parametrize("schema", [ODD, default_schema()], ids=["odd", "vintage"])
def test_plain_data_gives_an_equal_schema_back(schema):
    assert schema_from_dict(json.loads(json.dumps(schema.as_dict()))) == schema


def test_the_fingerprint_sees_meaning_and_not_comments():
    text = default_schema().source_text
    assert parse_schema("# a comment\n" + text).fingerprint() == default_schema().fingerprint()
    assert parse_schema(text.replace("percent = 35", "percent = 36")).fingerprint() != default_schema().fingerprint()
    assert len(default_schema().fingerprint()) == 64


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data.pop("attributes"),
        lambda data: data.update(unheard_of=1),
        lambda data: data["attributes"][0].update(role="bogus"),
        lambda data: data["attributes"][0].update(levels=[{"name": "x"}]),
    ],
)
def test_damaged_plain_data_is_refused(damage):
    data = ODD.as_dict()
    damage(data)
    with pytest.raises(SchemaError, match="Cannot rebuild a schema from saved data"):
        schema_from_dict(data)


def test_plain_data_that_contradicts_itself_is_refused():
    data = ODD.as_dict()
    data["attributes"][0]["expected"]["give_or_take"] = 0
    with pytest.raises(SchemaError, match="'give_or_take' of an expected effect must be above 0"):
        schema_from_dict(data)
