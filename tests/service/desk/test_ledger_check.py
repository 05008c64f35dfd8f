"""What the service writes comes out the same when ``valuation ledger check`` makes it again, by each way of writing."""

import json
import sqlite3
import time

import pytest

from api.settings import Settings
from valuation.cli import main
from valuation.ledger import EstimateRecord, Ledger


def form_of(vehicle, **more):
    attributes = {f"a.{name}": _text(value) for name, value in vehicle["attributes"].items()}
    return {"name": vehicle["name"], "as_of": "2026-06-01", "coverage": "0.8", **attributes, **more}


def _text(value):
    return {True: "yes", False: "no"}.get(value) if isinstance(value, bool) else str(value)


def by_json(client, vehicle, **more):
    answer = client.post("/api/v1/estimates", json={"vehicle": vehicle, **more})
    assert answer.status_code == 201, answer.text
    return answer.json()


def by_page(client, vehicle, **more):
    answer = client.post("/vehicles", data=form_of({**vehicle, "name": f"{vehicle['name']}, {len(more)} told"}, **more))
    assert answer.status_code == 303, answer.text
    until = time.monotonic() + 100
    while "data-reload" in (page := client.get(answer.headers["location"], follow_redirects=True)).text:
        assert time.monotonic() < until, "the work did not end"
        time.sleep(0.1)
    return page


WAYS = {
    "JSON": lambda client, vehicle: by_json(client, vehicle),
    "JSON, another day": lambda client, vehicle: by_json(client, vehicle, as_of="2024-02-29"),
    "JSON, years ahead": lambda client, vehicle: by_json(client, vehicle, as_of="2031-01-01"),
    "JSON, half": lambda client, vehicle: by_json(client, vehicle, coverage=0.5),
    "JSON, wide": lambda client, vehicle: by_json(client, vehicle, coverage=0.99),
    "JSON, little known": lambda client, vehicle: by_json(
        client, {"name": "  a find  ", "attributes": {"family": "Wrenfield Lark", "model_year": 1950}}
    ),
    "page": lambda client, vehicle: by_page(client, vehicle),
    "page, 95 %": lambda client, vehicle: by_page(client, vehicle, coverage="0.95"),
    "page, a what-if that was kept": lambda client, vehicle: by_page(
        client, {**vehicle, "name": "Another", "attributes": {**vehicle["attributes"], "paint": "worn"}}, estimate="1"
    ),
}


@pytest.fixture(scope="module")
def written(tmp_path_factory, serve, vehicle):
    """A ledger with one estimate by each way of writing."""
    file = tmp_path_factory.mktemp("written") / "ledger.sqlite"
    with serve(Settings(ledger=str(file), work_seconds=300)) as client:
        assert client.post("/demo").status_code == 303
        client.post("/api/v1/estimates", json={"vehicle": vehicle, "record": False}, params={"wait": 300})
        for write in WAYS.values():
            write(client, vehicle)
    return file


def test_each_way_of_writing_an_estimate_repeats_to_the_bit(written, capsys):
    assert main(["ledger", "check", str(written)]) == 0, capsys.readouterr().out
    said = capsys.readouterr().out
    assert said.startswith("The ledger is sound:")
    assert f"and {len(WAYS)} of {len(WAYS)} estimates came out the same to the last bit" in said


def test_what_the_page_and_the_json_twin_show_is_in_the_ledger(written):
    with Ledger.open(written) as ledger:
        for estimate in ledger.records(EstimateRecord):
            summary = ledger.estimate_summary(estimate.id)
            assert {"grid", "reconciled", "notes", "factors"} <= summary.keys()
            assert "version" in json.loads(estimate.settings)


def test_a_figure_that_no_longer_comes_out_is_no_reason_for_an_older_backup(written, tmp_path, capsys):
    """The seals prove that nothing was changed since: an older copy of the ledger would say just the same."""
    from valuation.answers.kept_estimates import repeat_estimate

    copy = tmp_path / "copy.sqlite"
    with Ledger.open(written) as ledger:
        ledger.backup(copy)
    with Ledger.open(copy) as ledger:
        estimate = ledger.estimate(1)
        summary = ledger.estimate_summary(1)
        summary["factors"][0]["factor"] *= 1 + 1e-15
        ledger.add_estimate(
            subject=estimate.subject,
            vehicle=json.loads(estimate.vehicle),
            model_id=estimate.model_id,
            summary=summary,
            settings={"version": "0.0.1"},
        )
        report = ledger.check(repeat_estimate(ledger))
    assert not report.sound
    (problem,) = report.problems
    assert problem.what.startswith("It does not come out the same to the last bit: factors was")
    assert "written by version 0.0.1" in problem.what
    assert report.repeated == len(WAYS)
    assert main(["ledger", "check", str(copy)]) == 1
    said = capsys.readouterr().out
    assert "backup" not in said
    assert "Nothing in the ledger was changed since it was written" in said
    assert f"estimate {len(WAYS) + 1}:" in said.lower()


def test_a_ledger_that_was_changed_is_told_to_restore(written, tmp_path, capsys):
    copy = tmp_path / "copy.sqlite"
    with Ledger.open(written) as ledger:
        ledger.backup(copy)
    connection = sqlite3.connect(copy)
    connection.execute("DROP TRIGGER estimates_no_update")
    connection.execute("UPDATE estimates SET median = median + 1 WHERE id = 2")
    connection.commit()
    connection.close()
    assert main(["ledger", "check", str(copy)]) == 1
    said = capsys.readouterr().out
    assert "Restore the newest backup" in said
    assert "Estimate 2: It was changed since it was written" in said
