"""The same valuation over the partitions of a Dask table, in one process and on a local cluster."""

import datetime as dt
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import read_comparables
from valuation.regression import PriceModel
from valuation.regression.batch import RESULT_COLUMNS, value_frame, value_partitions
from valuation.schema import read_schema

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


@pytest.mark.slow
def test_a_local_cluster_of_two_workers_equals_one_process(model, vehicles) -> None:
    from dask.distributed import Client, LocalCluster

    parted = dask_frames.from_pandas(vehicles, npartitions=4)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the cluster's own, on ports and closing sockets
        with (
            LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
            Client(cluster) as client,
        ):
            assert len(client.scheduler_info()["workers"]) == 2
            answer = value_partitions(model, parted, AS_OF).compute()
    same(answer, value_frame(model, vehicles, AS_OF))
