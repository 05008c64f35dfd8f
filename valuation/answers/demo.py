"""The invented demo: its table, plans and vehicles, brought in one go, put away in one go, and brought back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from valuation.answers.demo_sale import record_sale, withdraw_sale
from valuation.answers.intake import DEMO_NAME, Draft, bring
from valuation.answers.vehicle_file import vehicle_files, vehicle_kept
from valuation.day import day_of
from valuation.schema import read_schema, read_vehicle

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import TableRecord

FINDS = ("Haywain", "Linnet")
"""The finds that the demo has plans for."""
BOUGHT = "Barn find: Linnet"
"""That which the demo's shop buys; the other one stays in its barn."""
BOUGHT_FOR = 10_500.0
"""What it pays for that: a little less than the comparison of paths lets it; invented, as all of the demo."""
TO_COMPARE = "Barn find: Haywain"
"""The find whose plans are compared."""
TO_SELL = "Haywain pickup of 1952"
"""The vehicle whose price is set: the one that ``READY`` describes."""
READY, FOUND = "haywain-pickup", "tessera-coupe"
"""The vehicle that the shop has finished and offers, and one that was found and is not looked into yet."""


def bring_demo(tables: Tables, folder: Path) -> TableRecord:
    """Write the demo's table, build plans and vehicles to the ledger; brought twice, they stay one.

    Parameters
    ----------
    tables : Tables
    folder : Path
    """
    from valuation.build.plan_file import parse_plan

    schema = read_schema(folder / "schema.toml")
    table = bring(tables, Draft(DEMO_NAME, (folder / "comparables.csv").read_bytes(), "comparables.csv", schema)).table
    ledger = tables.ledger
    for find in FINDS:
        for file in sorted((folder / "plans").glob(f"{find.lower()}-*.toml")):
            text = file.read_text(encoding="utf-8")
            ledger.add_plan(subject=_find(find), name=parse_plan(text, schema, file.name).name, text=text)
        vehicle_kept(ledger, _find(find))
    for stem in (READY, FOUND):
        found = read_vehicle(folder / "vehicles" / f"{stem}.toml", schema)
        vehicle_kept(
            ledger,
            found.name,
            found=found.as_dict()["attributes"],
            currency=schema.currency,
            for_sale_on=day_of() if stem == READY else None,
        )
    if tables.is_archived(table):
        _put_away(tables, folder, back=True)
        record_sale(tables, folder)
    return table


def buy_find(tables: Tables) -> None:
    """Write that the demo's shop bought one of its finds, unless something was written of that already."""
    vehicle = vehicle_kept(tables.ledger, BOUGHT)
    if not vehicle.history:
        tables.ledger.change_vehicle(BOUGHT, "bought", {"bought_for": BOUGHT_FOR, "bought_on": day_of()})


def leave_demo(tables: Tables, folder: Path) -> None:
    """Put the demo's table and vehicles away, with all that was kept of them; bringing it again brings them back.

    Its sale is withdrawn, so that the track record is the shop's own.

    Parameters
    ----------
    tables : Tables
    folder : Path
        Of the demo.
    """
    _put_away(tables, folder, back=False)
    withdraw_sale(tables, folder)


def is_brought(tables: Tables) -> bool:
    """Whether the demo's table is among those in use."""
    return any(one.name == DEMO_NAME for one in tables.newest_tables())


def is_put_away(tables: Tables) -> bool:
    """Whether the demo was brought once, and its table is put away."""
    return any(one.name == DEMO_NAME for one in tables.newest_tables(archived=True))


def _put_away(tables: Tables, folder: Path, *, back: bool) -> None:
    """The demo's own vehicles, and those that were valued from its table alone."""
    schema = read_schema(folder / "schema.toml")
    own = {_find(find) for find in FINDS}
    own |= {read_vehicle(folder / "vehicles" / f"{stem}.toml", schema).name for stem in (READY, FOUND)}
    versions = {one.id for one in tables.ledger.tables() if one.name == DEMO_NAME}
    models = {one.id for one in tables.ledger.models() if one.table_id in versions}
    for file in vehicle_files(tables):
        behind = {one.model_id for one in file.estimates}
        if (behind <= models if behind else file.subject in own) and file.archived == back:
            tables.ledger.show_as("vehicle", file.subject, name=file.name, archived=not back)
    tables.archive_table(DEMO_NAME, back=back)


def _find(name: str) -> str:
    return f"Barn find: {name}"
