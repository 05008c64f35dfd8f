"""Fingerprint: one hash for the content of a table, whatever file it came from and however its rows are ordered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

import pandas as pd

from valuation.schema.attributes import Role
from valuation.schema.schema import Schema


def table_fingerprint(schema: Schema, attributes: pd.DataFrame, sales: pd.DataFrame, currency: str) -> str:
    """SHA-256, in hexadecimal, over the schema's fingerprint, the currency, and every usable row in sorted order.

    Parameters
    ----------
    schema : Schema
        The schema that the table was read with.
    attributes, sales : DataFrame, shape (n_usable, ...)
        As in ``Comparables``; the names that rows without one were given must be blank. The vehicle's number does not
        count: no figure of a usable row rests on it.
    currency : str
        The table's currency.
    """
    sales = sales.drop(columns="vehicle", errors="ignore")
    columns = [_plain(attributes[name], schema.attribute(str(name)).role) for name in attributes.columns]
    columns += [_plain(sales[name], Role.DATE if name == "date" else None) for name in sales.columns]
    digest = hashlib.sha256()
    head = [schema.fingerprint(), currency, [str(name) for name in attributes.columns], list(sales.columns)]
    digest.update(json.dumps(head).encode())
    for line in sorted(map(ascii, zip(*columns, strict=True))):
        digest.update(b"\n" + line.encode("ascii"))
    return digest.hexdigest()


def _plain(column: pd.Series[Any], role: Role | None) -> Iterable[Any]:
    if role is Role.DATE:
        return column.to_numpy().astype("datetime64[D]").astype(str).tolist()
    values = column.astype(object)
    return values.where(column.notna(), None).tolist()
