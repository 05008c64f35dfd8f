"""Backup of a ledger in use, and a ledger made anew from one."""

import sqlite3
import threading

import pytest

from valuation.errors import LedgerError
from valuation.ledger import Ledger


def test_backup_is_the_whole_ledger_in_one_file(file_shop, tmp_path):
    estimate = file_shop.estimate()
    copy = file_shop.ledger.backup(tmp_path / "backup.sqlite")
    file_shop.estimate("made after the backup")
    assert copy == tmp_path / "backup.sqlite"
    # Nothing lies beside it: the file alone can be carried away, even to a place that cannot be written.
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith("backup")) == ["backup.sqlite"]
    again = Ledger.restore(copy, tmp_path / "restored.sqlite")
    with Ledger.open(again) as restored:
        assert restored.estimates() == (estimate,)
        assert restored.content(restored.table(1).source) == file_shop.ledger.content(file_shop.ledger.table(1).source)
        assert restored.check().sound


def test_backup_while_another_writes_is_one_sound_state(file_shop, tmp_path):
    stop = threading.Event()

    def write():
        number = 0
        while not stop.is_set():
            file_shop.ledger.add_plan(subject="T", name=f"plan {number}", text="x = 1\n" * 500)
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [file_shop.ledger.backup(tmp_path / f"b{number}.sqlite") for number in range(3)]
    finally:
        stop.set()
        writer.join()
    for copy in copies:
        with Ledger.open(copy) as ledger:
            assert ledger.check().sound


def test_backup_never_writes_over_a_file(file_shop, tmp_path):
    (tmp_path / "b.sqlite").write_text("something dear")
    with pytest.raises(LedgerError, match=r"Cannot back up to '.*b.sqlite': a file of that name exists"):
        file_shop.ledger.backup(tmp_path / "b.sqlite")
    with pytest.raises(LedgerError, match=r"the folder '.*nowhere' does not exist. Make it first"):
        file_shop.ledger.backup(tmp_path / "nowhere" / "b.sqlite")
    assert (tmp_path / "b.sqlite").read_text() == "something dear"


def test_restore_refusals(file_shop, tmp_path):
    copy = file_shop.ledger.backup(tmp_path / "b.sqlite")
    with pytest.raises(LedgerError, match=r"Cannot restore to '.*shop.sqlite': a file of that name exists"):
        Ledger.restore(copy, tmp_path / "shop.sqlite")
    with pytest.raises(LedgerError, match=r"there is no such file. Name a backup"):
        Ledger.restore(tmp_path / "nothing.sqlite", tmp_path / "r.sqlite")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8" * 999)
    with pytest.raises(LedgerError, match=r"Cannot restore from '.*photo.jpg': it is neither a ledger nor any other"):
        Ledger.restore(tmp_path / "photo.jpg", tmp_path / "r.sqlite")
    sqlite3.connect(tmp_path / "empty.sqlite").executescript("CREATE TABLE songs (title)").connection.close()
    with pytest.raises(LedgerError, match=r"Cannot restore from '.*empty.sqlite': it is not a ledger"):
        Ledger.restore(tmp_path / "empty.sqlite", tmp_path / "r.sqlite")
    with pytest.raises(LedgerError, match="Use the server's own tool: pg_restore"):
        Ledger.restore(copy, "postgresql://shop@localhost/ledger")
    assert not (tmp_path / "r.sqlite").exists()


def test_restore_refuses_a_newer_backup(file_shop, tmp_path):
    copy = file_shop.ledger.backup(tmp_path / "b.sqlite")
    with sqlite3.connect(copy) as connection:
        connection.execute("UPDATE ledger_version SET version_num = 'm9999_future'")
    connection.close()
    with pytest.raises(LedgerError, match="its version 'm9999_future' is newer than this program"):
        Ledger.restore(copy, tmp_path / "r.sqlite")


