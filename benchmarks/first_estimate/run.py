"""From each table as people keep it to the first estimate, by the command line, counted and timed.

OMP_NUM_THREADS=1 python -m benchmarks.first_estimate.run                   (writes results/first_estimate.md)
OMP_NUM_THREADS=1 python -m benchmarks.first_estimate.run --tables FOLDER   (tables of one's own; writes nothing)
"""

from __future__ import annotations

import argparse
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from benchmarks.measure import stamp
from valuation.answers.draft import draft
from valuation.comparables import Comparables, read_comparables
from valuation.schema import read_schema

ROOT = Path(__file__).parents[2]
TABLES = ROOT / "tests" / "tables" / "files"
RESULTS = ROOT / "benchmarks" / "results" / "first_estimate.md"
LIBRARIES = ("numpy", "pandas", "openpyxl", "odfpy")
AIM, MOST_COMMANDS, MOST_MINUTES = 0.95, 5, 10
"""What the project wants: share of the real sales usable without hand editing, commands, and minutes."""

HEAD = """# From a table to the first estimate

Written by `python -m benchmarks.first_estimate.run`. {stamp}

Every table of `tests/tables/` goes through the command line in an empty folder, with nothing edited by hand:
`start mine --from TABLE --yes`, `check`, `mend --yes`, and `estimate` with the vehicle in words. A real sale is one
that the list beside the table names; usable means that it enters the fit, right that its price, outcome, date and all
attributes that the list names are read as meant. Questions left open are those of a start without `--yes` that nobody
answers. Seconds are of all commands together, on a machine that does other work as well.

Of {real} real sales in {tables} tables {share} % can be used at the end (aim: {aim} %); the least is {least}. It takes
at most {commands} commands (aim: {most_commands}) and {seconds} seconds (aim: {minutes} minutes).
"""


