"""Figures of a speed run, kept as rows so that one part can be measured anew without the others."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from benchmarks.measure import stamp

RESULTS = Path(__file__).parents[1] / "results"
COLUMNS = ("part", "what", "value", "unit", "aim", "stamp")
LIBRARIES = ("numpy", "scipy", "pandas", "scikit-learn", "statsmodels", "mapie", "pyarrow")


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure.

    Parameters
    ----------
    what : str
        What was measured, in words.
    value : float
        The figure.
    unit : str
        Its unit; "times" for a ratio.
    aim : str
        "at most 10", "at least 300", or empty where the figure only informs.
    """

    what: str
    value: float
    unit: str
    aim: str = ""

    @property
    def met(self) -> str:
        """'yes' or 'no' against the aim; empty without one."""
        if not self.aim:
            return ""
        sense, bound = self.aim.rsplit(" ", 1)
        reached = self.value <= float(bound) if sense == "at most" else self.value >= float(bound)
        return "yes" if reached else "no"


def keep(part: str, figures: Sequence[Figure]) -> None:
    """Replace the rows of one part in ``results/speed.csv`` and write ``results/speed.md`` anew."""
    RESULTS.mkdir(exist_ok=True)
    path = RESULTS / "speed.csv"
    rows = [row for row in _read(path) if row["part"] != part]
    head = stamp(LIBRARIES)
    for figure in figures:
        value = f"{figure.value:.6g}"
        rows.append(dict(zip(COLUMNS, (part, figure.what, value, figure.unit, figure.aim, head), strict=True)))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    (RESULTS / "speed.md").write_text(_write_up(rows), encoding="utf-8")


def _read(path: Path) -> list[dict[str, str]]:
    if not path.exists():
        return []
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _write_up(rows: Sequence[dict[str, str]]) -> str:
    parts = [
        "# Speed",
        "Processor time, so that a busy machine counts for little; the least of several runs. Made by "
        "`OMP_NUM_THREADS=1 python -m benchmarks.speed.run`, or with `--only PART` for a part. "
        "What each part measures stands in `benchmarks/speed/`.",
    ]
    for part in dict.fromkeys(row["part"] for row in rows):
        mine = [row for row in rows if row["part"] == part]
        lines = ["| what | measured | aim | met |", "|---|---:|---|---|"]
        for row in mine:
            met = Figure(row["what"], float(row["value"]), row["unit"], row["aim"]).met
            lines.append(f"| {row['what']} | {_shown(float(row['value']))} {row['unit']} | {row['aim']} | {met} |")
        parts += [f"## {part}", mine[0]["stamp"], "\n".join(lines)]
    return "\n\n".join(parts) + "\n"


def _shown(value: float) -> str:
    """Three significant digits, thousands parted."""
    if value != 0 and abs(value) < 1e-3:
        return f"{value:.1e}"
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.3g}"
