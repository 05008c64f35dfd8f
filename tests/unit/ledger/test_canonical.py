"""Canonical texts: one text for one value, and a refusal that says where the trouble is."""

import json
from enum import StrEnum
from types import MappingProxyType

import numpy as np
import pytest

from valuation.errors import LedgerError
from valuation.ledger import canonical_json, fingerprint


def test_published_fingerprint():
    # FIPS 180-4 example, "abc" (NIST, Secure Hash Standard, examples with intermediate values).
    assert fingerprint("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert fingerprint("é") == fingerprint("é".encode())


def test_order_of_names_does_not_matter():
    assert canonical_json({"b": 1, "a": [1.0, None, True]}) == '{"a":[1.0,null,true],"b":1}'
    assert canonical_json({"a": [1.0, None, True], "b": 1}) == canonical_json({"b": 1, "a": [1.0, None, True]})


def test_numbers_keep_every_bit():
    values = [0.1, 1 / 3, 5e-324, 1.7976931348623157e308, -0.0, 2**200]
    again = json.loads(canonical_json(values))
    assert [repr(value) for value in again] == [repr(value) for value in values]


class Word(StrEnum):
    SOLD = "sold"


def test_kin_of_plain_values_are_taken_as_what_they_are():
    assert canonical_json([np.float64(0.5), Word.SOLD, (1, 2)]) == '[0.5,"sold",[1,2]]'


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({"a": [1.0, float("nan")]}, r"found nan \(float\) at summary.a.1"),
        (
            {"interval": {"high": float("inf")}},
            r"found inf \(float\) at summary.interval.high. .* write null",
        ),
        ({1: 2}, r"found 1 as a name \(int\) at summary"),
        ({"a": {1, 2}}, r"found \{1, 2\} \(set\) at summary.a"),
        ({"a": np.int64(3)}, r"found np.int64\(3\) \(int64\) at summary.a"),
        ({"a": MappingProxyType({})}, r"found mappingproxy\(\{\}\) \(mappingproxy\) at summary.a"),
        ({"a": b"x"}, r"found b'x' \(bytes\) at summary.a"),
        ({"a": 10**5000}, "Cannot keep summary in the ledger: Exceeds the limit"),
    ],
)
def test_refusals_name_the_place(value, words):
    with pytest.raises(LedgerError, match=words):
        canonical_json(value, "summary")


def test_a_value_nested_without_end_is_refused():
    value: list = []
    value.append(value)
    with pytest.raises(LedgerError, match="nested more than 100 levels deep"):
        canonical_json(value)
