"""The same valuation on a cluster: to the bit for files, whatever becomes of a worker; and of a Dask table."""

import datetime as dt
import gc
import os
import signal
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import read_comparables
from valuation.errors import RegressionError
from valuation.regression import PriceModel
from valuation.regression.batch import RESULT_COLUMNS, value_frame, value_partitions
from valuation.regression.fleet import value_file, value_folder
from valuation.schema import read_schema

if TYPE_CHECKING:
    from distributed import Client

dask_frames = pytest.importorskip("dask.dataframe")

DATA = Path(__file__).parents[3] / "data"
AS_OF = dt.date(2026, 10, 31)
MONEY = list(RESULT_COLUMNS[:4])


@pytest.fixture(scope="module")
def model() -> PriceModel:
    comparables = read_comparables(DATA / "comparables.csv", read_schema(DATA / "schema.toml"))
    return PriceModel.fit(comparables, lattice_points=4)


@pytest.fixture(scope="module")
def vehicles() -> pd.DataFrame:
    rng = np.random.default_rng(11)
    return pd.DataFrame(
        {
            "family": rng.choice(["Penhurrow Haywain", "Tarrowby Linnet", "Orvane Tessera"], 60),
            "model_year": rng.integers(1938, 1970, 60),
            "condition": rng.choice(["project", "runner", "driver", "drivr"], 60, p=[0.3, 0.3, 0.3, 0.1]),
            "paint": rng.choice(["worn", "fresh", ""], 60),
        }
    )


def same(answer: pd.DataFrame, expected: pd.DataFrame) -> None:
    np.testing.assert_allclose(answer[MONEY].to_numpy(float), expected[MONEY].to_numpy(float), rtol=1e-12, atol=0)
    assert list(answer["remark"]) == list(expected["remark"])
    assert list(answer.columns) == list(expected.columns)


@pytest.mark.parametrize("scheduler", ["synchronous", "threads"])
@pytest.mark.parametrize("partitions", [1, 7])
def test_partitions_equal_the_whole_table(model, vehicles, scheduler, partitions) -> None:
    parted = dask_frames.from_pandas(vehicles, npartitions=partitions)
    answer = value_partitions(model, parted, AS_OF).compute(scheduler=scheduler)
    same(answer, value_frame(model, vehicles, AS_OF))


@pytest.fixture(scope="module")
def folder(vehicles, tmp_path_factory) -> Path:
    """Three files of vehicles, and beside it what one process makes of them."""
    folder = tmp_path_factory.mktemp("fleet") / "in"
    folder.mkdir()
    for name, kept in (("a.csv", vehicles), ("b.parquet", vehicles.tail(40)), ("c.csv", vehicles.head(5))):
        frame = pd.concat([kept] * 12, ignore_index=True)
        frame.to_csv(folder / name, index=False) if name.endswith("csv") else frame.to_parquet(folder / name)
    return folder


@pytest.fixture(scope="module")
def alone(model, folder) -> Path:
    target = folder.parent / "alone"
    assert value_folder(model, folder, target, as_of=AS_OF, chunk_rows=50).rows == 12 * 105
    return target


@contextmanager
def two_workers(n_workers: int = 2) -> Iterator[tuple[str, "Client"]]:
    from distributed import Client, LocalCluster

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the cluster's own, on ports and closing sockets
        with (
            LocalCluster(
                n_workers=n_workers, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
            ) as cluster,
            Client(cluster, set_as_default=False) as client,
        ):
            yield cluster.scheduler_address, client


def same_bytes(found: Path, expected: Path) -> None:
    names = sorted(path.name for path in expected.iterdir())
    assert sorted(path.name for path in found.iterdir()) == names == ["a.csv", "b.parquet", "c.csv"]
    for name in names:
        assert (found / name).read_bytes() == (expected / name).read_bytes(), name


@pytest.mark.slow
def test_a_cluster_of_two_workers_gives_the_files_of_one_process_to_the_bit(model, folder, alone, tmp_path) -> None:
    with two_workers() as (address, client):
        assert len(client.nthreads()) == 2
        fleet = value_folder(model, folder, tmp_path / "out", as_of=AS_OF, chunk_rows=50, cluster=address)
        assert fleet.rows == 12 * 105
        ran = client.run(lambda dask_worker: dask_worker.state.executed_count)
        assert all(ran.values()), f"each worker had its share: {ran}"
    same_bytes(tmp_path / "out", alone)


@pytest.mark.slow
def test_a_worker_that_is_killed_midway_loses_nothing(model, folder, alone, tmp_path) -> None:
    with two_workers() as (address, client):
        running = client.run(os.getpid)
        killed: list[int] = []

        def kill_one(done: int, total: int) -> None:
            if not killed and done >= 100:
                killed.append(running.popitem()[1])
                os.kill(killed[0], signal.SIGKILL)

        value_folder(model, folder, tmp_path / "out", as_of=AS_OF, chunk_rows=50, cluster=address, tell=kill_one)
        assert killed
        assert killed[0] not in client.run(os.getpid).values()
    same_bytes(tmp_path / "out", alone)


def _close_workers(client: "Client") -> None:
    for worker in client.cluster.workers.values():
        client.sync(worker.close)


def _close_scheduler(client: "Client") -> None:
    client.sync(client.cluster.scheduler.close)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("close", "words"), [(_close_workers, "no worker is left"), (_close_scheduler, "scheduler does not answer")]
)
def test_a_cluster_that_is_gone_is_given_up_without_half_a_file(
    model, vehicles, tmp_path, monkeypatch, close, words
) -> None:
    monkeypatch.setattr("valuation.regression.cluster.PATIENCE", 3.0)
    vehicles.to_csv(tmp_path / "vehicles.csv")
    with two_workers() as (address, client), pytest.raises(RegressionError, match=f"Cannot go on with .*{words}"):
        value_file(
            model, tmp_path / "vehicles.csv", tmp_path / "valued.csv", as_of=AS_OF, chunk_rows=5, cluster=address,
            tell=lambda done, total: close(client),
        )  # fmt: skip
    assert [path.name for path in tmp_path.iterdir()] == ["vehicles.csv"]


@pytest.mark.slow
def test_a_scheduler_without_workers_is_refused(model, folder, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("valuation.regression.cluster.PATIENCE", 1.0)
    with two_workers(0) as (address, _), pytest.raises(RegressionError, match="start workers with 'dask worker"):
        value_folder(model, folder, tmp_path, as_of=AS_OF, cluster=address)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "127.0.0.1:9", "nonsense", "ftp://somewhere:1"])
def test_a_scheduler_that_does_not_answer_is_refused_with_its_address(
    model, folder, tmp_path, monkeypatch, address
) -> None:
    monkeypatch.setattr("valuation.regression.cluster.PATIENCE", 0.3)
    from distributed import Client

    with pytest.raises(RegressionError, match=rf"Cannot work on the cluster '{address}'.*tcp://192.*--cluster local"):
        value_folder(model, folder, tmp_path / "out", as_of=AS_OF, cluster=address)
    assert not [one for one in gc.get_objects() if type(one) is Client and one.status != "closed"]


def test_without_the_library_the_command_that_installs_it_is_named(model, folder, tmp_path, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(RegressionError, match=r"'distributed' is not installed.*pip install -e \"\.\[cluster\]\""):
        value_folder(model, folder, tmp_path / "out", as_of=AS_OF, cluster="local")
