"""One writer for every file of the house: the old file or the new one, whole; and one lock between programs."""

import os
import re
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from valuation.files import locked, replacing, write_file

ROOT = Path(__file__).parents[2]


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_file_is_written_and_replaced_and_keeps_its_mode(tmp_path):
    file = tmp_path / "a.json"
    write_file(file, "Möwe\n")
    assert file.read_bytes() == "Möwe\n".encode()
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE(file.stat().st_mode) == 0o666 & ~mask
    file.chmod(0o640)
    write_file(file, b"\x00new")
    assert file.read_bytes() == b"\x00new"
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert names(tmp_path) == ["a.json"]


def test_a_failure_in_the_middle_leaves_the_old_file_and_nothing_else(tmp_path):
    file = tmp_path / "a.json"
    file.write_text("old")

    def half():
        with replacing(file) as part:
            part.write_text("half of the n")
            assert file.read_text() == "old"
            raise KeyError("stopped")

    with pytest.raises(KeyError, match="stopped"):
        half()
    assert file.read_text() == "old"
    assert names(tmp_path) == ["a.json"]


def test_what_is_there_is_not_written_over_when_a_new_file_is_wanted(tmp_path):
    file = tmp_path / "a.json"
    file.write_text("dear")
    with pytest.raises(FileExistsError, match="already"):
        write_file(file, "new", new=True)

    def another_is_faster():
        with replacing(tmp_path / "b.json", new=True) as part:
            part.write_text("mine")
            (tmp_path / "b.json").write_text("theirs")

    with pytest.raises(FileExistsError):
        another_is_faster()
    assert (file.read_text(), (tmp_path / "b.json").read_text()) == ("dear", "theirs")
    assert names(tmp_path) == ["a.json", "b.json"]


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "a.json").write_text("old")
    (tmp_path / "a.json").symlink_to(tmp_path / "real" / "a.json")
    write_file(tmp_path / "a.json", "new")
    assert (tmp_path / "a.json").is_symlink()
    assert (tmp_path / "real" / "a.json").read_text() == "new"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no such device here")
def test_a_device_is_written_to_and_never_replaced():
    write_file(os.devnull, "gone")
    with pytest.raises(OSError, match="No space left"):
        write_file("/dev/full", "gone")
    assert stat.S_ISCHR(Path("/dev/full").stat().st_mode)
    assert stat.S_ISCHR(Path(os.devnull).stat().st_mode)


SMALL_DISK = """
import resource, signal, sys
from valuation.files import write_file
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
try:
    write_file(sys.argv[1], "x" * 5000)
except OSError as error:
    print(error.strerror)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there is no such limit there")
def test_a_disk_without_room_leaves_the_old_file_and_nothing_else(tmp_path):
    file = tmp_path / "a.json"
    file.write_text("old")
    ran = subprocess.run([sys.executable, "-c", SMALL_DISK, file], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "File too large"
    assert file.read_text() == "old"
    assert names(tmp_path) == ["a.json"]


COUNTER = """
import sys
from pathlib import Path
from valuation.files import locked, write_file
file = Path(sys.argv[1])
for _ in range(100):
    with locked(file):
        write_file(file, str(int(file.read_text()) + 1) if file.exists() else "1")
"""


def test_programs_that_hold_the_lock_lose_no_count(tmp_path):
    file = tmp_path / "count"
    programs = [subprocess.Popen([sys.executable, "-c", COUNTER, file], stderr=subprocess.PIPE) for _ in range(4)]
    for program in programs:
        _, errors = program.communicate(timeout=120)
        assert program.returncode == 0, errors
    assert file.read_text() == "400"
    assert names(tmp_path) == ["count"]


def test_a_lock_that_another_holds_is_waited_for_and_no_longer(tmp_path):
    with locked(tmp_path / "a"), pytest.raises(TimeoutError, match="another program"), locked(tmp_path / "a", 0.1):
        pass
    with locked(tmp_path / "a", 0.1):
        pass
    assert names(tmp_path) == []


def test_no_other_module_writes_files():
    """Whatever writes goes through valuation.files, or into a folder of its own that is thrown away (typesetting).

    A private key is written into the part that valuation.files gives, after its rights were set (certificate).
    """
    writes = re.compile(
        r"\.write_text\(|\.write_bytes\(|\bopen\([^)]*[\"'][wax]b?\+?[\"']|NamedTemporaryFile|mkstemp|os\.replace|"
        r"copyfile\(|copytree\(|shutil\.copy|\.to_(?:csv|excel|parquet)\([\"'a-z_]*(?:path|file|target)"
    )
    found = {
        f"{module.relative_to(ROOT)}:{number}"
        for room in ("valuation", "api")
        for module in sorted((ROOT / room).rglob("*.py"))
        for number, line in enumerate(module.read_text(encoding="utf-8").splitlines(), 1)
        if writes.search(line)
    }
    strays = {place for place in found if place.partition(":")[0] not in ("valuation/files.py",)}
    assert {place.partition(":")[0] for place in strays} <= {"valuation/sheets/typesetting.py", "api/certificate.py"}, (
        strays
    )
