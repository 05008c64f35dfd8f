"""Duplicates: the same sale in two rows, known by its vehicle and date, its whole content, or its source."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import Any

import pandas as pd

from valuation.comparables.cells import ObjectArray
from valuation.comparables.faults import FaultList
from valuation.text.spelling import level_key

_SHARED_AT_MOST = 3
"""A source named by more rows than this is a place where many sales were found, and tells nothing apart; chosen."""

_MEND = "Keep one of the two rows; if both are right, write yes in a column 'confirmed' of the second."


def set_aside_duplicates(
    sales: pd.DataFrame,
    attributes: dict[str, ObjectArray],
    vehicles: pd.Series[Any],
    skip: Sequence[bool],
    headers: dict[str, str],
    faults: FaultList,
) -> None:
    """Set aside the second and later rows of one sale; the first stays.

    Two rows are one sale when they name the same vehicle and date; or, where no vehicle is named, when date, price,
    outcome and every attribute agree; or when they name the same source (one with a number or a link in it, shared by
    few rows) and outcome.

    Parameters
    ----------
    sales : DataFrame, shape (n_rows, ...)
        With ``date``, ``price``, ``outcome`` and ``source``.
    attributes : dict of str to array, shape (n_rows,)
        Values by attribute.
    vehicles : Series of str, shape (n_rows,)
        What tells one vehicle from another, such as a chassis number; blank where unknown.
    skip : sequence of bool, shape (n_rows,)
        Rows that are set aside already or confirmed by the shop.
    headers : dict of str to str
        The file's header for each sale column.
    faults : FaultList
        Takes the faults.
    """
    rules = (
        (_same_vehicle(sales, vehicles), "vehicle", vehicles, "the same vehicle on the same date as"),
        (_same_content(sales, attributes, vehicles), "", None, "the same date, price, outcome and attributes as"),
        (_same_source(sales), "source", sales["source"], "the same source as"),
    )
    done: set[int] = set()
    for keys, column, texts, what in rules:
        first: dict[Hashable, int] = {}
        for row, key, left_out in zip(sales.index, keys, skip, strict=True):
            if key is None or left_out or row in done:
                continue
            earlier = first.setdefault(key, row)
            if earlier != row:
                done.add(row)
                value = "" if texts is None else str(texts.loc[row])
                why = f"This row gives {what} row {earlier}."
                faults.add(row, headers.get(column, ""), value, "duplicate_sale", why, _MEND)


def _same_vehicle(sales: pd.DataFrame, vehicles: pd.Series[Any]) -> Iterator[Hashable]:
    for vehicle, date in zip(vehicles, _days(sales), strict=True):
        yield (level_key(vehicle), date) if vehicle and date is not None else None


def _days(sales: pd.DataFrame) -> list[dt.date | None]:
    """The date of each sale, ``None`` where it is not known."""
    days: list[dt.date | None] = sales["date"].to_numpy().astype("datetime64[D]").tolist()
    return days


def _same_content(
    sales: pd.DataFrame, attributes: dict[str, ObjectArray], vehicles: pd.Series[Any]
) -> Iterator[Hashable]:
    values: Iterable[tuple[Any, ...]] = zip(*attributes.values(), strict=True) if attributes else [()] * len(sales)
    enough = min(3, len(attributes))
    for vehicle, date, price, outcome, row in zip(
        vehicles, _days(sales), sales["price"].tolist(), sales["outcome"].tolist(), values, strict=True
    ):
        known = len(row) - row.count(None)
        yield None if vehicle or date is None or known < enough else (date, price, outcome, row)


def _same_source(sales: pd.DataFrame) -> Iterator[Hashable]:
    keys = [level_key(source) for source in sales["source"]]
    counts = Counter(keys)
    telling = 2 * len(counts) >= sum(counts.values()) - counts.get("", 0)  # most sources name one sale
    for key, outcome in zip(keys, sales["outcome"], strict=True):
        points = any(character.isdigit() for character in key) or "/" in key
        yield (key, outcome) if telling and points and counts[key] <= _SHARED_AT_MOST else None
