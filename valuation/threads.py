"""One thread for linear algebra.

The tables of a shop are small, and threads that wait for each other cost more than they bring. Sums then also run in
one order, so that the same input gives the same bytes on a machine of any size.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

NAMES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def one_thread() -> None:
    """Ask for one thread, unless the environment says otherwise; takes effect when called before numpy is loaded."""
    for name in NAMES:
        os.environ.setdefault(name, "1")


@contextmanager
def in_one_thread() -> Iterator[None]:
    """Work in one thread also where numpy was loaded before, as in a notebook, and leave the number as it was after it.

    Where the environment names a number of threads, that holds.
    """
    if any(name in os.environ for name in NAMES):
        yield
        return
    with _libraries().limit(limits=1, user_api="blas"):
        yield


@cache
def _libraries() -> Any:
    """The libraries for linear algebra that are loaded, all of them by the time that something is fitted."""
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()
