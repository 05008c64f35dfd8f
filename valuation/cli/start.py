"""``valuation start``: an empty table, its schema, a vehicle and a build plan to begin with."""

from __future__ import annotations

import argparse
from pathlib import Path

from valuation.build.plan_template import write_plan_template
from valuation.build.shop_file import SHOP_TEMPLATE
from valuation.cli.exits import DONE
from valuation.comparables import write_template
from valuation.errors import TableError
from valuation.files import write_file
from valuation.schema import VINTAGE_FILE, default_schema

VEHICLE_TEMPLATE = """\
# The vehicle to be valued, in the words of schema.toml. Leave out what you do not know: the interval widens for it.
# Invented, write your own.
name = "Haywain pickup in the long barn"

family = "Penhurrow Haywain"
model_year = 1954
body = "pickup"
condition = "project"
drivetrain = "original"
paint = "worn"
awards = "none"
"""


def start(arguments: argparse.Namespace) -> int:
    """Write the files; what is there already stays as it is and stops the command."""
    folder = Path(arguments.folder)
    targets = {
        name: folder / name for name in ("comparables.csv", "schema.toml", "vehicle.toml", "shop.toml", "plan.toml")
    }
    there = [path.name for path in targets.values() if path.exists()]
    if there:
        raise TableError(f"Cannot start in {folder}: it has {', '.join(there)} already. Name another folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_file(targets["schema.toml"], VINTAGE_FILE.read_bytes(), new=True)
        write_file(targets["vehicle.toml"], VEHICLE_TEMPLATE, new=True)
        write_file(targets["shop.toml"], SHOP_TEMPLATE, new=True)
    except OSError as error:
        raise TableError(f"Cannot start in {folder}: {error.strerror}. Name another folder.") from error
    write_template(targets["comparables.csv"], default_schema())
    write_plan_template(targets["plan.toml"])
    for path, what in zip(
        targets.values(),
        (
            "your sales, one a row",
            "what the columns mean; change what does not fit",
            "the vehicle in question",
            "your rates, bays and usual steps, for all plans",
            "one way to build it",
        ),
        strict=True,
    ):
        print(f"  {path}: {what}")
    print(f"\nFill in the sales, then: valuation check {targets['comparables.csv']}")
    return DONE
