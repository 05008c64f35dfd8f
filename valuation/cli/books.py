"""``valuation vehicles`` and ``record``: what the ledger holds, and how good the estimates were."""

from __future__ import annotations

import argparse
import math

from valuation.answers.track_record import TrackRecord, track_record
from valuation.answers.vehicles import VehicleHistory, VehiclesKept, vehicle_history
from valuation.answers.vehicles import vehicles as all_vehicles
from valuation.build.figures import about, money
from valuation.cli.exits import DONE
from valuation.cli.ledger_inputs import the_tables
from valuation.cli.show import one_screen, paragraph, print_json, table
from valuation.ledger.matching import Pair
from valuation.text.language import on_day

TOLD_ABOVE = ("worth", "offers")
"""Parts of the story that the answer says itself."""
MOST_ROWS = 8
"""Rows of a table that are printed unless all are asked for: what a decision needs."""


def vehicles(arguments: argparse.Namespace) -> int:
    """List the vehicles, or what is kept of one."""
    with the_tables(arguments, begun=True) as tables:
        found = vehicle_history(tables, arguments.name) if arguments.name else all_vehicles(tables)
    if arguments.json:
        print_json(found)
    elif isinstance(found, VehicleHistory):
        _show_one(found, all_of_it=arguments.all)
    else:
        _show_all(found, all_of_it=arguments.all)
    return DONE


def record(arguments: argparse.Namespace) -> int:
    """The track record."""
    with the_tables(arguments, begun=True) as tables:
        found = track_record(tables.ledger)
    if arguments.json:
        print_json(found)
    else:
        _show_record(found, all_of_it=arguments.all)
    return DONE


def _show_all(found: VehiclesKept, *, all_of_it: bool) -> None:
    shown = found.vehicles if all_of_it else found.vehicles[:MOST_ROWS]
    then = "Next: valuation vehicles NAME (all that is kept of one), or valuation keep offer NAME AMOUNT."
    with one_screen((), then if shown else "Next: valuation keep estimate VEHICLE.", all_of_them=all_of_it):
        paragraph(found.sentence)
        if shown:
            print()
            rows = [
                (
                    one.subject,
                    one.stage,
                    "" if one.as_of is None else on_day(one.as_of),
                    "" if one.median is None else about(one.median),
                    str(one.offers),
                    "" if one.best_offer is None else money(one.best_offer),
                    "" if one.price is None or one.sold_on is None else f"{money(one.price)} on {on_day(one.sold_on)}",
                )
                for one in shown
            ]
            table(("vehicle", "stands", "as of", "estimate", "offers", "best", "sold for"), rows, left=3)
        _more(len(found.vehicles) - len(shown))


def _show_one(found: VehicleHistory, *, all_of_it: bool) -> None:
    shown = found.events if all_of_it else found.events[-MOST_ROWS:]
    then = f'Next: valuation keep offer "{found.subject}" AMOUNT, or valuation keep sale "{found.subject}" PRICE.'
    with one_screen((), then, all_of_them=all_of_it) as also:
        paragraph(found.sentence)
        if shown:
            print()
            rows = [(str(one.day), f"{one.kind} {one.id}", one.text) for one in shown]
            table(("day", "record", "what it says"), rows, left=3)
        _more(len(found.events) - len(shown))
        for sentence in found.talks:
            also(sentence)
        for part in found.story:
            if part.state != "later" and part.key not in TOLD_ABOVE:
                also(f"{part.title}: {part.outcome}")


def _show_record(found: TrackRecord, *, all_of_it: bool) -> None:
    shown = found.pairs if all_of_it else found.pairs[-MOST_ROWS:]
    then = "Next: valuation keep sale NAME PRICE --on DATE (each sale makes the record longer)."
    with one_screen(found.notes, then, all_of_them=all_of_it):
        paragraph(found.sentence)
        if shown:
            print()
            rows = [
                (
                    one.subject,
                    str(one.sold_on),
                    money(one.price),
                    about(one.median),
                    _reach(one),
                    "inside" if one.inside else "outside",
                    f"{one.error:+.0f} %",
                )
                for one in shown
            ]
            table(("vehicle", "sold on", "price", "estimate", "range", "", "missed by"), rows, left=2)
        _more(len(found.pairs) - len(shown))


def _reach(pair: Pair) -> str:
    return f"{about(pair.low)} to {about(pair.high)}" if math.isfinite(pair.high) else f"{about(pair.low)} or more"


def _more(number: int) -> None:
    if number:
        print(f"  {number} more with --all.")
