"""Who values the chunks of a batch: this process, or the workers of a Dask cluster."""

from __future__ import annotations

import datetime as dt
import gc
import logging
import os
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from contextlib import ExitStack, contextmanager
from functools import partial
from importlib import import_module
from importlib.metadata import version
from typing import Any

import pandas as pd

from valuation.errors import RegressionError
from valuation.regression.batch import value_frame
from valuation.regression.model import PriceModel

LOCAL = "local"
"""In place of an address: a cluster of this computer's cores, for as long as the work takes."""
PATIENCE = 10.0
"""Seconds in which a scheduler has to answer and to have a worker, and after which one without any is given up."""
AHEAD = 2
"""Chunks under way for each thread of the workers: while one is valued the next one travels."""

Ticket = Callable[[], pd.DataFrame]
"""Gives the estimates of a chunk, once they are there."""
Begin = Callable[[pd.DataFrame], Ticket]
"""Begins to value a chunk."""


@contextmanager
def at_work(model: PriceModel, as_of: dt.date, coverage: float, cluster: str = "") -> Iterator[tuple[Begin, int]]:
    """Whoever values chunks, and how many chunks should be under way at once beside the one that is waited for.

    A chunk goes to a worker whole, with the model, so that it gives the same figures to the bit as here, and whatever
    a worker that dies was at is done again by another.

    Parameters
    ----------
    model : PriceModel
    as_of : date
        The day on which the estimates hold.
    coverage : float
        Of the intervals.
    cluster : str
        Address of a Dask scheduler, or ``local``; this process unless told.

    Raises
    ------
    RegressionError
        The library for clusters is not installed, the scheduler does not answer or has no workers, or these run
        another version of the program.
    """
    if not cluster:
        yield (lambda chunk: partial(value_frame, model, chunk, as_of, coverage)), 0
        return
    with ExitStack() as held:
        client = _connected(cluster, held)
        threads = sum(client.nthreads().values())

        def begin(chunk: pd.DataFrame) -> Ticket:
            future = client.submit(value_frame, model, chunk, as_of, coverage, pure=False)
            return partial(_result, future, client, cluster)

        yield begin, AHEAD * threads


def _connected(cluster: str, held: ExitStack) -> Any:
    try:
        dask, distributed = import_module("dask"), import_module("distributed")
    except ImportError as problem:
        raise RegressionError(
            f"Cannot work on the cluster {cluster!r}: the package '{problem.name}' is not installed. Install it in the "
            'program\'s folder with: .venv/bin/pip install -e ".[cluster]". Or leave --cluster out.'
        ) from problem
    # A chunk is larger than what the library takes for a task's usual argument, and is meant to be.
    held.enter_context(dask.config.set({"distributed.admin.large-graph-warning-threshold": "1GB"}))
    address = cluster
    if cluster == LOCAL:
        cores = os.cpu_count() or 1
        address = held.enter_context(
            distributed.LocalCluster(
                n_workers=cores, threads_per_worker=1, dashboard_address=None, silence_logs=logging.ERROR
            )
        ).scheduler_address
    failed = ""
    try:
        client = held.enter_context(distributed.Client(address, timeout=PATIENCE, set_as_default=False))
        client.wait_for_workers(1, timeout=PATIENCE)
    except (OSError, ValueError, TimeoutError) as problem:
        failed = str(problem).partition("\n")[0] or type(problem).__name__
    if failed:
        # A client that could not be made is a circle of references. If it were swept up while a later one starts, that
        # one would wait for ever: both want the same lock. So it ends here, and no traceback keeps it.
        gc.collect()
        raise RegressionError(
            f"Cannot work on the cluster {cluster!r}: within {PATIENCE:g} seconds no scheduler with a worker answered "
            f"({failed}). Give the address that 'dask scheduler' printed, such as tcp://192.168.1.5:8786, and start "
            "workers with 'dask worker ADDRESS'; or say --cluster local."
        )
    _same_version(client, cluster)
    return client


def _same_version(client: Any, cluster: str) -> None:
    """Refuse workers that could not give the same figures."""
    own = version("valuation")
    found = client.run(_version, on_error="return")
    for worker, other in found.items():
        if other != own:
            raise RegressionError(
                f"Cannot work on the cluster {cluster!r}: its worker {worker} runs valuation {other}, and this is "
                f"{own}. Install {own} there."
            )


def _version() -> str:
    return version("valuation")


def _result(future: Any, client: Any, cluster: str) -> pd.DataFrame:
    """The estimates of a chunk, waited for as long as there is a worker."""
    from distributed import KilledWorker

    while True:
        try:
            answer: pd.DataFrame = future.result(timeout=PATIENCE)
            return answer
        except TimeoutError as problem:
            if client.status == "running" and client.nthreads():
                continue
            raise _lost(cluster, "no worker is left") from problem
        except KilledWorker as problem:
            raise RegressionError(
                f"Cannot value the vehicles on the cluster {cluster!r}: one chunk ended several workers, which as a "
                "rule means that their memory does not hold it. Give a smaller --chunk."
            ) from problem
        except (OSError, CancelledError) as problem:
            raise _lost(cluster, "its scheduler does not answer any more") from problem


def _lost(cluster: str, why: str) -> RegressionError:
    return RegressionError(
        f"Cannot go on with the cluster {cluster!r}: {why}. The file that was being written was "
        "given up. Begin again when the cluster is back, or without --cluster."
    )
