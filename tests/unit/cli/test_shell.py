"""Completion is tried in a real shell, the manual page in a real formatter; help and version load nothing slow."""

import re
import shlex
import shutil
import subprocess
import sys

import pytest

from valuation.cli import exits, main
from valuation.cli.parser import COMMANDS
from valuation.cli.show import one_screen
from valuation.version import own_version


@pytest.fixture
def printed(capsys):
    """What a command prints."""

    def run(*words):
        capsys.readouterr()
        assert main(list(words)) == exits.DONE
        return capsys.readouterr().out

    return run


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("valuation est", {"estimate"}),
        ("valuation estimate --com", {"--comparables"}),
        ("valuation check sal", {"sales.csv"}),
        ("valuation estimate --model mod", {"model.json"}),
        ("valuation ledger ", {"backup", "restore", "check"}),
        ("valuation completion ", {"bash", "zsh", "fish"}),
        ("valuation sheet card --paper ", {"a4", "us-letter"}),
    ],
)
def test_bash_completes(line, expected, printed, tmp_path):
    (tmp_path / "complete.bash").write_text(printed("completion", "bash"), encoding="utf-8")
    for name in ("sales.csv", "model.json"):
        (tmp_path / name).touch()
    words = line.split(" ")
    script = (
        f"source ./complete.bash; COMP_WORDS=({' '.join(f'{word!r}' for word in words)}); "
        f'COMP_CWORD={len(words) - 1}; _shtab_valuation; printf "%s\\n" "${{COMPREPLY[@]}}"'
    )
    run = subprocess.run(["bash", "-c", script], cwd=tmp_path, capture_output=True, text=True, check=True, timeout=60)
    assert expected <= set(run.stdout.split())
    assert run.stderr == ""


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_know_every_command_and_take_the_script(shell, printed, tmp_path):
    script = printed("completion", shell)
    assert [name for name in COMMANDS if not re.search(rf"\b{name}\b", script)] == []
    if shutil.which(shell):
        (tmp_path / "script").write_text(script, encoding="utf-8")
        subprocess.run([shell, "-n", str(tmp_path / "script")], check=True, timeout=60)


def test_the_manual_names_every_command_and_option(printed):
    page = printed("manual").replace("\\-", "-")
    assert [name for name in COMMANDS if f'.SS "valuation {name}"' not in page] == []
    for option in ("--comparables", "--as-of", "--all", "--version"):
        assert option in page
    assert own_version() in page.splitlines()[0]
    assert "%%" not in page


@pytest.mark.skipif(shutil.which("groff") is None, reason="needs groff")
def test_the_manual_is_a_page_without_a_warning(printed):
    words = ["groff", "-man", "-Tutf8", "-ww"]
    run = subprocess.run(words, input=printed("manual"), capture_output=True, text=True, check=True, timeout=60)
    assert run.stderr == ""
    shown = re.sub(r".\x08|\x1b\[[0-9;]*m", "", run.stdout)
    assert re.search(r"^NAME\n\s+valuation\s+-\s+what", shown, flags=re.MULTILINE)
    assert "valuation estimate" in shown


@pytest.mark.parametrize("word", ["--help", "--version"])
def test_help_and_version_load_nothing_slow(word):
    code = (
        f"import sys; from valuation.cli import main\ntry: main(['{word}'])\n"
        "except SystemExit as end: assert not end.code\n"
        "print('|', *{name.partition('.')[0] for name in sys.modules})"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    said, _, loaded = run.stdout.rpartition("|")
    assert said.startswith("usage: valuation" if word == "--help" else f"valuation {own_version()}")
    assert not set(loaded.split()) & {"numpy", "pandas", "scipy", "sklearn", "shtab", "sqlalchemy"}


def broken(words: list[str], columns: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    """The command that comes next as it is printed below an answer, its lines joined as a shell joins them."""
    monkeypatch.setenv("COLUMNS", str(columns))
    with one_screen([], f"Next, for the reasons: {shlex.join(words)}", all_of_them=False):
        print("The answer.")
    return capsys.readouterr().out.partition("reasons: ")[2].replace("\\\n", "")


@pytest.mark.parametrize("columns", [30, 40, 60, 80, 100])
def test_the_command_that_comes_next_is_never_broken_within_a_word(columns, monkeypatch, capsys) -> None:
    vehicle = ["family=Penhurrow Haywain of the long barn", "year=1951", "name=Ada's truck, blue one"]
    words = [
        "valuation",
        "explain",
        *vehicle,
        "--comparables",
        "my own sales/of this year.csv",
        "--as-of",
        "2026-10-31",
    ]
    assert shlex.split(broken(words, columns, monkeypatch, capsys)) == words
