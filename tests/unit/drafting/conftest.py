"""Tables made by hand, and what is understood of them."""

import datetime as dt
from collections.abc import Callable, Mapping

import pytest

from valuation.comparables.texttable import TextTable, table_from_rows
from valuation.drafting.reader import understand
from valuation.drafting.understanding import Understanding
from valuation.schema import default_schema

TODAY = dt.date(2026, 11, 26)

Reader = Callable[..., Understanding]


def made(columns: Mapping[str, list[str]], name: str = "mine.csv") -> TextTable:
    """A table of columns of the same length."""
    rows = zip(*columns.values(), strict=True)
    return table_from_rows([list(columns), *map(list, rows)], name)


def sales(rows: int = 12, **columns: list[str]) -> dict[str, list[str]]:
    """A plain table of sales: dates, prices and years, and further columns whose words come again and again."""
    plain = {
        "Date": [f"{1 + i % 12:02}/{13 + i % 15}/{2020 + i % 5}" for i in range(rows)],
        "Price": [f"${9000 + 730 * i:,}" for i in range(rows)],
        "Year": [str(1948 + i % 9) for i in range(rows)],
    }
    for header, words in columns.items():
        plain[header] = [words[i % len(words)] for i in range(rows)]
    return plain


@pytest.fixture
def read() -> Reader:
    def of(columns: Mapping[str, list[str]], told: Mapping[str, str] | None = None, name: str = "") -> Understanding:
        return understand(made(columns, name or "mine.csv"), default_schema(), TODAY, told)

    return of
