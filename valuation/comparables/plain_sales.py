"""Usable sales as plain rows, for pictures and lists."""

from __future__ import annotations

from typing import Any

import pandas as pd

from valuation.comparables.table import Comparables
from valuation.schema.attributes import Attribute, Role


def plain_sales(comparables: Comparables, attribute: str | None = None) -> list[dict[str, Any]]:
    """One plain row for each usable sale.

    Parameters
    ----------
    comparables : Comparables
    attribute : str or None
        Whose level each row also gives.

    Returns
    -------
    list of dict
        ``row``, ``sale``, ``date`` (ISO, or ``None``), ``price`` (buyer-pays; of a bid what is at least worth, of an
        asking price what is at most), ``outcome``, ``level`` (text, or ``None``).
    """
    sales = comparables.sales
    levels = comparables.attributes[attribute] if attribute is not None else pd.Series(None, index=sales.index)
    return [
        {
            "row": int(str(row)),
            "sale": sale,
            "date": None if pd.isna(date) else date.date().isoformat(),
            "price": float(high if outcome == "asking" else low),
            "outcome": outcome,
            "level": None if pd.isna(level) else str(level),
        }
        for row, sale, date, outcome, low, high, level in zip(
            sales.index,
            sales["sale"],
            sales["date"],
            sales["outcome"],
            sales["low"],
            sales["high"],
            levels,
            strict=True,
        )
    ]


def levels_for_picture(comparables: Comparables) -> Attribute | None:
    """The ordered scale by which prices are best looked at: ``condition``, or the first scale that the table holds."""
    held = [
        one for one in comparables.schema.attributes if one.role is Role.ORDINAL and one.name in comparables.attributes
    ]
    return next((one for one in held if one.name == "condition"), held[0] if held else None)
