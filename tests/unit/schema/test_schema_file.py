"""Schema files: what is read from them, and the words of each refusal."""

import dataclasses

import pytest

from valuation.errors import SchemaError
from valuation.schema import Role, lowest_value, parse_schema, read_schema, schema_from_dict
from valuation.schema.schema import OWN_PURCHASE

GOOD = """
name = "houses"
currency = "USD"
day_first = true
date_required = true
earliest_sale = 1980-01-01
default_outcome = "sold"
[rates]
EUR = 1.1
[venue_premiums]
"Hall" = 10
[venue_fees]
"Hall" = 250
[columns]
price = ["asked or paid"]
[outcomes]
asking = ["listed"]
[attributes.area]
role = "number"
unit = "m2"
minimum = 10
expected = { percent = 5, give_or_take = 3, per = 10 }
direction = "up"
aliases = ["size"]
[attributes.view]
role = "ordinal"
levels = ["none", { name = "some", meaning = "Between houses.", aliases = ["partly"] }, "open"]
[attributes.garage]
role = "flag"
missing = "lowest"
"""


def test_everything_is_read():
    schema = parse_schema(GOOD, "houses.toml")
    assert (schema.name, schema.currency, schema.day_first, schema.date_required) == ("houses", "USD", True, True)
    assert (schema.earliest_sale, schema.default_outcome) == ("1980-01-01", "sold")
    assert (schema.rates, schema.venue_premiums, schema.venue_fees) == ({"EUR": 1.1}, {"Hall": 10.0}, {"Hall": 250.0})
    assert schema.sale_aliases == {"price": ("asked or paid",)}
    assert schema.outcome_aliases == {"asking": ("listed",)}
    assert schema.names == ("area", "view", "garage")
    area, view = schema.attribute("area"), schema.attribute("view")
    assert (area.role, area.unit, area.minimum, area.aliases) == (Role.NUMBER, "m2", 10.0, ("size",))
    assert area.expected is not None
    assert (area.expected.percent, area.expected.give_or_take, area.expected.per) == (5.0, 3.0, 10.0)
    assert view.level_names == ("none", "some", "open")
    assert (view.levels[1].meaning, view.levels[1].aliases) == ("Between houses.", ("partly",))
    assert schema.source_text == GOOD


def test_the_name_defaults_to_the_file(tmp_path):
    file = tmp_path / "boats.toml"
    file.write_text('[attributes.length]\nrole = "number"\n', encoding="utf-8-sig")
    assert read_schema(file).name == "boats"


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(SchemaError, match=r"Cannot read the schema file .*none\.toml: No such file.*Check the path"):
        read_schema(tmp_path / "none.toml")


def test_a_file_that_is_no_text_is_named(tmp_path):
    file = tmp_path / "odd.toml"
    file.write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(SchemaError, match="it is not UTF-8 text"):
        read_schema(file)