@dataclass
class Run:
    """What it took for one table."""

    name: str
    real: int = 0
    refused: str = ""
    commands: list[str] = field(default_factory=list)
    wall: float = 0.0
    processor: float = 0.0
    questions: int = 0
    usable: dict[str, int] = field(default_factory=dict)
    right: dict[str, int] = field(default_factory=dict)
    columns: str = ""
    answer: str = ""

    def call(self, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
        """One command in a new process, counted and timed; its input is no terminal, so that it asks nothing."""
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        command = [sys.executable, "-m", "valuation", *words]
        done = subprocess.run(
            command,
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        self.wall += time.monotonic() - began
        self.processor += after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
        self.commands.append(words[0])
        return done


def first_estimate(table: Path, folder: Path) -> Run:
    """Start, check, mend and estimate, each by its command; what is suggested is taken, and nothing done by hand."""
    meant = _meant(table)
    run = Run(table.name)
    started = run.call(folder, "start", "mine", "--from", str(table), "--yes")
    if started.returncode:
        run.refused = started.stderr.strip().splitlines()[-1]
        return run
    run.questions = draft(table).open_questions
    [copy] = (folder / "mine").glob("comparables.*")
    named = re.search(r"--sheet (.+)$", started.stdout.strip().splitlines()[-1])
    sheet = ["--sheet", named[1].strip("'")] if named else []
    _count(run, "start", copy, meant, sheet)
    run.call(folder, "check", str(copy), *sheet)
    mended = copy.with_name(f"mended{copy.suffix}")
    if run.call(folder, "mend", str(copy), "--out", str(mended), "--yes", *sheet).returncode == 0 and mended.exists():
        copy, sheet = mended, []
    _count(run, "mend", copy, meant, sheet)
    if not run.usable["mend"]:
        run.answer = "none: no row can be used before its owner has answered the questions"
        return run
    vehicle = [f"{name}={value}" for name, value in _vehicle(_read(copy, sheet)).items()]
    estimate = run.call(folder, "estimate", *vehicle, "--comparables", str(copy), *sheet)
    lines = (line for line in estimate.stdout.splitlines() if line.strip())
    run.answer = next(lines, "") if not estimate.returncode else f"refused: {estimate.stderr.strip().splitlines()[-1]}"
    return run


def _meant(table: Path) -> dict[str, Any]:
    """What must come out of a table, from the list beside it; nothing where there is none."""
    file = table.with_suffix(".json")
    return json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


def _read(table: Path, sheet: Sequence[str]) -> Comparables:
    return read_comparables(table, read_schema(table.parent / "schema.toml"), sheet=sheet[1] if sheet else None)


def _count(run: Run, after: str, table: Path, meant: dict[str, Any], sheet: Sequence[str]) -> None:
    """Real sales that can be used after a command, and those of them whose facts are all read as they are meant."""
    read = _read(table, sheet)
    sales = meant.get("sales") or [{"row": row} for row in range(2, read.rows + 2)]
    run.real = len(sales)
    facts = read.attributes.assign(
        price=read.sales["price"], outcome=read.sales["outcome"], date=read.sales["date"].dt.strftime("%Y-%m-%d")
    )
    found = [facts.loc[sale["row"]] if sale["row"] in facts.index else None for sale in sales]
    run.usable[after] = sum(one is not None for one in found)
    run.right[after] = sum(
        one is not None and all(_same(one.get(name), value) for name, value in sale.items() if name in facts.columns)
        for one, sale in zip(found, sales, strict=True)
    )
    if after == "start" and meant:
        wanted = {name for sale in sales for name in sale} - {"row"}
        run.columns = f"{len(wanted & set(facts.columns))} of {len(wanted)}"


def _same(found: Any, meant: Any) -> bool:
    if isinstance(meant, bool | int | float):
        return bool(pd.notna(found)) and float(found) == float(meant)
    return (None if pd.isna(found) else str(found)) == meant


def _vehicle(read: Comparables) -> dict[str, str]:
    """The vehicle to value: like the table's first sale, in words that the command takes."""
    known = read.attributes.iloc[0].dropna()
    first = {name: known[name] for name in ("family", "model_year", "condition") if name in known}
    return {name: f"{value:g}" if isinstance(value, float) else str(value) for name, value in first.items()}


def report(runs: Sequence[Run]) -> str:
    """The results as a page."""
    read = [run for run in runs if not run.refused]
    real, usable = sum(run.real for run in read), sum(run.usable["mend"] for run in read)
    least = min(read, key=lambda run: run.usable["mend"] / run.real)
    names = (
        "table", "real sales", "usable after start", "usable after mend", "right", "columns found",
        "questions left open", "commands", "wall s", "processor s", "first line of the estimate",
    )  # fmt: skip
    rows = [
        (
            run.name, run.real, run.usable["start"], run.usable["mend"], run.right["mend"], run.columns,
            run.questions, len(run.commands), f"{run.wall:.1f}", f"{run.processor:.1f}", run.answer,
        )
        for run in read
    ]  # fmt: skip
    head = HEAD.format(
        stamp=stamp(LIBRARIES),
        real=real,
        tables=len(read),
        share=f"{100 * usable / real:.1f}",
        aim=f"{100 * AIM:.0f}",
        least=f"{least.name} with {least.usable['mend']} of {least.real}",
        commands=max(len(run.commands) for run in read),
        most_commands=MOST_COMMANDS,
        seconds=f"{max(run.wall for run in read):.0f}",
        minutes=MOST_MINUTES,
    )
    table = [f"| {' | '.join(map(str, row))} |" for row in (names, ["---"] * len(names), *rows)]
    refused = [f"- {run.name} is refused: {run.refused}" for run in runs if run.refused]
    return "\n".join([head, *table, *(["", "Not read:", "", *refused] if refused else [])]) + "\n"


def main(argv: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tables", type=Path, default=TABLES, metavar="FOLDER")
    arguments = parser.parse_args(argv)
    runs: list[Run] = []
    for table in sorted(path.resolve() for path in arguments.tables.iterdir() if path.suffix != ".json"):
        with tempfile.TemporaryDirectory() as folder:
            run = first_estimate(table, Path(folder))
        runs.append(run)
        print(run.name, run.usable, run.right, run.real, run.answer or run.refused, flush=True)
    text = report(runs)
    if arguments.tables == TABLES:
        RESULTS.write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
