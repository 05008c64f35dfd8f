"""Several programs on one ledger: nothing is lost, nobody waits to read, and a crash leaves nothing behind."""

import signal
import sqlite3
import subprocess
import sys
import threading
import time

import pytest

from valuation.ledger import Ledger, TableRecord

ROWS = 200

WRITER = """
import sys, time
from valuation.ledger import Ledger
address, who, rows = sys.argv[1], sys.argv[2], int(sys.argv[3])
with Ledger.open(address) as ledger:
    print("ready", flush=True)
    sys.stdin.readline()
    begun = time.time()
    for number in range(rows):
        ledger.add_offer(subject="Tern", amount=number + 1, offered_on="2025-03-01", who=who)
    print(begun, time.time())
"""

CRASH = """
import os, signal, sys
from valuation.ledger import Ledger
from valuation.ledger.records import PlanRecord
ledger = Ledger.open(sys.argv[1])
with ledger._writing() as transaction:
    for number in range(50):
        transaction.keep(f"{number}" * 100_000)  # more than the page cache, so that it has reached the disk
        transaction.append(PlanRecord, {"subject": "T", "name": "half-written", "text": f"x = {number}"})
    print("half-way", flush=True)
    os.kill(os.getpid(), signal.SIGKILL)
"""


def start(code, *arguments):
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_two_programs_write_at_once_and_no_row_is_lost(address):
    """They also open the new ledger, and so migrate it, at the same moment."""
    writers = [start(WRITER, address, who, ROWS) for who in ("Ada", "Ben")]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n", writer.stderr.read()
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    spans = []
    for writer in writers:
        out, errors = writer.communicate(timeout=120)
        assert writer.returncode == 0, errors
        spans.append([float(moment) for moment in out.split()])
    # Both were at it at the same time; else the test would say nothing.
    assert max(begun for begun, _ in spans) < min(ended for _, ended in spans)
    with Ledger.open(address) as ledger:
        offers = ledger.offers()
        assert [offer.id for offer in offers] == list(range(1, 2 * ROWS + 1))
        for who in ("Ada", "Ben"):
            assert [offer.amount for offer in offers if offer.who == who] == [n + 1.0 for n in range(ROWS)]
        assert ledger.check().sound


def test_threads_share_one_ledger(shop):
    def write(who):
        for number in range(25):
            shop.ledger.add_offer(subject="Tern", amount=number + 1, offered_on="2025-03-01", who=who)
            assert shop.ledger.offers()

    threads = [threading.Thread(target=write, args=(f"thread {number}",)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(shop.ledger.offers()) == 100
    assert shop.ledger.check().sound


def test_versions_stay_in_step_when_many_bring_a_table(shop):
    def bring(number):
        shop.ledger.add_table(
            name="shared",
            schema={},
            source=f"{number}".encode(),
            source_name="s.csv",
            fingerprint="x",
            rows=1,
            faults=0,
        )

    threads = [threading.Thread(target=bring, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    versions = [table.version for table in shop.ledger.records(TableRecord) if table.name == "shared"]
    assert sorted(versions) == list(range(1, 9))


def test_a_reader_does_not_wait_for_a_writer(shop):
    plan = shop.ledger.add_plan(subject="T", name="standing", text="x = 1")
    inside, done = threading.Event(), threading.Event()

    def write():
        with shop.ledger._writing() as transaction:
            from valuation.ledger import PlanRecord

            transaction.append(PlanRecord, {"subject": "T", "name": "unfinished", "text": "x = 2"})
            inside.set()
            assert done.wait(60)

    writer = threading.Thread(target=write)
    writer.start()
    assert inside.wait(60)
    try:
        # The writer ends only after this: a reader that waited for it would never come back.
        assert shop.ledger.plans() == (plan,)
        assert writer.is_alive()
    finally:
        done.set()
        writer.join()
    assert [one.name for one in shop.ledger.plans()] == ["standing", "unfinished"]


def test_a_writer_does_not_wait_for_a_reader(file_shop, tmp_path):
    reader = sqlite3.connect(tmp_path / "shop.sqlite", isolation_level=None)
    reader.execute("BEGIN")
    assert reader.execute("SELECT count(*) FROM plans").fetchone() == (0,)
    begun = time.monotonic()
    file_shop.ledger.add_plan(subject="T", name="p", text="x = 1")
    assert time.monotonic() - begun < 10  # the busy timeout is 30
    assert reader.execute("SELECT count(*) FROM plans").fetchone() == (0,)  # still its own moment
    reader.execute("COMMIT")
    assert reader.execute("SELECT count(*) FROM plans").fetchone() == (1,)
    reader.close()


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL there")
def test_a_crash_in_the_middle_leaves_nothing(address):
    with Ledger.open(address) as ledger:
        before = ledger.add_plan(subject="T", name="whole", text="x = 1")
    crashed = start(CRASH, address)
    out, errors = crashed.communicate(timeout=60)
    assert out == "half-way\n", errors
    assert crashed.returncode == -signal.SIGKILL
    with Ledger.open(address, wait=10) as ledger:
        assert ledger.plans() == (before,)
        report = ledger.check()
        assert report.sound
        assert report.contents == 0
        assert ledger.add_plan(subject="T", name="next", text="x = 1").id == before.id + 1


def test_an_error_in_the_middle_leaves_nothing(shop):
    from valuation.ledger import PlanRecord

    def half():
        with shop.ledger._writing() as transaction:
            transaction.append(PlanRecord, {"subject": "T", "name": "half", "text": "x = 1"})
            raise KeyError("something went wrong")

    with pytest.raises(KeyError, match="something went wrong"):
        half()
    assert shop.ledger.plans() == ()
