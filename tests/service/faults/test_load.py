"""Many clients at once, for a few seconds."""

from collections import Counter

from benchmarks.faults.load import Log, _errors, load


def test_no_update_is_lost_and_no_error_met_with_twelve_clients(service, all_held):
    all_held(load(service, clients=12, seconds=4.0))


def test_an_error_a_refusal_and_a_missing_answer_are_not_passed_over():
    assert not _errors([Log(statuses=Counter({"201": 5, "500": 1}))]).held
    assert not _errors([Log(statuses=Counter({"201": 5, "422": 1}))]).held
    assert not _errors([Log(statuses=Counter({"201": 5}), broken=1)]).held
    assert _errors([Log(statuses=Counter({"201": 5, "later": 3}))]).held
