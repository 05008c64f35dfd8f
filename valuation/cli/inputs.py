"""Reading what a command was given: its table and its model."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path

from valuation.answers.given import Told, schema_for, table_near, told_vehicle
from valuation.cli.progress import progress
from valuation.comparables.table import Comparables
from valuation.day import day_of
from valuation.errors import TableError
from valuation.regression.model import PriceModel

_SAME = ("comparables", "model", "index", "schema", "sheet", "as_of")
"""Options that name the sales and the day of an answer."""


def comparables_of(arguments: argparse.Namespace, table: Path) -> Comparables:
    """Read the table with its schema.

    Parameters
    ----------
    arguments : Namespace
        As the parser gives them.
    table : Path
        The table's file.
    """
    from valuation.comparables import read_comparables

    with progress(f"Reading {table.name}"):
        return read_comparables(table, schema_for(table, arguments.schema), sheet=arguments.sheet)


def vehicle_of(arguments: argparse.Namespace) -> Told:
    """The vehicle that the command line tells; where words change a file, the error stream says which."""
    told = told_vehicle(arguments.vehicle, as_written=arguments.as_written)
    if told.changed:
        print(f"valuation: {told.file} with {told.changed} as told here", file=sys.stderr)
    return told


def next_command(name: str, arguments: argparse.Namespace, *words: str) -> str:
    """A command with the same sales and day as this one, as it is typed.

    Parameters
    ----------
    name : str
        Of the command.
    arguments : Namespace
        Of this one.
    *words : str
        What else it is told, quoted where that is needed.
    """
    given = [(f"--{key.replace('_', '-')}", getattr(arguments, key, None)) for key in _SAME]
    same = [f"{option} {shlex.quote(str(value))}" for option, value in given if value]
    return " ".join(["valuation", name, *words, *same])


def progress_words(arguments: argparse.Namespace) -> list[str]:
    """How far a build is, as it was told on the command line."""
    bought = [f"--bought {shlex.quote(arguments.bought)}"] if arguments.bought else []
    return bought + [f"--done {shlex.quote(step)}" for step in arguments.done]


def quoted(words: Sequence[str]) -> str:
    """Words as they are typed on a command line."""
    return " ".join(map(shlex.quote, words))


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
    table = Path(arguments.comparables) if arguments.comparables else table_near(near)
    if not arguments.comparables:
        print(f"valuation: estimating from {table}", file=sys.stderr)
    comparables = comparables_of(arguments, table)
    if arguments.index:
        from valuation.evidence.deflation import deflate
        from valuation.evidence.price_index import read_price_index

        comparables = deflate(comparables, read_price_index(arguments.index), day_of(arguments.as_of))
    with progress(f"Fitting {comparables.n_usable} rows of {table.name}"):
        return PriceModel.fit(comparables, **leaned_on(arguments))


def leaned_on(arguments: argparse.Namespace) -> dict[str, PriceModel]:
    """The model named to lean on, as a setting of the fit; none where the command has no such word or none is given."""
    name = getattr(arguments, "lean_on", None)
    if not name:
        return {}
    from valuation.regression.saved import load_model

    return {"lean_on": load_model(name)}
