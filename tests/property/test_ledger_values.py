"""Whatever a ledger takes it gives back the same, and what it does not take leaves no trace."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from valuation.errors import LedgerError
from valuation.ledger import Ledger, canonical_json, fingerprint

storable = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=60)
labels = storable.filter(lambda text: text.strip())
amounts = st.floats(min_value=5e-324, allow_infinity=False, allow_nan=False)
figures = st.floats(allow_nan=False, allow_infinity=False)
# Text inside a JSON value may be anything, lone surrogates and zero bytes too: it is kept escaped.
anything = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**300), 10**300) | figures | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
    max_leaves=12,
)
objects = st.dictionaries(st.text(max_size=10), anything, max_size=4)
quick = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture(scope="module")
def ledger(tmp_path_factory):
    with Ledger.open(tmp_path_factory.mktemp("ledger") / "l.sqlite") as opened:
        table = opened.add_table(name="t", schema={}, source=b"", source_name="", fingerprint="x", rows=0, faults=0)
        opened.add_model(text="{}", table_id=table.id)
        yield opened
        # Here and not in a test of its own: tests of one module may run in several processes, each with its ledger.
        report = opened.check(lambda estimate: canonical_json(opened.estimate_summary(estimate.id)))
        assert report.sound, report.problems


@quick
@given(subject=labels, amount=amounts, who=storable, remark=storable, day=st.dates())
def test_offer(ledger, subject, amount, who, remark, day):
    if day.year > 2024:
        day = day.replace(year=2024, day=min(day.day, 28))
    offer = ledger.add_offer(subject=subject, amount=amount, offered_on=day, who=who, remark=remark)
    found = ledger.offer(offer.id)
    assert found == offer
    assert (found.subject, found.amount, found.who) == (subject.strip(), amount, who)
    assert (found.remark, found.offered_on) == (remark, day)


@quick
@given(vehicle=objects, options=objects, extra=objects, median=amounts, low=amounts | st.none())
def test_estimate(ledger, vehicle, options, extra, median, low):
    interval = {"coverage": 0.8, "low": low, "high": None}
    summary = extra | {"as_of": "2025-01-01", "currency": "EUR", "median": median, "interval": interval}
    estimate = ledger.add_estimate(subject="T", vehicle=vehicle, model_id=1, summary=summary, settings=options)
    found = ledger.estimate(estimate.id)
    assert found == estimate
    assert (found.median, found.low, found.high) == (median, low, None)
    assert json.loads(found.vehicle) == vehicle
    assert json.loads(found.settings) == options
    assert ledger.content(found.summary).decode() == canonical_json(summary)
    assert repr(ledger.estimate_summary(found.id)["median"]) == repr(median)


@quick
@given(source=st.binary(max_size=2000), schema=objects, name=labels)
def test_table(ledger, source, schema, name):
    table = ledger.add_table(
        name=name, schema=schema, source=source, source_name="s", fingerprint=fingerprint(source), rows=1, faults=0
    )
    assert ledger.content(ledger.table(table.id).source) == source
    assert json.loads(ledger.table(table.id).schema) == schema


@quick
@given(
    where=st.lists(st.text(max_size=5), min_size=1, max_size=3),
    bad=st.sampled_from([float("nan"), float("inf"), float("-inf")]),
)
def test_no_number_that_is_none_is_ever_kept(ledger, where, bad):
    value: object = bad
    for name in where:
        value = {name: value}
    before = len(ledger.deals())
    with pytest.raises(LedgerError, match=r"found (nan|inf|-inf) \(float\)"):
        ledger.add_deal(subject="T", kind="paths", inputs={}, result=value)
    with pytest.raises(LedgerError, match="It must be a finite number"):
        ledger.add_offer(subject="T", amount=bad, offered_on="2025-01-01")
    assert len(ledger.deals()) == before


@quick
@given(value=anything)
def test_canonical_text_is_its_own_canonical_text(value):
    text = canonical_json(value)
    assert text.isascii()
    assert canonical_json(json.loads(text)) == text
