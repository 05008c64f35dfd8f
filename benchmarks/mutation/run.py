"""``python -m benchmarks.mutation.run --count 80 --minutes 20``: how many small changes the tests notice.

Mutants are drawn at random, the same ones for the same seed, module by module in turn over the rooms; each is put into
a copy of the repository and run against the tests of its module. One that none of these notices is named; a run that
takes too much processor time counts neither way.
"""

from __future__ import annotations

import argparse
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from benchmarks.measure import stamp
from benchmarks.mutation.mutants import Mutant, mutants

ROOT = Path(__file__).parents[2]
ROOMS = ("regression", "evidence", "build", "paths", "sell")
RESULTS = ROOT / "benchmarks" / "results" / "mutation.md"
LIMIT_SECONDS = 100
"""Of processor time."""

MOST_FILES = 4


def main() -> None:
    """Draw, run and write the score with the survivors."""
    words = argparse.ArgumentParser(description="How many small changes of the figures the tests notice.")
    words.add_argument("--count", type=int, default=80)
    words.add_argument("--seed", type=int, default=9)
    words.add_argument("--minutes", type=float, default=60.0, help="draw no further mutant after so many")
    asked = words.parse_args()
    until = time.monotonic() + 60 * asked.minutes
    ends: Counter[tuple[str, str]] = Counter()
    survivors: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv", "*cache*", "results"))
        for module, mutant in drawn(asked.count, asked.seed):
            if time.monotonic() > until:
                break
            end = tried(copy, module, mutant)
            room = module.parts[1]
            ends[room, end] += 1
            print(f"{end}: {module}:{mutant.line}: {mutant.before} -> {mutant.after}", flush=True)
            if end == "survived":
                survivors.append(f"- `{module}:{mutant.line}`: `{mutant.before}` -> `{mutant.after}`")
            RESULTS.write_text(page(ends, survivors, asked.seed), encoding="utf-8")


def drawn(count: int, seed: int) -> list[tuple[Path, Mutant]]:
    """So many mutants, one module after the other in an order of chance."""
    rng = random.Random(seed)
    pools = {}
    for room in ROOMS:
        for file in sorted((ROOT / "valuation" / room).glob("*.py")):
            pools[file.relative_to(ROOT)] = mutants(file.read_text(encoding="utf-8"))
    found: list[tuple[Path, Mutant]] = []
    while len(found) < count:
        modules = [module for module, pool in pools.items() if pool]
        for module in rng.sample(modules, len(modules)):
            found.append((module, pools[module].pop(rng.randrange(len(pools[module])))))
    return found[:count]


def tried(copy: Path, module: Path, mutant: Mutant) -> str:
    """Whether the tests noticed a mutant: "killed", "survived" or "timed out"."""
    own = (copy / module).read_text(encoding="utf-8")
    (copy / module).write_text(mutant.text, encoding="utf-8")
    try:
        words = [
            "-m",
            "pytest",
            "-x",
            "-q",
            "--no-header",
            "-p",
            "no:cacheprovider",
            "-p",
            "no:xdist",
            "-m",
            "not slow",
        ]
        done = subprocess.run(
            [sys.executable, *words, *map(str, chosen_tests(module))],
            cwd=copy,
            env={"PYTHONPATH": str(copy), "OMP_NUM_THREADS": "1", "PATH": "", "CI": "1"},
            capture_output=True,
            timeout=4 * LIMIT_SECONDS,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_SECONDS, LIMIT_SECONDS)),
        )
    except subprocess.TimeoutExpired:
        return "timed out"
    finally:
        (copy / module).write_text(own, encoding="utf-8")
    return {0: "survived", 1: "killed", 2: "killed"}.get(done.returncode, "timed out")


def chosen_tests(module: Path) -> list[Path]:
    """Test files for a module: that of its name and those that import it, or else some of its room."""
    room, name = module.parts[1], module.stem
    files = [
        file
        for kind in ("unit", "property", "reference")
        for file in sorted((ROOT / "tests" / kind).rglob("test_*.py"))
    ]
    texts = {file: file.read_text(encoding="utf-8") for file in files}
    own = [file for file in files if file.name == f"test_{name}.py" and room in file.parts]
    named = [file for file in files if re.search(rf"\bvaluation\.{room}\.{name}\b", texts[file])]
    of_room = [file for file in files if room in file.parts]
    return [file.relative_to(ROOT) for file in dict.fromkeys([*own, *named] or of_room)][:MOST_FILES]


def page(ends: Counter[tuple[str, str]], survivors: list[str], seed: int) -> str:
    """The results as a page."""
    kinds = ["killed", "survived", "timed out"]
    rows = [
        f"| {room} | {' | '.join(str(ends[room, kind]) for kind in kinds)} |"
        for room in ROOMS
        if any(of == room for of, _ in ends)
    ]
    noticed, missed = (sum(ends[room, kind] for room in ROOMS) for kind in ("killed", "survived"))
    head = f"# Mutation\n\n{stamp(('numpy', 'pandas', 'hypothesis'))} Seed {seed}.\n\n"
    score = (
        f"{noticed} of {noticed + missed} changes were noticed ({100 * noticed / max(noticed + missed, 1):.0f} %).\n\n"
    )
    table = "\n".join([f"| room | {' | '.join(kinds)} |", f"| --- |{' --- |' * len(kinds)}", *rows])
    named = "\n".join(survivors) or "None."
    return f"{head}{score}{table}\n\n## Not noticed\n\n{named}\n"


if __name__ == "__main__":
    main()
