"""The short form of benchmarks/faults/ledger.py: a round of each kind, and each kind of disk."""

import sys

import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL there")


@pytest.fixture(scope="module")
def faults():
    from benchmarks.faults import ledger

    return ledger


@pytest.fixture(scope="module")
def stock(faults, tmp_path_factory):
    return faults.stocked(tmp_path_factory.mktemp("stock"))


@pytest.mark.parametrize("kind", ["import", "estimate", "offer", "sale", "backup", "migration", "command-line writers"])
def test_what_was_said_to_be_written_is_there_after_a_kill(faults, stock, tmp_path, kind):
    assert faults.kill_round(kind, tmp_path, stock, 0.15) == ""


@pytest.mark.parametrize("part", ["full_disk", "read_only", "locked_database"])
def test_a_disk_that_takes_nothing_is_said_and_harms_nothing(faults, part):
    line, held = getattr(faults, part)()
    assert held, line


def test_two_programs_on_one_ledger(faults):
    line, held = faults.two_at_once(20)
    assert held, line


def test_a_loss_would_be_seen(faults, stock, tmp_path, monkeypatch):
    """The round itself: a writer that says more than it wrote is found out."""
    import sqlite3

    _, count = faults.LEDGER_WRITERS["offer"]
    monkeypatch.setitem(faults.LEDGER_WRITERS, "offer", (lambda ledger, number: None, count))
    assert faults.kill_round("offer", tmp_path, stock, 0.05) == "an acknowledged write is missing"
    connection = sqlite3.connect(tmp_path / "l.sqlite")
    connection.executescript("DROP TRIGGER estimates_no_delete; DELETE FROM estimates")
    connection.close()
    assert "holds less than was written" in faults.sound(tmp_path / "l.sqlite", lambda ledger: True)
