"""Simulated tables with the roles of the vintage-vehicle schema, of any length."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from valuation.schema import Vehicle, default_schema
from valuation.schema.schema import Schema

FAMILIES = ("Penhurrow Haywain", "Tarrowby Linnet", "Orvane Tessera", "Brackwater Pike")  # invented
BODIES = ("pickup", "panel", "sedan", "wagon", "coupe", "convertible")
COLUMNS = (
    "family", "model_year", "body", "condition", "drivetrain", "paint", "awards",
    "original_finish", "mileage", "documentation",
)  # fmt: skip
NEWEST = dt.date(2026, 10, 31)
_EFFECTS = {
    "family": (0.0, -0.4, 0.5, 0.1),
    "body": (0.0, -0.07, 0.0, 0.1, 0.05, 0.35),
    "condition": (0.0, 0.48, 0.77, 1.28, 1.6),
    "drivetrain": (0.0, 0.03, -0.06, 0.09, -0.04, -0.37),
    "paint": (0.0, 0.05, 0.15, 0.23, 0.42),
    "awards": (0.0, 0.04, 0.135, 0.275),
    "documentation": (0.0, 0.04, 0.107),
}


def levels(schema: Schema, name: str) -> tuple[str, ...]:
    """Levels of an attribute: the schema's, or invented ones for an open scale."""
    return {"family": FAMILIES, "body": BODIES}.get(name) or schema.attribute(name).level_names


def sales(rows: int, seed: int, one_sided: float = 0.0) -> tuple[pd.DataFrame, np.ndarray]:
    """Draw attributes and prices.

    Parameters
    ----------
    rows : int
        How many.
    seed : int
        The same seed gives the same table.
    one_sided : float
        Share of rows that are unsold bids.

    Returns
    -------
    DataFrame, shape (rows, 11)
        The columns ``COLUMNS`` and ``sale_date``, typed as a table of comparables is.
    ndarray, shape (rows, 2)
        Low and high prices, money.
    """
    schema, rng = default_schema(), np.random.default_rng(seed)
    log_price = np.full(rows, np.log(20_000.0))
    columns: dict[str, object] = {}
    for name in COLUMNS:
        if name in _EFFECTS:
            codes = rng.integers(0, len(_EFFECTS[name]), rows)
            log_price += np.asarray(_EFFECTS[name])[codes]
            ordered = schema.attribute(name).role == "ordinal"
            columns[name] = pd.Categorical.from_codes(codes, list(levels(schema, name)), ordered=ordered)
        elif name == "model_year":
            columns[name] = rng.integers(1938, 1971, rows).astype(float)
            log_price += 0.08 * np.sin(np.asarray(columns[name]) / 5)
        elif name == "original_finish":
            columns[name] = (rng.random(rows) < 0.2).astype(float)
            log_price += 0.13 * np.asarray(columns[name])
        else:
            columns[name] = np.round(np.exp(rng.normal(np.log(58_000), 0.45, rows)), -2)
            log_price -= 0.016 * np.asarray(columns[name]) / 10_000
    days = rng.integers(0, 1825, rows)
    log_price -= 0.03 * days / 365.25
    columns["sale_date"] = pd.Timestamp(NEWEST) - pd.to_timedelta(days, unit="D")
    price = np.exp(log_price + rng.normal(0, 0.15, rows))
    bid = rng.random(rows) < one_sided
    low = np.where(bid, 0.9 * price, price)
    return pd.DataFrame(columns), np.column_stack([low, np.where(bid, np.inf, price)])


def as_text(frame: pd.DataFrame) -> pd.DataFrame:
    """The attributes as a file would hold them."""
    yes_no = frame["original_finish"].map({1.0: "yes", 0.0: "no"})
    return frame.drop(columns="sale_date").assign(original_finish=yes_no, model_year=frame["model_year"].astype(int))


def vehicles(frame: pd.DataFrame) -> list[Vehicle]:
    """The rows as vehicles to be valued."""
    plain = frame.drop(columns="sale_date").astype({"original_finish": bool})
    return [
        Vehicle(f"vehicle {i}", {str(k): v for k, v in row.items()}) for i, row in enumerate(plain.to_dict("records"))
    ]
