"""The command line asks for one thread of linear algebra, and lets the environment overrule it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SCRIPT = (
    "import os, sys; from valuation.cli import main\n"
    "try: main(['--help'])\n"
    "except SystemExit: pass\n"
    "print('threads', os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"
)


@pytest.mark.parametrize(("given", "expected"), [(None, "threads 1 False"), ("3", "threads 3 False")])
def test_one_thread_unless_told_otherwise(given: str | None, expected: str) -> None:
    assert said_by(SCRIPT, **({} if given is None else {"OPENBLAS_NUM_THREADS": given})) == expected


LOADED_FIRST = (
    "import numpy, pandas, sklearn.linear_model, valuation as v\n"
    "from threadpoolctl import threadpool_info\n"
    "from valuation.regression import mixed\n"
    "def threads(): return {one['num_threads'] for one in threadpool_info() if one['user_api'] == 'blas'}\n"
    "seen, solve = set(), mixed.solve\n"
    "def watched(*given):\n"
    "    seen.update(threads())\n"
    "    return solve(*given)\n"
    "mixed.solve = watched\n"
    "before = threads()\n"
    "table = v.read_comparables('data/comparables.csv', v.read_schema('data/schema.toml'))\n"
    "v.PriceModel.fit(table, lattice_points=1, ranges=False, tails=False)\n"
    "print(seen, before == threads())"
)


@pytest.mark.skipif((os.cpu_count() or 1) == 1, reason="one core has one thread anyway")
def test_a_fit_in_a_notebook_runs_in_one_thread_and_leaves_the_others_as_they_were() -> None:
    """Where numpy was loaded first, threads that wait for each other made a fit of two seconds one of minutes."""
    assert said_by(LOADED_FIRST) == "{1} True"


def test_a_number_of_threads_that_the_environment_names_holds() -> None:
    script = "from valuation.threads import in_one_thread\n" + LOADED_FIRST.partition("seen, solve")[0]
    script += "with in_one_thread(): print(threads())"
    assert said_by(script, OPENBLAS_NUM_THREADS="2", OMP_NUM_THREADS="2") == "{2}"


def said_by(script: str, **more: str) -> str:
    """The last line that a script prints in an environment that names no number of threads, or the one given."""
    environment = {name: value for name, value in os.environ.items() if not name.endswith("_THREADS")} | more
    words = [sys.executable, "-c", script]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=True, cwd=ROOT, timeout=300)
    return done.stdout.splitlines()[-1]
