"""A million vehicles with their intervals in bounded memory, as a rate beside scikit-learn's plain predict."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pandas as pd

from benchmarks.measure import cpu_seconds, peak_megabytes, python
from benchmarks.speed.figures import Figure
from benchmarks.speed.tables import NEWEST, as_text, sales

TRAINING_ROWS = 180
ROWS = (100_000, 1_000_000)
FRAME_ROWS = 200_000
_PIECE = 100_000


def measure() -> list[Figure]:
    """Rates, and peak memory of a new process that values a file of each length."""
    figures = []
    with TemporaryDirectory() as name:
        folder = Path(name)
        model = save_small_model(folder)
        peer_rate, our_rate = rates(model)
        figures += [
            Figure(f"scikit-learn: predict alone, a table of {FRAME_ROWS:,} rows in memory", peer_rate, "rows/s"),
            Figure("median, interval and mean of the same rows in memory (value_frame)", our_rate, "rows/s"),
            Figure("plain predict's rate over ours", peer_rate / our_rate, "times"),
        ]
        for ending in ("csv", "parquet"):
            peaks = []
            for rows in ROWS:
                seconds, peak = value_in_new_process(folder, rows, ending)
                peaks.append(peak)
                figures.append(Figure(f"{rows:,} rows, {ending} to {ending}: rate", rows / seconds, "rows/s"))
                figures.append(Figure(f"{rows:,} rows, {ending} to {ending}: peak memory", peak, "MiB"))
            figures.append(
                Figure(
                    f"peak memory, {ending}: a million rows over a tenth of them",
                    peaks[1] / peaks[0],
                    "times",
                    "at most 1.2",
                )
            )
    return figures


def save_small_model(folder: Path) -> Any:
    """Fit a table of a shop's size and save it, as ``valuation fit`` would."""
    from valuation.comparables import read_comparables
    from valuation.regression import PriceModel, save_model
    from valuation.schema import default_schema

    frame, prices = sales(TRAINING_ROWS, seed=7)
    table = as_text(frame).assign(date=frame["sale_date"].dt.date, price=np.round(prices[:, 0]), outcome="sold")
    table.to_csv(folder / "comparables.csv", index=False)
    model = PriceModel.fit(read_comparables(folder / "comparables.csv", default_schema()))
    save_model(model, folder / "model.json")
    return model


def rates(model: Any) -> tuple[float, float]:
    """Rows a second of a pipeline's predict and of ``value_frame``, over one table in memory."""
    from valuation.regression.batch import value_frame

    training, prices = sales(TRAINING_ROWS, seed=7)
    known = training.drop(columns="sale_date")
    fitted = ridge(known).fit(known, np.log(prices[:, 0]))
    new = sales(FRAME_ROWS, seed=8)[0].drop(columns="sale_date")
    peer = cpu_seconds(lambda: fitted.predict(new), 3)
    text = as_text(new.assign(sale_date=pd.Timestamp(NEWEST)))
    ours = cpu_seconds(lambda: value_frame(model, text, NEWEST), 3)
    return FRAME_ROWS / peer, FRAME_ROWS / ours


def ridge(frame: pd.DataFrame) -> Any:
    """Ridge over one column for each level and standardised numbers: what predict of a mixed table costs anyone."""
    from sklearn.compose import make_column_selector, make_column_transformer
    from sklearn.linear_model import Ridge
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import OneHotEncoder, StandardScaler

    coded = make_column_transformer(
        (OneHotEncoder(handle_unknown="ignore", sparse_output=False), make_column_selector(dtype_include="category")),
        (StandardScaler(), make_column_selector(dtype_include="number")),
    )
    return make_pipeline(coded, Ridge())


def value_in_new_process(folder: Path, rows: int, ending: str) -> tuple[float, float]:
    """Processor seconds and peak MiB of valuing a file, imports left out of the seconds."""
    source, target = folder / f"vehicles-{rows}.{ending}", folder / f"valued.{ending}"
    write_vehicles(source, rows)
    code = f"from benchmarks.speed.batch import child; child({str(folder)!r}, {str(source)!r}, {str(target)!r}, {rows})"
    answer = subprocess.run(python(code), check=True, capture_output=True, text=True).stdout.split()
    source.unlink()
    target.unlink()
    return float(answer[0]), float(answer[1])


def child(folder: str, source: str, target: str, rows: int) -> None:
    """Value one file and print processor seconds and peak MiB."""
    from valuation.regression import load_model
    from valuation.regression.batch import value_file

    model = load_model(Path(folder) / "model.json")
    began = time.process_time()
    count = value_file(model, source, target, as_of=NEWEST)
    seconds = time.process_time() - began
    if count.rows != rows or count.refused:
        raise SystemExit(f"{count} of {rows} rows")
    sys.stdout.write(f"{seconds} {peak_megabytes()}")


def write_vehicles(path: Path, rows: int) -> None:
    """Write vehicles in pieces, so that this process stays small too."""
    import pyarrow as pa
    from pyarrow.parquet import ParquetWriter

    writer = None
    for start in range(0, rows, _PIECE):
        piece = as_text(sales(min(_PIECE, rows - start), seed=1000 + start)[0])
        if path.suffix == ".csv":
            piece.to_csv(path, mode="a" if start else "w", header=not start, index=False)
            continue
        table = pa.Table.from_pandas(piece, preserve_index=False)
        writer = writer or ParquetWriter(path, table.schema)
        writer.write_table(table)
    if writer is not None:
        writer.close()
