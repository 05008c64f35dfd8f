"""Let each buyer decide on the same pool of finds, count by the true expectation, and write the results anew.

OMP_NUM_THREADS=1 python -m benchmarks.decisions.run            (seeds for report; writes results/decisions.{md,csv})
OMP_NUM_THREADS=1 python -m benchmarks.decisions.run --work     (other seeds, to work with; writes nothing)
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks.decisions.builds import MARGINS, plans
from benchmarks.decisions.buyers import CAUTIOUS, CEILING, OURS, Buyer, buyers, oracle
from benchmarks.decisions.market import AS_OF, Find, draw_find, draw_table, truth
from benchmarks.measure import stamp
from valuation.build.simulation import Simulation
from valuation.paths.deal_path import DealPath, as_found, prepare

RESULTS = Path(__file__).parents[1] / "results"
SIZES = (25, 40, 80, 160)
AIMS = {25: 0.92, 40: 0.96, 80: 0.99, 160: 0.995}
"""Shares of the ceiling's profit."""

TABLES, FINDS = 20, 60
REPORT_SEED, WORK_SEED = 20_261_125, 7
SIMULATION = Simulation(scenarios=256, shifts=8)
LIBRARIES = ("numpy", "scipy", "pandas")


@dataclass(frozen=True)
class Offered:
    """A find with its paths under one setting of margins, and of each path the true expectation and odds of a loss.

    ``best`` is the path that the oracle, who needs no table, takes.
    """

    margins: str
    find: Find
    paths: list[DealPath]
    profit: list[float]
    loss: list[float]
    best: int | None


def pool(seed: int, finds: int) -> list[Offered]:
    """The finds that every buyer with every table decides on."""
    rng = np.random.default_rng([seed, 0])
    drawn = [draw_find(rng) for _ in range(finds)]
    offered = []
    for margins, labour_rate in MARGINS.items():
        for find in drawn:
            paths = ways(find, labour_rate)
            profit = [path.deal.expected_profit(find.asked).value for path in paths]
            loss = [path.deal.odds_of_loss(find.asked).value for path in paths]
            offered.append(Offered(margins, find, paths, profit, loss, oracle().choose(paths, find.asked)))
    return offered


def ways(find: Find, labour_rate: float) -> list[DealPath]:
    """Every path of a find carried out in the scenarios; the prices in it are the truth's."""
    builds = plans(find, labour_rate)
    market = truth()
    return [prepare(market, plan, AS_OF, SIMULATION) for plan in (*builds, as_found(builds[0]))]


def one_table(n: int, number: int, seed: int, offered: Sequence[Offered]) -> list[dict[str, object]]:
    """Rows of results: what every buyer with one table of n sales makes of the pool."""
    everyone: list[Buyer | None] = [None, *buyers(draw_table(np.random.default_rng([seed, n, number]), n))]
    rows = []
    for buyer in everyone:
        for margins in MARGINS:
            profit = bought = lost = 0.0
            mine = [one for one in offered if one.margins == margins]
            for one in mine:
                choice = one.best if buyer is None else buyer.choose(one.paths, one.find.asked)
                if choice is not None:
                    profit, bought, lost = profit + one.profit[choice], bought + 1, lost + one.loss[choice]
            figures = {"profit": profit / len(mine), "bought": 100 * bought / len(mine), "lost": 100 * lost / len(mine)}
            rows.append(
                {"margins": margins, "n": n, "table": number, "buyer": buyer.name if buyer else "oracle", **figures}
            )
    return rows


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """Profit as shares of the ceiling's and of the oracle's, and the paired difference to the project's own."""
    parts = []
    for (margins, n), group in rows.groupby(["margins", "n"], sort=False):
        profit = group.pivot(index="table", columns="buyer", values="profit")
        ceiling, best = profit[CEILING].mean(), profit["oracle"].mean()
        means = group.groupby("buyer", sort=False)[["bought", "lost"]].mean()
        behind = (profit.sub(profit[OURS], axis=0)) / ceiling
        table = pd.DataFrame(
            {
                "margins": margins,
                "n": n,
                "of the ceiling": profit.mean() / ceiling,
                "its error": _ratio_error(profit),
                "of the oracle": profit.mean() / best,
                "over this project": behind.mean(),
                "error of that": behind.std(ddof=1) / np.sqrt(len(behind)),
                "deals in 100 finds": means["bought"],
                "losing deals in 100 finds": means["lost"],
            }
        ).reindex(means.index)
        parts.append(table.rename_axis("buyer").reset_index())
    return pd.concat(parts, ignore_index=True)


