"""Errors against the truth, by parts, each with the number of its tables.

OMP_NUM_THREADS=1 python -m benchmarks.known_truth.run
OMP_NUM_THREADS=1 python -m benchmarks.known_truth.run --only corners chance --tables 32
"""

from __future__ import annotations

import argparse
import zlib
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks.accuracy.scores import interval_score
from benchmarks.known_truth import chance, corners, leaning, unsold
from benchmarks.known_truth.simulate import ATTRIBUTES, DRIFT, Table, Way, World, scales
from benchmarks.measure import stamp
from valuation.regression.core import Core
from valuation.regression.fit import Options, fit_core

RESULTS = Path(__file__).parents[1] / "results" / "known_truth.md"
SIZES, LONG_SIZES = (25, 40, 80, 160), (40, 160)
"""Sales of a table; and where every table is valued many times over."""
USES: dict[str, Callable[[Table], Table]] = {
    "used": lambda table: table,
    "dropped": Table.dropped,
    "as if sold": Table.misused,
}
TESTS = 300


SHARES = (0.1, 0.3, 0.5)
"""Shares of unsold bids."""


def fitted(table: Table, options: Options = Options()) -> Core:  # noqa: B008
    """Fit with the schema's directions and no expected effects."""
    return fit_core(table.cells, table.low, table.high, tuple(ATTRIBUTES.values()), options).core


def scores(core: Core, test: Table) -> dict[str, float]:
    """Errors and coverage on sold vehicles that the fit has not seen."""
    forecast = core.distribution(core.rows(test.cells))
    low, high = (np.log(bound) for bound in forecast.interval(0.8))
    inside = (low <= test.seen) & (test.seen <= high)
    third = np.searchsorted(np.quantile(test.median, [1 / 3, 2 / 3]), test.median)
    return {
        "estimate": 100 * float(np.median(np.abs(np.expm1(np.log(forecast.median()) - test.median)))),
        "interval": float(interval_score(low, high, test.seen, 0.2).mean()),
        "coverage": float(inside.mean()),
        **{f"coverage {name}": float(inside[third == k].mean()) for k, name in enumerate(("low", "middle", "high"))},
    }


def effect_errors(core: Core, world: World) -> dict[str, float]:
    """Root mean square error of each attribute's effects, in log points times 100, around their own average."""
    base = {"family": "family 1", "model_year": 1948.0, "condition": "runner", "paint": "presentable"}
    base |= {"drivetrain": "original", "mileage": np.exp(11.0), "sold": pd.Timestamp("2024-06-01")}
    truths = {"family": dict(world.families), **scales()}
    found = {}
    for name, truth in truths.items():
        rows = pd.DataFrame([base | {name: level} for level in truth])
        off = core.location(core.rows(rows)) - np.array(list(truth.values()))
        found[name] = 100 * float(np.std(off))
    dates = pd.DataFrame([base | {"sold": pd.Timestamp(f"{year}-01-01")} for year in (2023, 2025)])
    before, after = core.location(core.rows(dates))
    found["drift, a year"] = 100 * abs(float(after - before) / 2 - DRIFT)
    return found


def one_sided(way: Way, sizes: Sequence[int], tables: int) -> pd.DataFrame:
    """Every use of the one-sided rows on the same tables."""
    rows = []
    for n in sizes:
        for number in range(tables):
            rng = np.random.default_rng(zlib.crc32(f"{way} {n} {number}".encode()))
            world = World.draw(rng)
            names = list(world.families)
            table = world.table(rng, rng.choice(names, n), way)
            test = world.table(rng, rng.choice(names, 2 * TESTS), way).dropped().rows(np.arange(TESTS))
            for use, change in USES.items():
                core = fitted(change(table))
                rows.append({"n": n, "table": number, "use": use, **scores(core, test), **effect_errors(core, world)})
    return pd.DataFrame(rows)


