"""Many vehicles at once: the same answers as one by one, whatever the file, the chunk or the worker."""

import datetime as dt
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import read_comparables
from valuation.errors import TableError
from valuation.regression import PriceModel
from valuation.regression.batch import RESULT_COLUMNS, value_frame
from valuation.regression.fleet import value_file, value_folder
from valuation.schema import parse_vehicle, read_schema

DATA = Path(__file__).parents[3] / "data"
AS_OF = dt.date(2026, 10, 31)
MONEY = list(RESULT_COLUMNS[:4])
SAME = {"rtol": 1e-12, "atol": 0.0}


@pytest.fixture(scope="module")
def model() -> PriceModel:
    comparables = read_comparables(DATA / "comparables.csv", read_schema(DATA / "schema.toml"))
    return PriceModel.fit(comparables, lattice_points=4)


@pytest.fixture(scope="module")
def vehicles() -> pd.DataFrame:
    """Fifty vehicles as a shop types them: other words for headers and levels, empty cells, a column of its own."""
    rng = np.random.default_rng(5)
    return pd.DataFrame(
        {
            "our number": [f"lot {i}" for i in range(50)],
            "Make and model": rng.choice(
                ["Penhurrow Haywain", "tarrowby linnet", "Orvane Tessera", "Nobody's Guess"], 50
            ),
            "YEAR": rng.integers(1930, 1972, 50).astype(str),
            "condition": rng.choice(["derelict", "Barn Find", "runner", "driver", "show"], 50),
            "paint": rng.choice(["bare", "worn", "fresh", ""], 50),
            "drivetrain": rng.choice(["original", "rebuilt", "Period-Swap"], 50),
            "awards": rng.choice(["", "local", "national"], 50),
            "original_finish": rng.choice(["yes", "no", ""], 50),
            "mileage": rng.choice(["58,000", "61000", ""], 50),
        }
    )


@pytest.fixture(scope="module")
def valued(model, vehicles) -> pd.DataFrame:
    return value_frame(model, vehicles, AS_OF)


def test_each_row_is_what_the_vehicle_is_worth_alone(model, vehicles, valued) -> None:
    names = {"Make and model": "family", "YEAR": "model_year"}
    for row, figures in zip(vehicles.to_dict("records"), valued.to_dict("records"), strict=True):
        known = {names.get(k, k): v for k, v in row.items() if v != "" and k != "our number"}
        alone = model.value(parse_vehicle(known, model.schema, "one"), AS_OF)
        found = [alone.median, alone.interval.low, alone.interval.high, alone.mean]
        np.testing.assert_allclose([figures[name] for name in MONEY], found, **SAME)


def test_the_tables_own_columns_and_index_are_carried_along(model, vehicles, valued) -> None:
    assert list(valued.columns) == [*vehicles.columns, *RESULT_COLUMNS]
    pd.testing.assert_frame_equal(valued[list(vehicles.columns)], vehicles)
    some = vehicles.iloc[[7, 3]]
    assert list(value_frame(model, some, AS_OF).index) == [7, 3]


def test_interval_widens_with_its_coverage(model, vehicles, valued) -> None:
    wide = value_frame(model, vehicles, AS_OF, coverage=0.95)
    assert (wide["low"] < valued["low"]).all()
    assert (wide["high"] > valued["high"]).all()
    np.testing.assert_allclose(wide["median"], valued["median"], **SAME)


def test_what_widens_a_row_is_said_on_it(vehicles, valued) -> None:
    guessed = valued["remark"].str.contains("not in the table")
    assert (guessed == (vehicles["Make and model"] == "Nobody's Guess")).all()
    early = vehicles["YEAR"].astype(int) < 1938
    assert valued.loc[early, "remark"].str.contains("Model year outside the table").all()


def test_rows_that_cannot_be_read_stay_with_their_reason(model, vehicles) -> None:
    spoilt = vehicles.head(4).copy()
    spoilt.loc[1, "condition"] = "drivr"
    spoilt.loc[2, "YEAR"] = "nineteen fifty"
    valued = value_frame(model, spoilt, AS_OF)
    assert list(valued["median"].isna()) == [False, True, True, False]
    assert valued.loc[[1, 2], MONEY].isna().all(axis=None)
    assert "Condition: " in valued.loc[1, "remark"]
    assert "driver" in valued.loc[1, "remark"]
    assert "Model year: " in valued.loc[2, "remark"]
    np.testing.assert_allclose(valued.loc[[0, 3], MONEY], value_frame(model, spoilt.iloc[[0, 3]], AS_OF)[MONEY], **SAME)


def test_a_table_without_rows_or_known_columns_still_answers(model) -> None:
    assert list(value_frame(model, pd.DataFrame({"condition": []}), AS_OF).columns) == ["condition", *RESULT_COLUMNS]
    nothing_known = value_frame(model, pd.DataFrame({"note": ["a", "b"]}), AS_OF)
    assert nothing_known[MONEY].notna().all(axis=None)


