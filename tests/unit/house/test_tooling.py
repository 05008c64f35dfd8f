"""The tools that read the whole tree are run here, so that one test command says whether a change may land."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
BESIDE_PYTHON = Path(sys.executable).parent

TOOLS = {
    "lint": ["ruff", "check", "."],
    "format": ["ruff", "format", "--check", "."],
    "types": ["mypy"],
    "imports": ["lint-imports"],
    "spelling": ["codespell"],
}


@pytest.mark.parametrize("tool", TOOLS)
def test_tool_finds_nothing(tool: str) -> None:
    program, *arguments = TOOLS[tool]
    command = [str(BESIDE_PYTHON / program), *arguments]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600, check=False)
    assert run.returncode == 0, f"{' '.join(TOOLS[tool])}\n{run.stdout[-8000:]}\n{run.stderr[-2000:]}"


def test_pre_commit_calls_the_same_commands() -> None:
    hooks = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    for command in TOOLS.values():
        assert f"entry: {' '.join(command)}\n" in hooks
