"""One thread for linear algebra.

The tables of a shop are small, and threads that wait for each other cost more than they bring. Sums then also run in
one order, so that the same input gives the same bytes on a machine of any size.
"""

from __future__ import annotations

import os

NAMES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def one_thread() -> None:
    """Ask for one thread, unless the environment says otherwise; takes effect when called before numpy is loaded."""
    for name in NAMES:
        os.environ.setdefault(name, "1")
