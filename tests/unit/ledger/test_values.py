"""What each kind of field takes and refuses."""

from datetime import date, datetime
from decimal import Decimal
from typing import get_args

import numpy as np
import pandas as pd
import pytest

from valuation.errors import LedgerError
from valuation.ledger import values


def clean(kind, value):
    return get_args(kind)[1].clean("the_field", value)


@pytest.mark.parametrize(
    ("kind", "value", "kept"),
    [
        (values.Text, "", ""),
        (values.Text, " a\nb ", " a\nb "),
        (values.Label, " Tern ", "Tern"),
        (values.Money, 12, 12.0),
        (values.Money, np.float64(0.1), 0.1),
        (values.Money, np.int64(7), 7.0),
        (values.Money, 2**53, 9007199254740992.0),
        (values.Share, 0.8, 0.8),
        (values.Count, np.int64(7), 7),
        (values.Count, 0, 0),
        (values.Flag, True, True),
        (values.Day, "2025-03-31", date(2025, 3, 31)),
        (values.Day, date(2025, 3, 31), date(2025, 3, 31)),
        (values.JsonText, {"b": 1, "a": 2}, '{"a":2,"b":1}'),
        (values.Digest, "0" * 64, "0" * 64),
    ],
)
def test_what_is_kept(kind, value, kept):
    found = clean(kind, value)
    assert found == kept
    assert type(found) is type(kept)


@pytest.mark.parametrize(
    ("kind", "value", "words"),
    [
        (values.Text, None, "found None. It must be text."),
        (values.Text, "a\0b", r"It must be text without NUL characters"),
        (values.Text, "\ud800", "lone surrogates"),
        (values.Label, " \n", "It must be text that is not empty"),
        (values.Money, 0, "found 0. It must be an amount of money above 0"),
        (values.Money, -5.0, "found -5.0. It must be an amount of money above 0"),
        (values.Money, float("nan"), "found nan. It must be a finite number"),
        (values.Money, float("inf"), "found inf. It must be a finite number"),
        (values.Money, 10**400, "It must be a finite number"),
        (values.Money, 2**53 + 1, "that a double-precision figure holds exactly"),
        (values.Money, "12", "found '12'. It must be a number"),
        (values.Money, True, "found True. It must be a number"),
        (values.Money, Decimal("12.10"), "It must be a number"),
        (values.Share, 80, "found 80. It must be a share between 0 and 1, such as 0.8"),
        (values.Share, 1.0, "It must be a share"),
        (values.Count, -1, "It must be a whole number from 0"),
        (values.Count, 1.0, "It must be a whole number from 0"),
        (values.Count, 2**31, "It must be a whole number from 0"),
        (values.Count, True, "It must be a whole number from 0"),
        (values.Flag, 1, "found 1. It must be true or false"),
        (values.Day, "31.03.2025", "It must be a date as year-month-day, such as 2025-03-31"),
        (values.Day, datetime(2025, 3, 31), "It must be a date without a time of day"),
        (values.Day, pd.Timestamp("2025-03-31"), "It must be a date without a time of day"),
        (values.JsonText, [1], "It must be an object of names and values"),
        (values.Digest, "0" * 63, "a SHA-256 in 64 hexadecimal digits"),
    ],
)
def test_what_is_refused(kind, value, words):
    with pytest.raises(LedgerError, match=words) as refused:
        clean(kind, value)
    assert str(refused.value).startswith("Cannot write the field to the ledger: found ")


def test_a_long_value_is_cut_in_the_message():
    with pytest.raises(LedgerError, match="It must be a SHA-256") as refused:
        clean(values.Digest, "z" * 10_000)
    assert "zzz..." in str(refused.value)
    assert len(str(refused.value)) < 250
