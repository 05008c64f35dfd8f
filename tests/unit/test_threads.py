"""The command line asks for one thread of linear algebra, and lets the environment overrule it."""

import os
import subprocess
import sys

import pytest

SCRIPT = (
    "import os, sys; from valuation.cli import main\n"
    "try: main(['--help'])\n"
    "except SystemExit: pass\n"
    "print('threads', os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"
)


@pytest.mark.parametrize(("given", "expected"), [(None, "threads 1 False"), ("3", "threads 3 False")])
def test_one_thread_unless_told_otherwise(given: str | None, expected: str) -> None:
    environment = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    if given is not None:
        environment["OPENBLAS_NUM_THREADS"] = given
    done = subprocess.run([sys.executable, "-c", SCRIPT], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == expected