@pytest.mark.parametrize(("first", "pages", "filling"), [(20, 40, b"\x00"), (60, 1, b"\xff")])
def test_restore_refuses_a_damaged_backup(file_shop, tmp_path, first, pages, filling):
    for number in range(200):
        file_shop.ledger.add_model(text=f"{number}" * 3000, table_id=file_shop.table_id)
    copy = file_shop.ledger.backup(tmp_path / "b.sqlite")
    raw = bytearray(copy.read_bytes())
    raw[4096 * first : 4096 * (first + pages)] = filling * 4096 * pages
    copy.write_bytes(raw)
    with pytest.raises(LedgerError, match=r"not sound|damaged"):
        Ledger.restore(copy, tmp_path / "r.sqlite")
    assert not [path for path in tmp_path.iterdir() if path.name.startswith("r.sqlite")]


def test_restore_from_a_plain_copy_of_the_files(file_shop, tmp_path):
    """A ledger file copied by hand keeps its setting for a log, and opens read-only all the same."""
    file_shop.estimate()
    file_shop.ledger.close()
    (tmp_path / "carried.sqlite").write_bytes((tmp_path / "shop.sqlite").read_bytes())
    again = Ledger.restore(tmp_path / "carried.sqlite", tmp_path / "r.sqlite")
    with Ledger.open(again) as restored:
        assert len(restored.estimates()) == 1


def test_backup_of_a_server_names_the_tool(postgres_address, tmp_path):
    with (
        Ledger.open(postgres_address) as ledger,
        pytest.raises(LedgerError, match="Use the server's own tool: pg_dump"),
    ):
        ledger.backup(tmp_path / "b.sqlite")


def test_a_file_made_in_the_meantime_is_not_written_over(file_shop, tmp_path, monkeypatch):
    target = tmp_path / "b.sqlite"
    connect = sqlite3.connect

    def another_is_faster(*arguments, **more):
        target.write_text("something dear")
        return connect(*arguments, **more)

    monkeypatch.setattr("valuation.ledger.files.sqlite3.connect", another_is_faster)
    with pytest.raises(LedgerError, match="a file of that name was just made by another"):
        file_shop.ledger.backup(target)
    monkeypatch.undo()
    assert target.read_text() == "something dear"
    assert not [path for path in tmp_path.iterdir() if "unfinished" in path.name]


def test_a_file_system_without_links(file_shop, tmp_path, monkeypatch):
    def no_links(*_):
        raise PermissionError("no links here")

    monkeypatch.setattr("pathlib.Path.hardlink_to", no_links)
    with Ledger.open(file_shop.ledger.backup(tmp_path / "b.sqlite")) as ledger:
        assert ledger.check().sound


def everything(path):
    """All that a ledger holds."""
    connection = sqlite3.connect(path)
    tables = [
        name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    ]
    rows = {name: connection.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in tables}
    connection.close()
    return rows


def test_a_damaged_backup_is_restored_whole_or_refused(file_shop, tmp_path):
    """120 backups, each with some bytes changed somewhere: none comes back as another ledger in silence."""
    import random

    for number in range(40):
        file_shop.sell(file_shop.estimate(f"Wren {number}", median=20_000.0 + number))
    copy = file_shop.ledger.backup(tmp_path / "b.sqlite")
    whole, raw, dice = everything(copy), copy.read_bytes(), random.Random(7)
    restored = 0
    for number in range(120):
        damaged = bytearray(raw)
        for _ in range(dice.choice((1, 1, 4, 64))):
            damaged[dice.randrange(100, len(raw))] ^= 1 << dice.randrange(8)
        bad, target = tmp_path / "bad.sqlite", tmp_path / f"r{number}.sqlite"
        bad.write_bytes(damaged)
        try:
            Ledger.restore(bad, target)
        except LedgerError:
            assert not target.exists()
            continue
        restored += 1
        assert everything(target) == whole
    assert restored < 90  # most of the file is in use: were nearly all taken, nothing would have been looked at
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def tampered(file_shop, tmp_path):
    file_shop.sell(file_shop.estimate())
    copy = file_shop.ledger.backup(tmp_path / "b.sqlite")
    connection = sqlite3.connect(copy)
    connection.executescript("DROP TRIGGER sales_no_update; UPDATE sales SET price = 99000 WHERE id = 1")
    connection.close()
    return copy


