"""Run methods over a collection and keep their raw results.

python -m benchmarks.accuracy.run --methods peers
python -m benchmarks.accuracy.run --methods ours --label trial
python -m benchmarks.accuracy.run --methods bayesian-ridge,gaussian-process-log --collection development --splits 10
"""

from __future__ import annotations

import argparse
import sys
import time
import warnings
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from functools import cache as remember

from benchmarks.accuracy import cache, datasets, development
from benchmarks.accuracy.datasets import DataSet
from benchmarks.accuracy.ours import Ours
from benchmarks.accuracy.peers import PEERS, Peer
from benchmarks.accuracy.scores import price_thirds, score
from benchmarks.accuracy.splits import SPLITS, make_split, train_sizes

# Splits come in two rounds, so that a run that is cut short still says something about every cell.
FIRST_ROUND = 5
# The development collection is for tuning: three strong peers are enough to say where the estimator stands.
DEVELOPMENT_PEERS = ("bayesian-ridge", "jackknife-plus-log", "gaussian-process-log")

Method = Peer | Ours
Task = tuple[str, str, int, int]


@remember
def load(collection: str) -> dict[str, DataSet]:
    """Load the data sets of one collection by name, smallest first."""
    module = {"report": datasets, "development": development}[collection]
    return {data.name: data for data in module.load_all()}


def pick(words: str, label: str, collection: str) -> list[Method]:
    """Methods named on the command line: 'peers', 'ours', or names of peers, parted by commas."""
    by_name: dict[str, Method] = {peer.name: peer for peer in PEERS}
    chosen: list[Method] = []
    for word in words.split(","):
        if word == "peers":
            names = DEVELOPMENT_PEERS if collection == "development" else tuple(by_name)
            chosen += [by_name[name] for name in names]
        elif word == "ours":
            chosen.append(Ours(label))
        elif word in by_name:
            chosen.append(by_name[word])
        else:
            raise SystemExit(f"No method {word!r}; there are: peers, ours, {', '.join(by_name)}.")
    return chosen


def tasks(collection: str, sizes: Sequence[int], splits: int, names: Sequence[str]) -> Iterator[Task]:
    """Every cell's first five splits, then every cell's rest."""
    for numbers in (range(min(FIRST_ROUND, splits)), range(FIRST_ROUND, splits)):
        for name, data in load(collection).items():
            if names and name not in names:
                continue
            for n in train_sizes(len(data.frame)):
                if not sizes or n in sizes:
                    yield from ((collection, name, n, number) for number in numbers)


def run_one(method: Method, task: Task) -> dict[str, object]:
    """Fit one method on one split and score it."""
    collection, name, n, number = task
    data = load(collection)[name]
    prices = data.prices.to_numpy()
    split = make_split(name, len(prices), n, number)
    inputs = data.inputs
    began = time.process_time()
    forecast = method(inputs.iloc[split.train], prices[split.train], inputs.iloc[split.test], data.roles, split.seed)
    seconds = time.process_time() - began
    scores = score(forecast, prices[split.test], price_thirds(prices))
    return {"data": name, "n": n, "split": number, **scores, "seconds": seconds}


def run_missing(methods: Sequence[Method], have: Sequence[set[tuple[str, int, int]]], task: Task) -> dict[str, object]:
    """Run the methods that have no row for this split; keyed by the method's name."""
    warnings.simplefilter("ignore", RuntimeWarning)
    return {
        method.name: run_one(method, task) for method, keys in zip(methods, have, strict=True) if task[1:] not in keys
    }


def warm_up(methods: Sequence[Method], collection: str) -> None:
    """Fit each method once, so that no import counts as somebody's seconds."""
    first = next(tasks(collection, (), 1, ()))
    for method in methods:
        run_one(method, first)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line, run what is missing and say how far it is."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.accuracy.run", description=__doc__)
    parser.add_argument("--methods", default="peers", help="peers, ours, or names of peers parted by commas")
    parser.add_argument("--label", default="current", help="name of this state of our own method")
    parser.add_argument("--collection", choices=("report", "development"), default="report")
    parser.add_argument("--data", default="", help="names of data sets parted by commas; all when empty")
    parser.add_argument("--sizes", type=int, nargs="*", default=[], help="training sizes; all when empty")
    parser.add_argument("--splits", type=int, default=0, help="splits in each cell (20, or 10 in development)")
    parser.add_argument("--jobs", type=int, default=1, help="processes; keep OMP_NUM_THREADS=1 with more than one")
    parser.add_argument("--resume", action="store_true", help="keep our own method's rows of the same label")
    options = parser.parse_args(arguments)
    methods = pick(options.methods, options.label, options.collection)
    for method in methods:
        if isinstance(method, Ours) and not options.resume:
            # The code behind a label may have changed since; a peer's code is fixed by its version.
            cache.path(options.collection, method.name, method.version).unlink(missing_ok=True)
    have = [cache.done(options.collection, method.name, method.version) for method in methods]
    splits = options.splits or (SPLITS if options.collection == "report" else SPLITS // 2)
    names = [name for name in options.data.split(",") if name]
    todo = [
        task
        for task in tasks(options.collection, options.sizes, splits, names)
        if any(task[1:] not in keys for keys in have)
    ]
    if todo:
        warm_up(methods, options.collection)
    _run_all(methods, have, todo, options.collection, options.jobs)


def _run_all(
    methods: Sequence[Method],
    have: Sequence[set[tuple[str, int, int]]],
    todo: Sequence[Task],
    collection: str,
    jobs: int,
) -> None:
    began = time.perf_counter()
    versions = {method.name: method.version for method in methods}
    with ExitStack() as stack:
        spread = stack.enter_context(ProcessPoolExecutor(jobs)).map if jobs > 1 else map
        results = spread(run_missing, [methods] * len(todo), [have] * len(todo), todo)
        for count, (task, rows) in enumerate(zip(todo, results, strict=True), start=1):
            for name, row in rows.items():
                cache.append(collection, name, versions[name], [row])
            minutes = (time.perf_counter() - began) / 60
            left = minutes / count * (len(todo) - count)
            words = (
                f"{count}/{len(todo)} {task[1]} n={task[2]} split {task[3]}: {minutes:.1f} min, about {left:.1f} to go"
            )
            print(words, file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
