"""A table of any size that is accepted is understood in seconds of processor time."""

import datetime as dt
import time

import pandas as pd
import pytest

from valuation.comparables.texttable import MAX_COLUMNS, TextTable
from valuation.drafting.reader import understand
from valuation.schema import default_schema

TODAY = dt.date(2026, 11, 26)


def large(rows: int, columns: int) -> TextTable:
    """Dates, prices, years and grades, and columns of every other kind in turn."""
    cells = {
        "Date": [f"{1 + i % 28}/{1 + i % 12}/{2018 + i % 8}" for i in range(rows)],
        "Price": [f"${2000 + 37 * i % 90_000:,}" for i in range(rows)],
        "Year": [str(1930 + i % 40) for i in range(rows)],
        "Cond.": [("project", "runner", "driver", "show")[i % 4] for i in range(rows)],
    }
    kinds = (
        lambda i: f"{(7919 * i) % 10_007 / 13:.4f}",
        lambda i: "abcdef"[i % 6],
        lambda i: f"seen {i} times beside the road, with its papers in a box",
        lambda i: f"{1 + i % 28}/{1 + i % 12}/{2018 + i % 8}",
        lambda i: f"A{i}",
        lambda i: ("yes", "no", "")[i % 3],
    )
    for at in range(columns - len(cells)):
        cells[f"Column {at}"] = [kinds[at % len(kinds)](i) for i in range(rows)]
    return TextTable("large.csv", pd.DataFrame(cells, index=pd.RangeIndex(2, rows + 2, name="row"), dtype=object))


@pytest.mark.slow
@pytest.mark.parametrize(("rows", "columns"), [(20_000, 30), (500, MAX_COLUMNS)])
def test_processor_time_is_bounded(rows, columns):
    table = large(rows, columns)
    began = time.process_time()
    found = understand(table, default_schema(), TODAY)
    assert time.process_time() - began < 15  # a sixth of it where it was measured
    assert {"date", "price", "model_year", "condition"} <= {column.name for column in found.columns}
