"""Fixed random splits: the same rows for every method, on every machine."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

TRAIN_SIZES = (25, 50, 100, 200)
TINY_TABLE = 45
TINY_TRAIN = 20
TEST_ROWS = 200
FEWEST_TEST_ROWS = 20
FEWEST_TEST_ROWS_TINY = 10
SPLITS = 20


@dataclass(frozen=True)
class Split:
    """Row numbers of one split; ``seed`` also seeds whatever is random in a method."""

    train: np.ndarray
    test: np.ndarray
    seed: int


def train_sizes(rows: int) -> tuple[int, ...]:
    """Sizes to train on: those that leave 20 test rows; 20 alone (10 test rows) in a table of fewer than 45."""
    if rows < TINY_TABLE:
        return (TINY_TRAIN,) if rows >= TINY_TRAIN + FEWEST_TEST_ROWS_TINY else ()
    return tuple(n for n in TRAIN_SIZES if rows - n >= FEWEST_TEST_ROWS)


def make_split(name: str, rows: int, n: int, number: int) -> Split:
    """Split ``number`` of data set ``name``: ``n`` rows to train on and up to 200 of the rest to test on.

    The seed is a checksum of name, size and number, so that it depends on nothing else.
    """
    seed = zlib.crc32(f"{name}/{n}/{number}".encode())
    order = np.random.default_rng(seed).permutation(rows)
    return Split(order[:n], order[n : n + TEST_ROWS], seed)
