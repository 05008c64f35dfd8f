"""The public names of the room, and what is kept for a model as long as it lives."""

import gc
import subprocess
import sys

import pytest

import valuation.evidence as room
from valuation.evidence.remembered import _KNOWN, remembered


def test_every_public_name_is_there():
    assert sorted(room.__all__) == room.__all__
    for name in room.__all__:
        assert getattr(room, name).__name__ == name


def test_an_unknown_name_is_no_attribute():
    with pytest.raises(AttributeError, match="has no attribute 'estimate_everything'"):
        getattr(room, "estimate_" + "everything")


def test_the_room_loads_nothing_until_asked():
    code = "import sys, valuation.evidence; print([m for m in ('numpy', 'pandas', 'scipy') if m in sys.modules])"
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"


class Owner:
    pass


def test_remembered_is_made_once_and_forgotten_with_its_owner():
    owner, made = Owner(), []

    def make():
        made.append(1)
        return object()

    assert remembered(owner, "thing", make) is remembered(owner, "thing", make)
    assert len(made) == 1
    assert remembered(Owner(), "thing", make) is not remembered(owner, "thing", make)
    key = id(owner)
    assert key in _KNOWN
    del owner
    gc.collect()
    assert key not in _KNOWN