def unsold_bids(sizes: Sequence[int], tables: int) -> pd.DataFrame:
    """Signed error and size of the error of log estimates, by way in which bids come about, share of them and use."""
    rows = []
    for mechanism in unsold.MECHANISMS:
        for share in SHARES:
            for n in sizes:
                for number in range(tables):
                    rng = np.random.default_rng(zlib.crc32(f"unsold {n} {number}".encode()))
                    world = World.draw(rng)
                    table, test = (unsold.draw(rng, world, size, mechanism, share) for size in (n, TESTS))
                    price = test.median + unsold.SCATTER * rng.standard_normal(TESTS)  # whether it would be sold or not
                    uses = {use: fitted(change(table)) for use, change in USES.items()}
                    uses["bare bounds"] = fitted(table, Options(ranges=False))
                    for use, core in uses.items():
                        rows_of = core.rows(test.cells)
                        off = 100 * (core.location(rows_of) - test.median)
                        low, high = (np.log(bound) for bound in core.distribution(rows_of).interval(0.8))
                        inside = (low <= price) & (price <= high)
                        scores = {"bias": off.mean(), "error": np.abs(off).mean(), "coverage": inside.mean()}
                        rows.append({"way": mechanism, "share": share, "n": n, "use": use, "table": number, **scores})
    return pd.DataFrame(rows)


def unsold_section(tables: int) -> str:
    """Tables of bias and of error by way and share."""
    found = unsold_bids(LONG_SIZES, tables)
    means = found.groupby(["way", "share", "n", "use"], sort=False)[["bias", "error", "coverage"]].mean()
    parts = [
        "## Unsold bids: signed bias by way and share",
        "Mean of estimated less true log median x 100 (bias), mean size of it (error), and coverage of 80 % intervals, "
        "over unseen vehicles, whether they would be sold or not.",
    ]
    for score, digits in (("bias", 1), ("error", 1), ("coverage", 3)):
        parts += [score.capitalize() + ":", markdown(means[score].unstack("use", sort=False).round(digits))]
    return "\n\n".join(parts)


def families(tables: int) -> pd.DataFrame:
    """Three families with 3 sales beside three with 40: error of the estimate for the small ones, percent."""
    rows = []
    for number in range(tables):
        rng = np.random.default_rng(zlib.crc32(f"families {number}".encode()))
        world = World.draw(rng)
        names = list(world.families)
        small = names[3:]
        table = world.table(rng, np.repeat(names, [40, 40, 40, 3, 3, 3])).misused()
        test = world.table(rng, np.repeat(small, 100))
        family, tested = table.cells["family"].to_numpy(), test.cells["family"].to_numpy()
        together = fitted(table)
        ignoring = fitted(Table(table.cells.assign(family="all"), table.low, table.high, table.seen, table.median))
        alone = np.empty(len(tested))
        average = np.empty(len(tested))
        for name in small:
            mine = tested == name
            core = fitted(table.rows(family == name))
            alone[mine] = core.location(core.rows(test.cells[mine]))
            average[mine] = np.median(table.seen[family == name])
        ways = {
            "all families in one fit": together.location(together.rows(test.cells)),
            "each family alone": alone,
            "median of the family's own 3": average,
            "family ignored": ignoring.location(ignoring.rows(test.cells.assign(family="all"))),
        }
        errors = {way: 100 * float(np.median(np.abs(np.expm1(at - test.median)))) for way, at in ways.items()}
        rows.append(errors)
    return pd.DataFrame(rows)


def against_dropped(found: pd.DataFrame, column: str) -> pd.DataFrame:
    """Ratio of each use to ``dropped`` in one score by size, geometric over tables, with its standard error."""
    wide = np.log(found.pivot(index=["n", "table"], columns="use", values=column))
    lifts = wide.sub(wide["dropped"], axis=0).groupby("n")
    ratio, error = np.exp(lifts.mean()), lifts.std() / np.sqrt(lifts.count())
    return pd.DataFrame(
        {
            use: [f"{r:.3f} ± {e:.3f}" for r, e in zip(ratio[use], error[use], strict=True)]
            for use in USES
            if use != "dropped"
        },
        index=ratio.index,
    )


