"""Let each buyer decide on the same finds, draw the profit from the truth, and write the results anew.

OMP_NUM_THREADS=1 python -m benchmarks.decisions.run            (seeds for report; writes results/decisions.{md,csv})
OMP_NUM_THREADS=1 python -m benchmarks.decisions.run --work     (other seeds, to work with; writes nothing)
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks.decisions.builds import MARGINS, plans
from benchmarks.decisions.buyers import CAUTIOUS, OURS, Buyer, buyers, oracle
from benchmarks.decisions.market import AS_OF, Find, draw_find, draw_table, truth
from benchmarks.measure import stamp
from valuation.build.simulation import Simulation
from valuation.paths.deal_path import DealPath, as_found, prepare

RESULTS = Path(__file__).parents[1] / "results"
SIZES = (25, 40, 80, 160)
AIMS = {40: 0.90, 160: 0.96}
TABLES, FINDS = 40, 25
REPORT_SEED, WORK_SEED = 20_261_125, 7
SIMULATION = Simulation(scenarios=256, shifts=8)
LIBRARIES = ("numpy", "scipy", "pandas")


def one_table(n: int, number: int, seed: int, finds: int) -> list[dict[str, object]]:
    """Rows of results: every buyer on every find, with one table of n sales."""
    rng = np.random.default_rng([seed, n, number])
    everyone: list[Buyer] = [oracle(), *buyers(draw_table(rng, n))]
    rows = []
    for place in range(finds):
        find = draw_find(rng)
        luck, scenario = rng.standard_normal(), int(rng.integers(SIMULATION.scenarios))
        for margins, labour_rate in MARGINS.items():
            paths = ways(find, labour_rate)
            drawn, expected = profits(paths, find, luck, scenario)
            for buyer in everyone:
                choice = buyer.choose(paths, find.asked)
                rows.append(
                    {
                        "margins": margins,
                        "n": n,
                        "table": number,
                        "find": place,
                        "buyer": buyer.name,
                        "path": "pass" if choice is None else paths[choice].plan.name,
                        "profit": 0.0 if choice is None else drawn[choice],
                        "expected": 0.0 if choice is None else expected[choice],
                    }
                )
    return rows


def ways(find: Find, labour_rate: float) -> list[DealPath]:
    """Every path of a find carried out in the scenarios; the prices in it are the truth's."""
    builds = plans(find, labour_rate)
    market = truth()
    return [prepare(market, plan, AS_OF, SIMULATION) for plan in (*builds, as_found(builds[0]))]


def profits(paths: Sequence[DealPath], find: Find, luck: float, scenario: int) -> tuple[list[float], list[float]]:
    """One draw of each path's profit from the truth, and its true expectation; the luck is the same for all paths."""
    drawn = [
        path.deal.kept * float(path.deal.prices.sample([luck])[0, 0]) - float(path.deal.outlay(find.asked)[scenario])
        for path in paths
    ]
    return drawn, [path.deal.expected_profit(find.asked).value for path in paths]


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """Share of the oracle's profit kept (drawn, and in expectation), deals and losing deals in a hundred finds."""
    rows = rows.assign(bought=100.0 * (rows["path"] != "pass"), lost=100.0 * (rows["profit"] < 0))
    groups = rows.groupby(["n", "buyer"], sort=False)
    table = pd.DataFrame(
        {
            "profit per find": groups["profit"].mean(),
            "expected per find": groups["expected"].mean(),
            "deals in 100 finds": groups["bought"].mean(),
            "losing deals in 100 finds": groups["lost"].mean(),
        }
    )
    best = table.xs("oracle", level="buyer")
    n = table.index.get_level_values("n")
    table.insert(0, "kept, drawn", table["profit per find"] / best["profit per find"].reindex(n).to_numpy())
    table.insert(1, "kept, expected", table["expected per find"] / best["expected per find"].reindex(n).to_numpy())
    table["losing share of deals, %"] = 100 * table["losing deals in 100 finds"] / table["deals in 100 finds"]
    table["error of kept"] = _errors(rows)
    return table