@pytest.mark.parametrize("target", ["valued.csv", "valued.parquet"])
@pytest.mark.parametrize("source", ["vehicles.csv", "vehicles.parquet"])
@pytest.mark.parametrize("chunk_rows", [7, 50, 1000])
def test_files_and_chunks_of_any_size_give_the_same(
    model, vehicles, valued, tmp_path, source, target, chunk_rows
) -> None:
    write(vehicles, tmp_path / source)
    told: list[tuple[int, int]] = []
    count = value_file(
        model,
        tmp_path / source,
        tmp_path / target,
        as_of=AS_OF,
        chunk_rows=chunk_rows,
        tell=lambda done, total: told.append((done, total)),
    )
    answer = read(tmp_path / target)
    assert (count.rows, count.refused) == (50, 0)
    assert [done for done, _ in told] == [*range(chunk_rows, 50, chunk_rows), 50]
    assert {total for _, total in told} == ({50} if source.endswith("parquet") else {0})
    np.testing.assert_allclose(answer[MONEY].to_numpy(float), valued[MONEY], **SAME)
    assert list(answer["remark"].fillna("")) == list(valued["remark"])


def test_typed_cells_of_a_parquet_file_read_like_words(model, tmp_path) -> None:
    typed = pd.DataFrame(
        {
            "family": pd.Categorical(["Penhurrow Haywain", "Orvane Tessera"]),
            "model_year": [1951, 1949],
            "condition": ["driver", None],
            "original_finish": [True, False],
            "mileage": [58_000.0, np.nan],
        }
    )
    words = pd.DataFrame(
        {
            "family": ["Penhurrow Haywain", "Orvane Tessera"],
            "model_year": ["1951", "1949"],
            "condition": ["driver", ""],
            "original_finish": ["yes", "no"],
            "mileage": ["58000", ""],
        }
    )
    write(typed, tmp_path / "typed.parquet")
    value_file(model, tmp_path / "typed.parquet", tmp_path / "valued.parquet", as_of=AS_OF)
    found = read(tmp_path / "valued.parquet")
    np.testing.assert_allclose(found[MONEY], value_frame(model, words, AS_OF)[MONEY], **SAME)


def test_a_chunk_refused_whole_keeps_the_files_columns(model, vehicles, tmp_path) -> None:
    spoilt = vehicles.assign(condition=["drivr", "drivr", *vehicles["condition"][2:]])
    write(spoilt, tmp_path / "vehicles.parquet")
    count = value_file(model, tmp_path / "vehicles.parquet", tmp_path / "valued.parquet", as_of=AS_OF, chunk_rows=2)
    assert (count.rows, count.refused) == (50, 2)
    answer = read(tmp_path / "valued.parquet")
    assert list(answer["median"].isna()) == [True, True, *[False] * 48]


def test_a_column_empty_in_one_chunk_only_can_be_written(model, vehicles, tmp_path) -> None:
    gaps = vehicles.assign(note=[None] * 10 + ["seen"] * 40)
    write(gaps, tmp_path / "vehicles.parquet")
    value_file(model, tmp_path / "vehicles.parquet", tmp_path / "valued.parquet", as_of=AS_OF, chunk_rows=10)
    assert list(read(tmp_path / "valued.parquet")["note"].isna()) == [True] * 10 + [False] * 40


@pytest.mark.parametrize(
    ("source", "target", "words"),
    [
        ("vehicles.xlsx", "valued.csv", r"Cannot read vehicles.xlsx: its ending is '.xlsx'"),
        ("vehicles.csv", "valued.json", r"Cannot write valued.json: its ending is '.json'"),
        ("missing.csv", "valued.csv", r"Cannot read the vehicles in missing.csv"),
        ("broken.parquet", "valued.csv", r"Cannot read the vehicles in broken.parquet"),
    ],
)
def test_files_that_cannot_be_used_are_refused_by_name(model, vehicles, tmp_path, source, target, words) -> None:
    write(vehicles, tmp_path / "vehicles.csv")
    (tmp_path / "vehicles.xlsx").write_bytes(b"PK")
    (tmp_path / "broken.parquet").write_bytes(b"no parquet at all")
    with pytest.raises(TableError, match=words):
        value_file(model, tmp_path / source, tmp_path / target, as_of=AS_OF)