def edited(old, new):
    assert old in GOOD
    return GOOD.replace(old, new)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = houses", r"Cannot use the schema s\.toml: it is not well-formed TOML: .*line 1"),
        ("name = 'x'", r"\[attributes\] is empty\. Add at least one attribute"),
        (
            edited('currency = "USD"', 'currncy = "USD"'),
            r"at the top, currncy is not known here\..*Did you mean 'currency'",
        ),
        (edited('currency = "USD"', "currency = 5"), r"at the top, currency = 5 is not text\. Write it in quotes"),
        (edited("day_first = true", 'day_first = "yes"'), r"day_first = 'yes' is neither true nor false"),
        (edited("EUR = 1.1", 'EUR = "1.1"'), r"\[rates\] EUR = '1\.1' is not a number\. Write it without quotes"),
        (edited("EUR = 1.1", "EUR = 0"), r"\[rates\] EUR = 0\. A rate is a number above 0"),
        (edited('currency = "USD"', ""), r"\[rates\] is given, but the schema names no currency"),
        (edited('"Hall" = 10', '"Hall" = 110'), r"\[venue_premiums\] Hall = 110\. Write percent from 0 to below 100"),
        (edited('"Hall" = 250', '"Hall" = -1'), r"\[venue_fees\] Hall = -1\. Write an amount of 0 or more"),
        (
            edited('"Hall" = 250', '"Hall" = 250\n[venue_gaps]\n"Hall" = -3'),
            r"\[venue_gaps\] Hall = -3\. Write percent from 0 to 300",
        ),
        (
            edited('role = "ordinal"', 'role = "ordinal"\nlevels_differ = "much"'),
            r'levels_differ = "much" has no meaning for role = "ordinal"',
        ),
        (
            edited('role = "ordinal"', 'role = "nominal"\nlevels_differ = "hugely"'),
            r"levels_differ .*hugely",
        ),
        (edited("price = [", "prize = ["), r"\[columns\] prize is not known here\..*Did you mean 'price'"),
        (edited('["asked or paid"]', '"asked"'), r"\[columns\] price = 'asked' is not a list of texts"),
        (edited("asking = [", "aking = ["), r"\[outcomes\] aking is not known here\..*Did you mean 'asking'"),
        (
            edited('"sold"', '"soldd"'),
            r"default_outcome = 'soldd'\. Write one of sold, bid_not_met, asking\. Did you mean 'sold'",
        ),
        (edited("1980-01-01", '"long ago"'), r"earliest_sale = 'long ago' is not a date\. Write it as"),
        (edited('role = "number"', ""), r"\[attributes\.area\] role is missing\. Write one of number, smooth"),
        (edited('role = "number"', 'role = "numbar"'), r'role = "numbar" is not accepted\..*Did you mean \'number\''),
        (
            edited("minimum = 10", "minimumx = 10"),
            r"\[attributes\.area\] minimumx is not known here\..*Did you mean 'minimum'",
        ),
        (edited("minimum = 10", "minimum = 10\nmaximum = 5"), r"\[attributes\.area\] has minimum 10 and maximum 5"),
        (edited('direction = "up"', 'direction = "upp"'), r"Write one of up, down\. Did you mean 'up'"),
        (edited('direction = "up"', 'direction = "down"'), r'expected is 5 percent, but direction = "down"'),
        (edited("give_or_take = 3, ", ""), r"expected needs both percent and give_or_take"),
        (
            edited("percent = 5", "percent = -100"),
            r"\[attributes\.area\] expected: An expected effect must be above -100",
        ),
        (edited("give_or_take = 3", "sure = 3"), r"sure is not known here\..*Did you mean 'give_or_take'"),
        (
            edited('role = "ordinal"', 'role = "nominal"\ndirection = "up"'),
            r'direction = "up" has no meaning for role = "nominal"',
        ),
        (edited('role = "ordinal"', 'role = "flag"'), r'levels is given, but role = "flag" has no levels'),
        (
            edited('levels = ["none", {', "levels = [{").replace(', "open"]', "]"),
            r"levels has 1 entry; an ordinal scale needs at least two",
        ),
        (edited('"open"]', '"None"]'), r"levels use 'None' both for the level 'none' and for 'None'"),
        (edited('"partly"', '"open"'), r"levels use 'open' both for the level 'some' and for 'open'"),
        (edited('{ name = "some", ', "{ "), r"\[attributes\.view\.levels\] name is missing"),
        (edited('["size"]', '["view"]'), r"the headers use 'view' both for the column 'area' and for 'view'"),
        (edited('["size"]', '["asked or paid"]'), r"use 'asked or paid' both for the column 'area' and for 'price'"),
        (
            edited("[attributes.garage]", "[attributes.price]"),
            r"\[attributes\.price\] uses a name that is reserved for the sale",
        ),
        (edited('role = "flag"', 'role = "nominal"'), r'missing = "lowest", but this attribute has no lowest value'),
        (edited('missing = "lowest"', 'missing = "zero"'), r"Write one of average, lowest, refuse"),
        (
            edited('role = "flag"', 'role = "flag"\nminimum = 0'),
            r'has a minimum or maximum, but role = "flag" holds no numbers',
        ),
        (edited('role = "flag"', 'role = "flag"\nrequired = "no"'), r"required = 'no' is neither true nor false"),
        ("attributes = 5", r"attributes = 5 is not a table\. Start a table with \[attributes\]"),
        (
            'attributes.x = "number"',
            r"\[attributes\] x = 'number' is not a table\. Start a table with \[attributes\.x\]",
        ),
        (edited('["listed"]', '["sold"]'), r"\[outcomes\] use 'sold' both for the outcome 'sold' and for 'asking'"),
        (edited('["size"]', '["--"]'), r"the headers give the column 'area' the name '--'\. Write a word"),
        ('[attributes.x]\nrole = "ordinal"\nlevels = "a, b"', r"levels = 'a, b' is not a list of names"),
    ],
)
def test_refusals_name_file_place_value_and_mend(text, words):
    with pytest.raises(SchemaError, match=words) as caught:
        parse_schema(text, "s.toml")
    assert "s.toml" in str(caught.value)