def _errors(rows: pd.DataFrame) -> pd.Series:
    """Standard error of the share kept in expectation, over tables."""
    by_table = rows.pivot_table(index=["n", "table"], columns="buyer", values="expected", aggfunc="sum")
    ratio = by_table.groupby("n").sum()
    ratio = ratio.div(ratio["oracle"], axis=0)
    found = {}
    for n, group in by_table.groupby("n"):
        for buyer in by_table.columns:
            off = group[buyer] - ratio.loc[n, buyer] * group["oracle"]
            found[n, buyer] = float(off.std(ddof=1) / np.sqrt(len(group)) / group["oracle"].mean())
    return pd.Series(found)


def write_up(summaries: Mapping[str, pd.DataFrame], tables: int, finds: int) -> str:
    """The report as Markdown."""
    parts = [
        "# Decisions in a market of known truth",
        f"{stamp(LIBRARIES)} {tables} tables at each size, {finds} finds with each.",
        "Made by `OMP_NUM_THREADS=1 python -m benchmarks.decisions.run`; the market, the buyers and their common rule "
        "are described in `benchmarks/decisions/README.md`.",
    ]
    blocks = [(margins, n, block) for margins, table in summaries.items() for n, block in table.groupby(level="n")]
    for margins, n, block in blocks:
        lines = [
            "| buyer | share of the oracle's profit kept (drawn) | the same in true expectation | its error | deals in "
            "100 finds | losing deals in 100 finds | losing share of deals |",
            "|---|---:|---:|---:|---:|---:|---:|",
        ]
        for (_, buyer), row in block.iterrows():
            lines.append(
                f"| {buyer} | {row['kept, drawn']:.3f} | {row['kept, expected']:.3f} | {row['error of kept']:.3f} | "
                f"{row['deals in 100 finds']:.1f} | {row['losing deals in 100 finds']:.1f} | "
                f"{row['losing share of deals, %']:.0f} % |"
            )
        verdict = _against_aims(block.droplevel("n"), int(str(n)))
        parts += [f"## {margins.capitalize()} margins, {n} sales", "\n".join(lines), verdict]
    return "\n\n".join(part for part in parts if part) + "\n"


def _against_aims(block: pd.DataFrame, n: int) -> str:
    ours, others = block.loc[OURS], block.drop(index=[OURS, CAUTIOUS, "oracle"])
    words = []
    if n in AIMS:
        reached = "met" if ours["kept, drawn"] >= AIMS[n] else f"missed by {AIMS[n] - ours['kept, drawn']:.3f}"
        words.append(f"Aim: keep at least {AIMS[n]:.2f} of the oracle's profit: {reached}.")
    for column, title in (
        ("losing share of deals, %", "share of deals that lose"),
        ("losing deals in 100 finds", "losing deals"),
    ):
        worse = [name for name in others.index if others.loc[name, column] <= ours[column]]
        words.append(f"Aim: {title} below each other's: {'missed against ' + ', '.join(worse) if worse else 'met'}.")
    return " ".join(words)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and report."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.decisions.run",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--work", action="store_true", help="use the seeds kept for work and write nothing")
    parser.add_argument("--tables", type=int, default=TABLES, help="tables at each size")
    parser.add_argument("--finds", type=int, default=FINDS, help="finds with each table")
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES), help="sales in a table")
    options = parser.parse_args(arguments)
    rows: list[dict[str, object]] = []
    for n in options.sizes:
        for number in range(options.tables):
            rows += one_table(n, number, WORK_SEED if options.work else REPORT_SEED, options.finds)
            sys.stderr.write(f"\rn = {n}: table {number + 1} of {options.tables}   ")
    raw = pd.DataFrame(rows)
    tables = {margins: summary(raw[raw["margins"] == margins]) for margins in MARGINS}
    report = write_up(tables, options.tables, options.finds)
    sys.stdout.write("\n" + report)
    if not options.work:
        RESULTS.mkdir(exist_ok=True)
        (RESULTS / "decisions.md").write_text(report, encoding="utf-8")
        pd.concat(tables, names=["margins"]).to_csv(RESULTS / "decisions.csv", float_format="%.5g")


if __name__ == "__main__":
    main()
