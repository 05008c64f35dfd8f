"""Programs that write files at the same moment, are killed, or find the disk full: what was there stays whole."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
AT_ONCE = 6


@pytest.fixture
def talks(tmp_path):
    """A log of offers with one offer in it, and the arguments of the command that adds the next."""
    log = tmp_path / "talks.json"
    words = [
        sys.executable, "-m", "valuation", "offer", str(log), "--model", str(ROOT / "models" / "demo.json"),
    ]  # fmt: skip
    plan = ["--plan", str(ROOT / "data" / "vehicles" / "haywain-pickup.toml"), "--asked", "48000"]
    return log, lambda amount, *more: [*words[:5], str(amount), *words[5:], *plan, "--as-of", "2026-06-01", *more]


def amounts(log):
    return sorted(offer["amount"] for offer in json.loads(log.read_text(encoding="utf-8"))["offers"])


def test_six_offers_at_once_are_all_kept_and_so_is_the_mode(talks):
    log, words = talks
    subprocess.run(words(30_000), check=True, capture_output=True, cwd=ROOT)
    log.chmod(0o600)
    asked = [30_000 + 100 * number for number in range(1, AT_ONCE + 1)]
    programs = [subprocess.Popen(words(one), cwd=ROOT, stdout=-3, stderr=subprocess.PIPE) for one in asked]
    for program in programs:
        _, errors = program.communicate(timeout=300)
        assert program.returncode == 0, errors.decode()
    assert amounts(log) == [30_000, *asked]
    assert log.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in log.parent.iterdir()] == ["talks.json"]


FULL = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (300, 300))
from valuation.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there is no such limit there")
def test_a_full_disk_is_said_and_leaves_the_log_alone(talks):
    log, words = talks
    subprocess.run(words(30_000), check=True, capture_output=True, cwd=ROOT)
    before = log.read_bytes()
    ran = subprocess.run([sys.executable, "-c", FULL, *words(31_000)[3:]], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 3, ran.stderr
    assert "Cannot write the offer log talks.json: File too large." in ran.stderr
    assert log.read_bytes() == before
    assert [path.name for path in log.parent.iterdir()] == ["talks.json"]