def test_more_refusals_of_expected_effects():
    with pytest.raises(SchemaError, match=r"'per' of an expected effect must be above 0 units; found -1"):
        parse_schema(edited("per = 10", "per = -1"))
    smooth = edited('role = "number"', 'role = "smooth"').replace('direction = "up"', "")
    with pytest.raises(SchemaError, match=r'\[attributes\.area\] expected has no meaning for role = "smooth"'):
        parse_schema(smooth)
    count = '[attributes.rooms]\nrole = "count"\nmissing = "lowest"'
    assert lowest_value(parse_schema(count).attribute("rooms")) == 0.0


def test_an_attribute_that_is_not_there():
    with pytest.raises(KeyError, match="colour"):
        parse_schema(GOOD).attribute("colour")


def test_a_schema_built_in_code_is_checked_when_it_comes_back_from_plain_data():
    schema = parse_schema(GOOD)
    broken = dataclasses.replace(schema, outcome_aliases={"soled": ("x",)})
    with pytest.raises(SchemaError, match=r"\[outcomes\] soled is not an outcome\..*Did you mean 'sold'"):
        schema_from_dict(broken.as_dict())
    twice = dataclasses.replace(schema, attributes=schema.attributes * 2)
    with pytest.raises(SchemaError, match=r"\[attributes.area\] appears twice"):
        schema_from_dict(twice.as_dict())
    strange = dataclasses.replace(schema, sale_aliases={"prise": ("x",)})
    with pytest.raises(SchemaError, match=r"\[columns\] prise is not a column of a sale\..*Did you mean 'price'"):
        schema_from_dict(strange.as_dict())


def test_what_a_sheet_for_a_buyer_may_show_is_read_and_settles_no_figure():
    own = '[attributes.condition]\nrole = "count"\n'
    plain = parse_schema(own)
    told = parse_schema('[for_buyers]\nprint_sources = ["Saltmarsh"]\nleave_out = ["Ada"]\n' + own)
    assert (told.print_sources, told.leave_out) == (("Saltmarsh",), ("Ada",))
    assert (plain.print_sources, plain.leave_out) == ((), OWN_PURCHASE)
    assert parse_schema("[for_buyers]\nleave_out = []\n" + own).leave_out == ()
    assert told.fingerprint() == plain.fingerprint()
    assert schema_from_dict(told.as_dict()) == told
    assert not {"print_sources", "leave_out"} & set(plain.as_dict())
    with pytest.raises(SchemaError, match=r"\[for_buyers\] sources is not known here.*Did you mean 'print_sources'"):
        parse_schema('[for_buyers]\nsources = ["x"]\n' + own)
