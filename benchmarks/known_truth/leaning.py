"""Leaning on another shop's model: what it saves where the shops are alike, and costs where they are not."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
import pandas as pd

from benchmarks.known_truth.simulate import ATTRIBUTES, World
from valuation.regression.fit import Options, fit_core

SHOPS = {"like": (0.05, 0.05), "wild": (0.6, 0.5)}
"""How far the other shop's effects of families, and of levels of scales, differ: standard deviations in logs."""

SIZES = (15, 25, 40)
OTHER_SALES, TESTS = 300, 300


def leaning(tables: int, seed: str = "leaning", sizes: Sequence[int] = SIZES) -> pd.DataFrame:
    """Mean size of the error of log estimates, leaning and not, for every table."""
    rows = []
    for shop, differ in SHOPS.items():
        for n in sizes:
            for number in range(tables):
                rng = np.random.default_rng(zlib.crc32(f"{seed} {n} {number}".encode()))
                world = World.draw(rng)
                names = list(world.families)
                other = world.another_shop(rng, *differ)
                theirs, own, test = (
                    one.table(rng, rng.choice(names, size)).misused()
                    for one, size in ((other, OTHER_SALES), (world, n), (world, TESTS))
                )
                attributes = tuple(ATTRIBUTES.values())
                source = fit_core(theirs.cells, theirs.low, theirs.high, attributes, Options()).core
                errors = {}
                for way, options in (("alone", Options()), ("leaning", Options(lean_on=source))):
                    fit = fit_core(own.cells, own.low, own.high, attributes, options)
                    off = fit.core.location(fit.core.rows(test.cells)) - test.median
                    errors[way] = 100 * float(np.abs(off).mean())
                rows.append({"other shop": shop, "n": n, "table": number, **errors, "leaned": fit.leaned})
    return pd.DataFrame(rows)


def summary(found: pd.DataFrame) -> pd.DataFrame:
    """Errors, their ratio with its standard error over tables, and how often the model was leaned on."""
    groups = found.groupby(["other shop", "n"], sort=False)
    means = groups[["alone", "leaning"]].mean()
    ratio = means["leaning"] / means["alone"]
    off = (
        found["leaning"]
        - found["alone"] * ratio.reindex(list(zip(found["other shop"], found["n"], strict=True))).to_numpy()
    )
    error = off.groupby([found["other shop"], found["n"]], sort=False).std() / np.sqrt(groups.size()) / means["alone"]
    words = [f"{r:.3f} ± {e:.3f}" for r, e in zip(ratio, error, strict=True)]
    return means.round(1).assign(ratio=words, leaned=groups["leaned"].mean().round(2))
