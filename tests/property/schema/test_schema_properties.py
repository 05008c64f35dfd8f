"""What must hold for every schema and every spelling of a value."""

import dataclasses
import datetime as dt
import json

from hypothesis import given
from hypothesis import strategies as st

from valuation.errors import SchemaError
from valuation.schema import (
    Attribute,
    Expectation,
    Level,
    Role,
    Schema,
    Vehicle,
    parse_schema,
    parse_vehicle,
    schema_from_dict,
    vehicles_frame,
)
from valuation.schema.values import as_text
from valuation.text.dates import read_date
from valuation.text.numbers import read_number

word = (
    st.text("abcdefghijklmnop é'\"\\#=[].\n\t\x7f", min_size=1, max_size=8)
    .map(str.strip)
    .filter(lambda w: any(map(str.isalnum, w)))
)
finite = st.floats(-1e9, 1e9, allow_nan=False)
spread = st.floats(0.1, 90)


@st.composite
def schemas(draw):
    names = draw(
        st.lists(st.from_regex("[a-m]{3,8}", fullmatch=True).map("x{}".format), min_size=1, max_size=5, unique=True)
    )
    attributes = []
    for name in names:
        role = draw(st.sampled_from(list(Role)))
        steps = role in (Role.ORDINAL, Role.FLAG, Role.COUNT, Role.NUMBER)
        percent = draw(st.floats(-99, 500))
        low = draw(st.none() | finite) if role in (Role.NUMBER, Role.SMOOTH, Role.COUNT) else None
        attributes.append(
            Attribute(
                name,
                role,
                label=draw(word),
                levels=tuple(Level(f"l{i}", draw(word)) for i in range(3)) if role is Role.ORDINAL else (),
                direction=draw(st.sampled_from([None, "up" if percent >= 0 else "down"])) if steps else None,
                expected=draw(st.none() | st.builds(Expectation, st.just(percent), spread, spread)) if steps else None,
                missing=draw(st.sampled_from(["average", "refuse", *(["lowest"] if role is Role.FLAG else [])])),
                required=draw(st.booleans()),
                unit=draw(word),
                minimum=low,
                maximum=None if low is None else low + draw(st.floats(1, 1e6)),
                meaning=draw(word),
            )
        )
    return Schema(
        name=draw(word),
        title=draw(word),
        attributes=tuple(attributes),
        sale_aliases={"price": ("zz one", "zz two")},
        currency="USD",
        rates={draw(word): draw(st.floats(1e-3, 1e3))},
        venue_premiums={draw(word): draw(st.floats(0, 99))},
        day_first=draw(st.booleans()),
        date_required=draw(st.booleans()),
        default_outcome=draw(st.sampled_from(["", "sold", "asking"])),
    )


@given(schemas())
def test_plain_data_round_trips_exactly(schema):
    back = schema_from_dict(json.loads(json.dumps(schema.as_dict())))
    assert back == schema
    assert back.fingerprint() == schema.fingerprint()


@given(st.text(max_size=200))
def test_any_text_is_a_schema_or_a_named_refusal(text):
    try:
        answer = parse_schema(text, "mine.toml").name
    except SchemaError as refusal:
        answer = str(refusal)
    assert answer == "mine" or answer.startswith("Cannot use the schema mine.toml: ")


@given(st.integers(-(10**9), 10**9) | finite)
def test_a_number_survives_its_text(number):
    assert read_number(as_text(number)) == number


@given(st.integers(1000, 10**9))
def test_a_number_survives_its_thousands_separators(number):
    for separator in (" ", "'", "\u00a0"):
        assert read_number(f"{number:,}".replace(",", separator)) == number
    assert read_number(f"{number:,}.25") == number + 0.25
    assert read_number(f"{number:,}".replace(",", ".") + ",25") == number + 0.25


@given(st.dates(dt.date(1926, 1, 1), dt.date(2025, 12, 31)), st.booleans())
def test_a_date_survives_every_style(day, day_first):
    today = dt.date(2025, 12, 31)
    order = "%d/%m/%Y" if day_first else "%m/%d/%Y"
    for style in ("%Y-%m-%d", "%d.%m.%Y", "%d %b %Y", "%B %d, %Y", "%Y%m%d", order, order.replace("Y", "y")):
        assert read_date(day.strftime(style), day_first=day_first, today=today)[0] == day


@given(schemas(), st.data())
def test_a_vehicle_survives_json_and_its_frame_has_a_column_for_each_attribute(schema, data):
    values = {
        Role.NUMBER: finite,
        Role.SMOOTH: finite,
        Role.COUNT: st.integers(0, 99),
        Role.FLAG: st.booleans(),
        Role.ORDINAL: st.sampled_from(["l0", "l1", "l2"]),
        Role.NOMINAL: st.sampled_from(["p q", "r"]),
        Role.DATE: st.dates(dt.date(1900, 1, 1), dt.date(2100, 1, 1)),
    }
    free = dataclasses.replace(
        schema, attributes=tuple(dataclasses.replace(a, minimum=None, maximum=None) for a in schema.attributes)
    )
    vehicle = parse_vehicle({a.name: data.draw(values[a.role]) for a in free.attributes}, free, "v")
    assert isinstance(vehicle, Vehicle)
    assert parse_vehicle(json.loads(json.dumps(vehicle.as_dict())), free) == vehicle
    frame = vehicles_frame([vehicle], free)
    assert list(frame.columns) == list(free.names)
    assert frame.notna().to_numpy().all()
