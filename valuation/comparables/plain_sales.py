"""Usable sales as plain rows, for pictures and lists."""

from __future__ import annotations

from typing import Any

import pandas as pd

from valuation.comparables.table import Comparables


def plain_sales(comparables: Comparables) -> list[dict[str, Any]]:
    """One plain row for each usable sale.

    Parameters
    ----------
    comparables : Comparables

    Returns
    -------
    list of dict
        ``row``, ``sale``, ``date`` (ISO, or ``None``), ``price`` (buyer-pays; of a bid what is at least worth, of an
        asking price what is at most), ``outcome``.
    """
    sales = comparables.sales
    return [
        {
            "row": int(str(row)),
            "sale": sale,
            "date": None if pd.isna(date) else date.date().isoformat(),
            "price": float(high if outcome == "asking" else low),
            "outcome": outcome,
        }
        for row, sale, date, outcome, low, high in zip(
            sales.index,
            sales["sale"],
            sales["date"],
            sales["outcome"],
            sales["low"],
            sales["high"],
            strict=True,
        )
    ]
