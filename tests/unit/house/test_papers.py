"""README, change log and lock files say what the code says."""

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from valuation import errors

ROOT = Path(__file__).parents[3]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
README = (ROOT / "README.md").read_text(encoding="utf-8")
LOCKS = ("requirements.lock", "requirements-test.lock")


def plain_name(requirement: str) -> str:
    return re.split(r"[\[<>=! ;]", requirement, maxsplit=1)[0].lower().replace("_", "-").replace(".", "-")


def pinned(lock: str) -> dict[str, str]:
    """Text of each pin with its hashes, by package; several lines of one package are joined."""
    entries: dict[str, str] = {}
    for entry in re.split(r"\n(?=\S)", (ROOT / lock).read_text(encoding="utf-8")):
        if not entry.startswith("#"):
            name = plain_name(entry)
            entries[name] = entries.get(name, "") + entry
    return entries


def test_newest_change_is_the_version() -> None:
    changes = (ROOT / "CHANGES.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\S+)", changes, flags=re.MULTILINE)
    assert newest is not None
    assert newest.group(1) == PROJECT["project"]["version"]


def test_runtime_lock_pins_each_dependency() -> None:
    wanted = {plain_name(text) for text in PROJECT["project"]["dependencies"]}
    assert wanted <= pinned("requirements.lock").keys()


def test_test_lock_pins_each_dependency_extra_and_test_package() -> None:
    project = PROJECT["project"]
    wanted = [*project["dependencies"], *PROJECT["dependency-groups"]["test"]]
    for extra in project["optional-dependencies"].values():
        wanted += extra
    assert {plain_name(text) for text in wanted} <= pinned("requirements-test.lock").keys()


def test_both_locks_agree_on_every_version() -> None:
    run, test = pinned("requirements.lock"), pinned("requirements-test.lock")
    for name in run:
        versions = [set(re.findall(r"==(\S+)", lock[name])) for lock in (run, test)]
        assert versions[0] == versions[1], name


@pytest.mark.parametrize("lock", LOCKS)
def test_a_package_that_another_asks_for_with_extras_is_pinned_with_them(lock: str) -> None:
    """Else pip takes its newest version for the extra, which has no hash: no install on the day that one appears."""
    pins = pinned(lock)
    for name in pins:
        for wanted in map(Requirement, asked_for(name)):
            if not wanted.extras or (wanted.marker and not wanted.marker.evaluate({"extra": ""})):
                continue
            kept = Requirement(pins[plain_name(wanted.name)].partition("==")[0]).extras
            assert wanted.extras <= kept, f"{name} asks for {wanted}"


def asked_for(name: str) -> list[str]:
    """What a package asks for, where it is installed here."""
    try:
        return requires(name) or []
    except PackageNotFoundError:
        return []


@pytest.mark.parametrize("lock", LOCKS)
def test_every_pin_has_a_hash_and_no_file_names_an_address(lock: str) -> None:
    for name, text in pinned(lock).items():
        assert "--hash=sha256:" in text, name
    whole = (ROOT / lock).read_text(encoding="utf-8")
    assert not re.search(r"://|--index|--find-links|file:", whole)


@pytest.mark.parametrize(
    ("mark", "lock", "last"),
    [
        ("demo-command", "requirements.lock", ".venv/bin/valuation demo"),
        ("test-command", "requirements-test.lock", ".venv/bin/python -m pytest -n 4"),
    ],
)
def test_readme_commands_are_complete_in_one_line(mark: str, lock: str, last: str) -> None:
    [command] = re.findall(rf"<!-- {mark} -->\n```sh\n(.+)\n```", README)
    assert command.split(" && ") == [
        "python3 -m venv .venv",
        f".venv/bin/pip install -q --require-hashes -r {lock}",
        ".venv/bin/pip install -q --no-deps -e .",
        last,
    ]


def test_readme_lists_every_error_code_and_no_other() -> None:
    classes = [value for value in vars(errors).values() if isinstance(value, type)]
    codes = {kind.code for kind in classes if issubclass(kind, errors.ValuationError)} - {"valuation"}
    section = README.partition("## When it refuses")[2].partition("\n## ")[0]
    assert set(re.findall(r"^\| `([a-z_.]+)` \|", section, flags=re.MULTILINE)) == codes


def test_the_security_page_names_tests_that_are_there() -> None:
    page = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
    assert "TO FILL" not in page
    short = {"asvs": "test_asvs.py", "guard": "test_guard.py"}
    desk = ROOT / "tests" / "service" / "desk"
    file, named = desk, 0
    for place, test in re.findall(r"`([\w/.]*?)(?:::(test_\w+))?`", page.partition("## Not followed")[0]):
        name = short.get(place, place)
        if name.endswith(".py"):
            file = ROOT / name if "/" in name else desk / name
            assert file.is_file(), name
        if test:
            assert f"def {test}(" in file.read_text(encoding="utf-8"), f"{file.name}::{test}"
            named += 1
    assert named > 25
