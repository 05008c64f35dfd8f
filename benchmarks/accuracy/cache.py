"""Raw results, one row for each fit, kept so that a peer is run once and our own method can be run alone."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).parents[1] / "cache"
KEY = ["data", "n", "split"]


def path(collection: str, method: str, version: str) -> Path:
    """Return the file of one method and version."""
    return FOLDER / f"accuracy-{collection}-{method}-{version}.csv"


def read(collection: str, method: str, version: str) -> pd.DataFrame:
    """Return the rows so far; empty when there are none."""
    file = path(collection, method, version)
    return pd.read_csv(file) if file.exists() else pd.DataFrame(columns=KEY)


def done(collection: str, method: str, version: str) -> set[tuple[str, int, int]]:
    """Return the keys of the rows so far."""
    return set(read(collection, method, version)[KEY].itertuples(index=False, name=None))


def append(collection: str, method: str, version: str, rows: Iterable[dict[str, object]]) -> None:
    """Add rows at the end of the file."""
    file = path(collection, method, version)
    file.parent.mkdir(parents=True, exist_ok=True)
    pd.DataFrame(list(rows)).to_csv(file, mode="a", header=not file.exists(), index=False)
