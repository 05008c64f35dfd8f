"""A write-ahead log that disappeared loses nothing that was acknowledged, or its loss is said."""

import shutil
import signal
import sqlite3
import subprocess
import sys

import pytest

from valuation.cli import main
from valuation.errors import LedgerError
from valuation.ledger import Ledger

OFFERS = 20
WRITER = """
import os, signal, sys
from valuation.ledger import Ledger
ledger = Ledger.open(sys.argv[1])
for number in range(int(sys.argv[2])):
    ledger.add_offer(subject="Tern", amount=number + 1, offered_on="2025-03-01")
os.kill(os.getpid(), signal.SIGKILL)
"""

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL there")


def write_and_be_killed(path):
    died = subprocess.run(
        [sys.executable, "-c", WRITER, path, str(OFFERS)], capture_output=True, text=True, check=False
    )
    assert died.returncode == -signal.SIGKILL, died.stderr


def lose_the_log(path):
    for end in ("-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)


@pytest.fixture
def behind(tmp_path):
    """A ledger whose log was lost while a reader had kept it from being brought into the file."""
    path = tmp_path / "l.sqlite"
    with Ledger.open(path) as ledger:
        ledger.add_plan(subject="T", name="p", text="x = 1")
    reader = sqlite3.connect(path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM plans").fetchone()
    write_and_be_killed(path)
    kept = tmp_path / "kept-wal"
    shutil.copy(f"{path}-wal", kept)
    before = tmp_path / "before"
    shutil.copy(path, before)
    reader.close()
    shutil.copy(before, path)  # closing the last reader would have brought the log over
    lose_the_log(path)
    return path


def test_a_log_that_is_lost_after_a_crash_loses_nothing(tmp_path):
    path = tmp_path / "l.sqlite"
    write_and_be_killed(path)
    lose_the_log(path)
    with Ledger.open(path) as ledger:
        assert len(ledger.offers()) == OFFERS
        assert ledger.check().sound


def test_the_file_alone_can_be_carried_away_while_the_ledger_is_open(tmp_path):
    with Ledger.open(tmp_path / "l.sqlite") as ledger:
        for number in range(OFFERS):
            ledger.add_offer(subject="Tern", amount=number + 1, offered_on="2025-03-01")
        shutil.copy(tmp_path / "l.sqlite", tmp_path / "carried.sqlite")
        with Ledger.open(tmp_path / "carried.sqlite") as carried:
            assert carried.offers() == ledger.offers()


def test_a_tail_that_is_lost_is_said_at_opening(behind):
    words = rf"holds less than was written to it. Missing or changed: {OFFERS} offers, as 'l.sqlite-head'"
    with pytest.raises(LedgerError, match=words) as refused:
        Ledger.open(behind)
    assert "'l.sqlite-wal' was removed or not copied along: put it back" in str(refused.value)


def test_a_tail_that_is_lost_is_said_by_the_check(behind, capsys):
    assert main(["ledger", "check", str(behind)]) == 1
    said = capsys.readouterr().out
    assert "The ledger is not sound" in said
    assert f"Offer 1: Records 1 to {OFFERS} are missing" in said


def test_the_log_put_back_makes_it_whole(behind):
    shutil.copy(behind.with_name("kept-wal"), f"{behind}-wal")
    with Ledger.open(behind) as ledger:
        assert len(ledger.offers()) == OFFERS
        assert ledger.check().sound


def test_looking_at_what_is_left_does_not_hide_the_loss(behind):
    with Ledger.open(behind, incomplete=True) as ledger:
        ledger.add_offer(subject="Tern", amount=7, offered_on="2025-03-01")
        assert not ledger.check().sound
    with pytest.raises(LedgerError, match="holds less than was written"):
        Ledger.open(behind)
    behind.with_name("l.sqlite-head").unlink()
    with Ledger.open(behind) as ledger:
        assert len(ledger.offers()) == 1
        assert ledger.check().sound


def test_an_older_file_in_its_place_is_said(tmp_path):
    path = tmp_path / "l.sqlite"
    with Ledger.open(path) as ledger:
        ledger.add_plan(subject="T", name="p", text="x = 1")
        backup = ledger.backup(tmp_path / "b.sqlite")
        ledger.add_plan(subject="T", name="q", text="x = 1")
    shutil.copy(backup, path)
    with pytest.raises(LedgerError, match="Missing or changed: 1 plan, as"):
        Ledger.open(path)


def test_a_damaged_head_is_said(tmp_path):
    path = tmp_path / "l.sqlite"
    with Ledger.open(path) as ledger:
        ledger.add_plan(subject="T", name="p", text="x = 1")
        head = path.with_name("l.sqlite-head")
        head.write_text(head.read_text().replace("1", "2", 1))
        (problem,) = ledger.check().problems
        assert "Cannot use 'l.sqlite-head'" in problem.what
    with pytest.raises(LedgerError, match=r"it is damaged \(its seal does not match\). Move it away"):
        Ledger.open(path)