def test_a_backup_that_was_changed_says_what_it_would_lose_and_asks(file_shop, tmp_path):
    copy = tampered(file_shop, tmp_path)
    with pytest.raises(LedgerError, match=r"Found: Sale 1: It was changed since it was written.*--accept-loss"):
        Ledger.restore(copy, tmp_path / "r.sqlite")
    assert not (tmp_path / "r.sqlite").exists()
    with Ledger.open(Ledger.restore(copy, tmp_path / "r.sqlite", accept_loss=True)) as ledger:
        assert not ledger.check().sound


def test_estimates_are_made_again_before_a_backup_is_taken(file_shop, tmp_path):
    from valuation.ledger import canonical_json

    file_shop.estimate()
    copy = file_shop.ledger.backup(tmp_path / "b.sqlite")
    with pytest.raises(LedgerError, match=r"Found: Estimate 1: It does not come out the same to the last bit"):
        Ledger.restore(copy, tmp_path / "r.sqlite", repeat=lambda ledger: lambda estimate: "{}")
    again = lambda ledger: lambda estimate: canonical_json(ledger.estimate_summary(estimate.id))  # noqa: E731
    Ledger.restore(copy, tmp_path / "r.sqlite", repeat=again)


def test_the_ledger_in_use_is_replaced_only_by_a_sound_one_and_kept(file_shop, tmp_path):
    target = tmp_path / "shop.sqlite"
    bad = tampered(file_shop, tmp_path)
    good = file_shop.ledger.backup(tmp_path / "good.sqlite")
    file_shop.ledger.add_plan(subject="T", name="since the backup", text="x = 1")
    with pytest.raises(LedgerError, match=r"a file of that name exists already. .* --replace"):
        Ledger.restore(good, target)
    with pytest.raises(LedgerError, match=r"another program has it open. Close that program"):
        Ledger.restore(good, target, replace=True)
    file_shop.ledger.close()
    before = everything(target)
    with pytest.raises(LedgerError, match=r"it is not as it was written"):
        Ledger.restore(bad, target, replace=True)
    assert everything(target) == before
    Ledger.restore(good, target, replace=True)
    with Ledger.open(target) as ledger:
        assert ledger.plans() == ()
        assert ledger.check().sound
    with Ledger.open(tmp_path / "shop.sqlite.replaced-1") as ledger:
        assert [plan.name for plan in ledger.plans()] == ["since the backup"]


def test_a_ledger_beyond_reading_is_replaced_and_kept(file_shop, tmp_path):
    good = file_shop.ledger.backup(tmp_path / "good.sqlite")
    file_shop.ledger.close()
    (tmp_path / "shop.sqlite").write_bytes(b"\xff" * 9000)
    Ledger.restore(good, tmp_path / "shop.sqlite", replace=True)
    with Ledger.open(tmp_path / "shop.sqlite") as ledger:
        assert ledger.check().sound
    assert (tmp_path / "shop.sqlite.replaced-1").read_bytes() == b"\xff" * 9000


def test_what_a_lost_ledger_left_beside_its_name_does_not_pass_for_the_new_one_s(file_shop, tmp_path):
    good = file_shop.ledger.backup(tmp_path / "good.sqlite")
    file_shop.ledger.add_plan(subject="T", name="since the backup", text="x = 1")
    file_shop.ledger.close()
    (tmp_path / "shop.sqlite").unlink()
    with Ledger.open(Ledger.restore(good, tmp_path / "shop.sqlite")) as ledger:
        assert ledger.plans() == ()
        assert ledger.check().sound
    assert (tmp_path / "shop.sqlite.replaced-1-head").exists()
