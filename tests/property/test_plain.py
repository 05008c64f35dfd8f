"""Typed answers as plain data: JSON can always hold it, and no number is moved."""

import datetime as dt
import json
import math
import struct
from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from valuation.text.plain import plain


@dataclass(frozen=True, slots=True)
class Told:
    """An answer that holds anything."""

    what: object
    parts: tuple[object, ...]


def within(kinds: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    """Lists, tuples, mappings and dataclasses of those kinds."""
    return st.one_of(
        st.lists(kinds, max_size=4),
        st.lists(kinds, max_size=4).map(tuple),
        st.dictionaries(st.text(), kinds, max_size=4),
        st.builds(Told, what=kinds, parts=st.lists(kinds, max_size=3).map(tuple)),
    )


LEAVES = st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.dates()
ANSWERS = st.recursive(LEAVES, within, max_leaves=20)


@given(ANSWERS)
def test_json_can_always_hold_it(answer: object) -> None:
    data = plain(answer)
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    assert plain(data) == data


@given(st.floats())
def test_a_number_is_kept_to_the_bit_and_what_is_none_is_null(number: float) -> None:
    found = json.loads(json.dumps(plain(Told(number, ()))))["what"]
    if math.isfinite(number):
        assert struct.pack("<d", found) == struct.pack("<d", number)
    else:
        assert found is None


def test_fields_are_the_keys_in_their_order() -> None:
    answer = Told({"on": dt.date(2026, 10, 31)}, (Told(None, ()), True))
    expected = {"what": {"on": "2026-10-31"}, "parts": [{"what": None, "parts": []}, True]}
    assert plain(answer) == expected
    assert list(plain(answer)) == ["what", "parts"]