def markdown(frame: pd.DataFrame) -> str:
    """A frame as a table, its index first."""
    flat = frame.reset_index(names="way") if frame.index.names == [None] else frame.reset_index()
    lines = [flat.columns, ["---"] * len(flat.columns), *flat.itertuples(index=False)]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def way_section(way: Way, tables: int) -> str:
    """Tables of one way for bids and asks to arise."""
    found = one_sided(way, SIZES, tables)
    means = found.groupby(["n", "use"], sort=False).mean(numeric_only=True).drop(columns="table")
    return "\n\n".join(
        [
            f"## One-sided rows, {way}",
            "Error of the estimate (median, percent of the true median), interval score on log price, coverage of 80 % "
            "intervals in all and by third of the true median, root mean square error of effects (log points x 100).",
            markdown(means.round(3)),
            "Interval score as a ratio to dropping the rows:",
            markdown(against_dropped(found, "interval")),
            "Error of the estimate as a ratio to dropping the rows:",
            markdown(against_dropped(found, "estimate")),
        ]
    )


def families_section(tables: int) -> str:
    """Errors of four ways to value a family that has few sales."""
    shares = families(tables).mean().to_frame("error of the estimate, %")
    shares["ratio"] = shares.iloc[:, 0] / shares.iloc[0, 0]
    return "\n\n".join(["## Families with 3 sales among families with 40", markdown(shares.round(3))])


def corners_section(tables: int) -> str:
    """Bias, coverage and calibration in every corner."""
    return "\n\n".join(
        [
            "## Corners",
            "Bias and error of log estimates x 100; coverage of 80 % intervals in all, by condition where it is known, "
            "and by number of empty cells; interval score; sum of mean prices over sum of realised ones.",
            markdown(corners.summary(corners.corners(tables, LONG_SIZES))),
        ]
    )


def chance_section(tables: int) -> str:
    """What columns of chance cost."""
    return "\n\n".join(
        [
            "## Columns of chance",
            "Mean size of the error of log estimates and interval score, as ratios to the same tables without such "
            "columns; coverage of 80 % intervals.",
            markdown(chance.summary(chance.chance(tables))),
        ]
    )


def leaning_section(tables: int) -> str:
    """What leaning on another shop's model saves and costs."""
    return "\n\n".join(
        [
            "## Leaning on the model of 300 sales of another shop",
            "Mean size of the error of log estimates x 100; ratio with its standard error; share of fits that leaned.",
            markdown(leaning.summary(leaning.leaning(tables))),
        ]
    )


PARTS: dict[str, Callable[[int], str]] = {
    "thin": partial(way_section, "thin room"),
    "low": partial(way_section, "low draw"),
    "unsold": unsold_section,
    "families": families_section,
    "corners": corners_section,
    "chance": chance_section,
    "leaning": leaning_section,
}


def kept(text: str, section: str) -> str:
    """The results with one section written anew, at its old place or at the end."""
    sections = text.rstrip().split("\n\n## ")
    heading, fresh = section.split("\n", 1)[0].removeprefix("## "), section.removeprefix("## ")
    places = [place for place, old in enumerate(sections) if old.split("\n", 1)[0] == heading]
    at = places[0] if places else len(sections)
    sections[at : at + 1] = [fresh]
    return "\n\n## ".join(sections) + "\n"


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the parts asked for and write each into the results when it is done."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tables", type=int, default=16, help="simulated tables of each size")
    parser.add_argument("--only", nargs="*", choices=list(PARTS), default=list(PARTS), metavar="PART")
    parser.add_argument("--dry", action="store_true", help="print, write no file")
    told = parser.parse_args(arguments)
    for part in told.only:
        heading, rest = PARTS[part](told.tables).split("\n", 1)
        run = f"{stamp(('numpy', 'scipy', 'pandas'))} {told.tables} tables of each size, {TESTS} unseen sales each."
        section = f"{heading}\n\n{run}\n{rest}"
        print(section)
        if not told.dry:
            RESULTS.parent.mkdir(exist_ok=True)
            RESULTS.write_text(kept(RESULTS.read_text() if RESULTS.exists() else "# Known truth\n", section))


if __name__ == "__main__":
    main()
