"""Columns of chance: what a table loses by columns that have nothing to do with its prices."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
import pandas as pd

from benchmarks.accuracy.scores import interval_score
from benchmarks.known_truth.simulate import ATTRIBUTES, World
from valuation.regression.fit import Options, fit_core
from valuation.schema.attributes import Attribute, Level, Role

LEVELS = ("a", "b", "c", "d")
CHANCE = {
    "bay": Attribute("bay", Role.NOMINAL),
    "weight": Attribute("weight", Role.NUMBER),
    "lamp": Attribute("lamp", Role.FLAG),
    "gloss": Attribute("gloss", Role.ORDINAL, levels=tuple(map(Level, LEVELS))),
    "serial": Attribute("serial", Role.SMOOTH),
    "keys": Attribute("keys", Role.COUNT),
}
"""One column of each kind; tables have the first three or all six."""

COLUMNS = (0, 3, 6)
SIZES = (25, 40, 80)
TESTS = 300


def columns(rng: np.random.Generator, n: int) -> pd.DataFrame:
    """Cells of chance for n vehicles."""
    return pd.DataFrame(
        {
            "bay": rng.choice(["north", "south", "east", "west"], n),
            "weight": rng.normal(1500, 200, n),
            "lamp": rng.choice([True, False], n),
            "gloss": rng.choice(LEVELS, n),
            "serial": rng.uniform(1000, 9000, n),
            "keys": rng.integers(1, 5, n).astype(float),
        }
    )


def chance(tables: int, seed: str = "chance", sizes: Sequence[int] = SIZES) -> pd.DataFrame:
    """Errors of the same sold tables with no, three and six such columns."""
    rows = []
    for n in sizes:
        for number in range(tables):
            rng = np.random.default_rng(zlib.crc32(f"{seed} {n} {number}".encode()))
            world = World.draw(rng)
            names = list(world.families)
            # Enough rows that n of them are sold.
            drawn = (world.table(rng, rng.choice(names, 3 * size)).dropped() for size in (n, TESTS))
            table, test = (sold.rows(np.arange(size)) for sold, size in zip(drawn, (n, TESTS), strict=True))
            ours, theirs = columns(rng, n), columns(rng, TESTS)
            for many in COLUMNS:
                more = list(CHANCE)[:many]
                attributes = (*ATTRIBUTES.values(), *(CHANCE[name] for name in more))
                cells = pd.concat([table.cells, ours[more]], axis=1)
                core = fit_core(cells, table.low, table.high, attributes, Options()).core
                seen = core.rows(pd.concat([test.cells, theirs[more]], axis=1))
                low, high = (np.log(bound) for bound in core.distribution(seen).interval(0.8))
                scores = {
                    "error": 100 * float(np.abs(core.location(seen) - test.median).mean()),
                    "interval score": float(interval_score(low, high, test.seen, 0.2).mean()),
                    "coverage": float(((low <= test.seen) & (test.seen <= high)).mean()),
                }
                rows.append({"n": n, "table": number, "columns": many, **scores})
    return pd.DataFrame(rows)


def summary(found: pd.DataFrame) -> pd.DataFrame:
    """Error and interval score as ratios to the same tables without such columns, geometric over tables; coverage."""
    rows = {}
    for (n, many), group in found.groupby(["n", "columns"]):
        base = found[(found["n"] == n) & (found["columns"] == 0)].set_index("table")
        ours = group.set_index("table")
        words = {}
        for score in ("error", "interval score"):
            lift = np.log(ours[score] / base[score])
            words[score] = f"{np.exp(lift.mean()):.3f} ± {lift.std() / np.sqrt(len(lift)):.3f}"
        rows[n, many] = {**words, "coverage": f"{group['coverage'].mean():.3f}"}
    table = pd.DataFrame.from_dict(rows, orient="index")
    table.index = pd.MultiIndex.from_tuples(table.index, names=["n", "columns of chance"])
    return table
