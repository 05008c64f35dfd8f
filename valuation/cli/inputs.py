"""Finding and reading what a command was given: schema, table, model, vehicle."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from pathlib import Path
from typing import overload

from valuation.cli.progress import progress
from valuation.comparables.table import Comparables
from valuation.day import day_of
from valuation.errors import PlanError, TableError
from valuation.regression.model import PriceModel
from valuation.schema import Schema, default_schema, read_schema
from valuation.text.money import Money, same_currency

TABLE_NAMES = ("comparables.csv", "comparables.xlsx", "comparables.ods", "comparables.parquet")
SCHEMA_NAME = "schema.toml"


def schema_for(arguments: argparse.Namespace, table: Path) -> Schema:
    """The schema named, else ``schema.toml`` beside the table, else the vintage-vehicle default."""
    if arguments.schema:
        return read_schema(arguments.schema)
    beside = table.parent / SCHEMA_NAME
    return read_schema(beside) if beside.exists() else default_schema()


def comparables_of(arguments: argparse.Namespace, table: Path) -> Comparables:
    """Read the table with its schema."""
    from valuation.comparables import read_comparables

    with progress(f"Reading {table.name}"):
        return read_comparables(table, schema_for(arguments, table), sheet=arguments.sheet)


def model_for(arguments: argparse.Namespace, near: str | None = None) -> PriceModel:
    """The saved model named, else one fitted to the table named or found.

    Parameters
    ----------
    arguments : Namespace
        As the command line was parsed.
    near : str, optional
        A file (a plan, a vehicle) beside or above which a table is looked for when none is named.
    """
    if arguments.model:
        other = getattr(arguments, "lean_on", None)
        for word, given in (("an index", arguments.index), ("a sheet", arguments.sheet), ("a model to lean on", other)):
            if given:
                raise TableError(
                    f"Cannot use {word} with a saved model: its sales are not in the file. "
                    "Give the table with --comparables."
                )
        from valuation.regression.saved import load_model

        return load_model(arguments.model)
    table = Path(arguments.comparables) if arguments.comparables else _table_near(near)
    comparables = comparables_of(arguments, table)
    if arguments.index:
        from valuation.evidence.deflation import deflate
        from valuation.evidence.price_index import read_price_index

        comparables = deflate(comparables, read_price_index(arguments.index), as_of_day(arguments))
    with progress(f"Fitting {comparables.n_usable} rows of {table.name}"):
        return PriceModel.fit(comparables, **leaned_on(arguments))


def leaned_on(arguments: argparse.Namespace) -> dict[str, PriceModel]:
    """The model named to lean on, as a setting of the fit; none where the command has no such word or none is given."""
    name = getattr(arguments, "lean_on", None)
    if not name:
        return {}
    from valuation.regression.saved import load_model

    return {"lean_on": load_model(name)}


def _table_near(near: str | None) -> Path:
    """A table of a usual name here, beside the file given or one folder above it."""
    folders = [Path()]
    if near is not None:
        folders += [Path(near).parent, Path(near).parent.parent]
    for folder in folders:
        for name in TABLE_NAMES:
            if (folder / name).exists():
                print(f"valuation: estimating from {folder / name}", file=sys.stderr)
                return folder / name
    raise TableError(
        "Cannot estimate without sales: no table was named, and no comparables.csv lies here or beside the file. "
        "Name one with --comparables TABLE, or a saved model with --model FILE."
    )


@overload
def amount_in(money: Money, currency: str, what: str) -> float: ...
@overload
def amount_in(money: None, currency: str, what: str) -> None: ...
def amount_in(money: Money | None, currency: str, what: str) -> float | None:
    """The amount of a command's word, which may name no other currency than the table's."""
    if money is None:
        return None
    if currency and money.currency and not same_currency(currency, money.currency):
        raise PlanError(
            f"Cannot use {what}: it is in {money.currency}, and the table's prices are in {currency}. Write it in "
            f"{currency}."
        )
    return money.amount


def as_of_day(arguments: argparse.Namespace) -> dt.date:
    """The day named, else today."""
    return day_of(arguments.as_of)