def _ratio_error(profit: pd.DataFrame) -> pd.Series:
    """Standard error over tables of each buyer's profit over the ceiling's, both with the same table."""
    ratio = profit.mean() / profit[CEILING].mean()
    off = profit - np.outer(profit[CEILING], ratio)
    return off.std(ddof=1) / np.sqrt(len(profit)) / profit[CEILING].mean()


def write_up(table: pd.DataFrame, tables: int, finds: int) -> str:
    """The report as Markdown."""
    parts = [
        "# Decisions in a market of known truth",
        f"{stamp(LIBRARIES)} {tables} tables at each size, one pool of {finds} finds for all of them.",
        "Made by `OMP_NUM_THREADS=1 python -m benchmarks.decisions.run`; the market, the buyers and their common rule "
        "are described in `benchmarks/decisions/README.md`. Profit and losses are true expectations, so that no luck "
        "of single sales is in them. Errors are standard errors over tables, of differences with the same table.",
    ]
    for (margins, n), block in table.groupby(["margins", "n"], sort=False):
        lines = [
            "| buyer | share of the ceiling's profit | of the oracle's | over this project | deals in 100 finds | "
            "losing deals in 100 finds |",
            "|---|---:|---:|---:|---:|---:|",
        ]
        for _, row in block.iterrows():
            lines.append(
                f"| {row['buyer']} | {row['of the ceiling']:.3f} ± {row['its error']:.3f} | "
                f"{row['of the oracle']:.3f} | {row['over this project']:+.3f} ± {row['error of that']:.3f} | "
                f"{row['deals in 100 finds']:.1f} | "
                f"{row['losing deals in 100 finds']:.1f} |"
            )
        heading = f"## {str(margins).capitalize()} margins, {n} sales"
        parts += [heading, "\n".join(lines), _against_aims(block.set_index("buyer"), int(str(n)))]
    return "\n\n".join(parts) + "\n"


def _against_aims(block: pd.DataFrame, n: int) -> str:
    ours = block.loc[OURS]
    short = AIMS[n] - ours["of the ceiling"]
    words = [f"Aim: {AIMS[n]:g} of the ceiling's profit: {'met' if short <= 0 else f'missed by {short:.3f}'}."]
    for name, row in block.drop(index=[OURS, CAUTIOUS, CEILING, "oracle"]).iterrows():
        lead, error = -row["over this project"], row["error of that"]
        said = "within noise" if abs(lead) < 2 * error else "ahead" if lead > 0 else "behind"
        words.append(f"Against {name}: {said} ({lead:+.3f} ± {error:.3f}).")
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
    parser.add_argument("--finds", type=int, default=FINDS, help="finds in the pool")
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES), help="sales in a table")
    options = parser.parse_args(arguments)
    seed = WORK_SEED if options.work else REPORT_SEED
    offered = pool(seed, options.finds)
    rows: list[dict[str, object]] = []
    for n in options.sizes:
        for number in range(options.tables):
            rows += one_table(n, number, seed, offered)
            sys.stderr.write(f"\rn = {n}: table {number + 1} of {options.tables}   ")
    table = summary(pd.DataFrame(rows).sort_values(["margins", "n"], ascending=[False, True], kind="stable"))
    report = write_up(table, options.tables, options.finds)
    sys.stdout.write("\n" + report)
    if not options.work:
        RESULTS.mkdir(exist_ok=True)
        (RESULTS / "decisions.md").write_text(report, encoding="utf-8")
        table.to_csv(RESULTS / "decisions.csv", float_format="%.5g", index=False)


if __name__ == "__main__":
    main()
