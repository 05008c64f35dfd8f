"""Say which recorded figures differ: ``python -m benchmarks.figures.compare BEFORE.json AFTER.json``.

Two figures agree when they differ by no more than one part in 10^12 of the larger. A key that only one file has counts
as renamed where one key of the other file, of the same question, holds the very same figures; else it is named as
missing. Ends with code 1 where a figure differs or is missing.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

TOLERANCE = 1e-12

Figures = dict[str, list[float]]


@dataclass(frozen=True)
class Comparison:
    """What two records say of each other.

    Attributes
    ----------
    same : int
        Figures that agree.
    differing : dict of str to float
        Largest relative difference by key; infinite where the lists are of different length.
    renamed : dict of str to str
        Key after by key before.
    missing, added : tuple of str
        Keys of one record alone.
    largest : float
        Largest relative difference of all figures, the agreeing ones among them.
    """

    same: int
    differing: dict[str, float]
    renamed: dict[str, str]
    missing: tuple[str, ...]
    added: tuple[str, ...]
    largest: float


def compare(before: Figures, after: Figures) -> Comparison:
    """Compare two records, keys that were renamed included."""
    gone = [key for key in before if key not in after]
    new = [key for key in after if key not in before]
    renamed: dict[str, str] = {}
    for key in gone:
        alike = (other for other in new if _question(other) == _question(key) and after[other] == before[key])
        twin = next(alike, None)
        if twin is not None:
            renamed[key] = twin
            new.remove(twin)
    off = {key: difference(values, after[key]) for key, values in before.items() if key in after}
    return Comparison(
        same=sum(len(before[key]) for key, size in off.items() if size <= TOLERANCE)
        + sum(len(before[key]) for key in renamed),
        differing={key: size for key, size in off.items() if size > TOLERANCE},
        renamed=renamed,
        missing=tuple(key for key in gone if key not in renamed),
        added=tuple(new),
        largest=max(off.values(), default=0.0),
    )


def difference(before: list[float], after: list[float]) -> float:
    """Largest relative difference of two lists of figures; infinite where their lengths differ."""
    if len(before) != len(after):
        return float("inf")
    a, b = np.array(before), np.array(after)
    size = np.maximum(np.abs(a), np.abs(b))
    return float(np.max(np.abs(a - b) / np.where(size > 0, size, 1.0), initial=0.0))


def _question(key: str) -> str:
    return key.split(".", 1)[0]


def main() -> None:
    """Compare the two files named on the command line."""
    if len(sys.argv) != 3:
        raise SystemExit("usage: python -m benchmarks.figures.compare BEFORE.json AFTER.json")
    before, after = (json.loads(Path(name).read_text(encoding="utf-8")) for name in sys.argv[1:])
    found = compare(before, after)
    print(f"{found.same} figures agree to 1 part in 10^12; largest relative difference {found.largest:.2g}.")
    for old, now in found.renamed.items():
        print(f"renamed: {old} is now {now}")
    for key, size in found.differing.items():
        print(f"DIFFERS: {key}: up to {size:.3g}")
    for key in found.missing:
        print(f"MISSING: {key} ({len(before[key])} figures)")
    for key in found.added:
        print(f"added: {key}")
    raise SystemExit(1 if found.differing or found.missing else 0)


if __name__ == "__main__":
    main()