def test_what_a_parquet_file_holds_keeps_its_type(model, tmp_path) -> None:
    table = pd.DataFrame(
        {"condition": ["driver", "show"], "bay": pd.array([4, None], dtype="Int64"), "kept": [True, False]}
    )
    write(table, tmp_path / "vehicles.parquet")
    value_file(model, tmp_path / "vehicles.parquet", tmp_path / "valued.parquet", as_of=AS_OF, chunk_rows=1)
    pd.testing.assert_frame_equal(
        read(tmp_path / "valued.parquet")[["bay", "kept"]], table[["bay", "kept"]], check_dtype=False
    )


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_a_file_without_rows_gives_a_file_without_rows(model, vehicles, tmp_path, ending) -> None:
    write(vehicles.head(0), tmp_path / f"none.{ending}")
    assert value_file(model, tmp_path / f"none.{ending}", tmp_path / f"valued.{ending}", as_of=AS_OF).rows == 0
    assert list(read(tmp_path / f"valued.{ending}").columns) == [*vehicles.columns, *RESULT_COLUMNS]


def test_work_that_was_stopped_leaves_no_half_file(model, vehicles, tmp_path) -> None:
    write(vehicles, tmp_path / "vehicles.csv")

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        value_file(model, tmp_path / "vehicles.csv", tmp_path / "valued.csv", as_of=AS_OF, chunk_rows=10, tell=stop)
    assert [path.name for path in tmp_path.iterdir()] == ["vehicles.csv"]


def test_a_chunk_of_no_rows_is_refused(model, tmp_path) -> None:
    with pytest.raises(TableError, match="chunks of 0 rows"):
        value_file(model, tmp_path / "a.csv", tmp_path / "b.csv", chunk_rows=0)


def test_the_table_to_read_is_never_written_over(model, vehicles, tmp_path) -> None:
    write(vehicles, tmp_path / "vehicles.csv")
    before = (tmp_path / "vehicles.csv").read_bytes()
    with pytest.raises(TableError, match="written over"):
        value_file(model, tmp_path / "vehicles.csv", tmp_path / "vehicles.csv", as_of=AS_OF)
    assert (tmp_path / "vehicles.csv").read_bytes() == before


@pytest.fixture
def yard(vehicles, tmp_path) -> Path:
    """A folder as it is: two tables, one that is none, and something else."""
    folder = tmp_path / "yard"
    folder.mkdir()
    write(vehicles.head(30), folder / "a.csv")
    write(vehicles.tail(20), folder / "b.parquet")
    (folder / "broken.parquet").write_bytes(b"no parquet at all")
    (folder / "notes.txt").write_text("the keys hang behind the door")
    (folder / ".hidden.csv").write_text("nothing")
    return folder


@pytest.mark.parametrize("chunk_rows", [7, 1000])
def test_a_folder_gives_one_file_for_each_and_says_which_could_not_be_read(
    model, valued, yard, tmp_path, chunk_rows
) -> None:
    told: list[tuple[int, int]] = []
    fleet = value_folder(
        model, yard, tmp_path / "new" / "out", as_of=AS_OF, chunk_rows=chunk_rows, tell=lambda *at: told.append(at)
    )
    assert [(one.source, one.rows, one.refused) for one in fleet.files] == [
        ("a.csv", 30, 0), ("b.parquet", 20, 0), ("broken.parquet", 0, 0)]  # fmt: skip
    assert (fleet.rows, fleet.refused, fleet.problems, fleet.passed_over) == (50, 0, 1, ("notes.txt",))
    assert "Cannot read the vehicles in broken.parquet" in fleet.files[2].problem
    assert sorted(path.name for path in (tmp_path / "new" / "out").iterdir()) == ["a.csv", "b.parquet"]
    parts = [read(tmp_path / "new" / "out" / name) for name in ("a.csv", "b.parquet")]
    answer = pd.concat(parts, ignore_index=True)
    assert list(answer["our number"]) == [f"lot {i}" for i in range(50)]
    np.testing.assert_allclose(answer[MONEY].to_numpy(float), valued[MONEY], **SAME)
    assert told[-1] == (50, 0)
    assert [done for done, _ in told] == sorted({done for done, _ in told})


@pytest.mark.parametrize(
    ("source", "target", "words"),
    [
        ("nowhere", "out", r"Cannot read the folder .*nowhere: No such file or directory"),
        ("empty", "out", r"no CSV or Parquet file lies in it; found 'notes.txt'"),
        ("yard", "yard", r"it is the folder of the vehicles itself"),
        ("yard", "yard/a.csv", r"a.csv: it is a file\. Name another folder"),
    ],
)
def test_folders_that_cannot_be_used_are_refused(model, yard, tmp_path, source, target, words) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "empty" / "notes.txt").write_text("nothing here")
    before = sorted(yard.iterdir())
    with pytest.raises(TableError, match=words):
        value_folder(model, tmp_path / source, tmp_path / target, as_of=AS_OF)
    assert sorted(yard.iterdir()) == before


def write(frame: pd.DataFrame, path: Path) -> None:
    if path.suffix == ".csv":
        frame.to_csv(path, index=False)
    else:
        frame.to_parquet(path, index=False)


def read(path: Path) -> pd.DataFrame:
    return pd.read_csv(path) if path.suffix == ".csv" else pd.read_parquet(path)
