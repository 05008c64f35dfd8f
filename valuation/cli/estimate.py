"""``valuation estimate``: the price of a vehicle, with its interval, factors and nearest sales."""

from __future__ import annotations

import argparse

from valuation.answers.estimate import Estimate
from valuation.answers.estimate import estimate as answer
from valuation.build.figures import money as whole
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for
from valuation.cli.show import heading, notes, paragraph, print_json, table
from valuation.schema import read_vehicle


def estimate(arguments: argparse.Namespace) -> int:
    """Value a vehicle."""
    model = model_for(arguments, near=arguments.vehicle)
    found = answer(model, read_vehicle(arguments.vehicle, model.schema), arguments.as_of, arguments.coverage)
    if arguments.json:
        print_json(found)
    else:
        show_estimate(found)
    return DONE


def show_estimate(found: Estimate) -> None:
    """Print the estimate with its factors, the grid and the notes."""
    _show_price(found)
    _show_grid(found)
    notes(found.notes)


def _show_price(found: Estimate) -> None:
    """Print the estimate and what it multiplies up from."""
    unit = f" {found.currency}" if found.currency else ""
    interval, centre, used = found.interval, found.mean_interval, found.sales_used
    print(f"{found.vehicle.name}, as of {found.as_of}")
    print()
    print(f"  Estimate             {whole(found.median):>12}{unit}   half of such sales end above it")
    reach = f"{whole(interval.low)} to {whole(interval.high)}"
    print(f"  One such sale        {reach:>12}   {interval.coverage:.0%} of such sales end in this range")
    reach = f"{whole(centre.low)} to {whole(centre.high)}"
    print(f"  Where the middle is  {reach:>12}   as far as the table knows it")
    print(f"  Average              {whole(found.mean):>12}{unit}   of many such sales")
    print()
    paragraph(
        f"From {used['sold']} sold, {used['bid_not_met']} bids that were not met and {used['asking']} asking prices; "
        f"{used['set_aside']} rows set aside.",
        indent="  ",
    )
    heading(f"What it multiplies up from: {whole(found.base)}{unit}, the table's average vehicle")
    rows = [
        (
            found.titles[f.attribute],
            f.level,
            _times(f.factor),
            f"{_times(f.low)} to {_times(f.high)}",
        )
        for f in found.factors
    ]
    table(("attribute", "this vehicle", "times", f"{interval.coverage:.0%} range"), rows, left=2)


def _show_grid(found: Estimate) -> None:
    """Print the nearest sales with their adjustments."""
    if not found.grid:
        return
    heading("The nearest sales, adjusted to this vehicle")
    rows = [
        (
            row.sale,
            str(row.date or ""),
            row.outcome.replace("_", " "),
            whole(row.price),
            f"{row.net:+,.0f}",
            whole(row.adjusted_price),
            f"{row.weight:.0%}",
        )
        for row in found.grid
    ]
    table(("sale", "date", "outcome", "price", "adjusted by", "adjusted", "weight"), rows, left=3)
    if found.reconciled is not None:
        print(f"\n  Reconciled: {whole(found.reconciled)}; the estimate from all sales: {whole(found.median)}.")
    nearest = found.grid[0]
    heading(f"Line by line: {nearest.sale}")
    lines = [
        (line.title, line.from_level, line.to_level, _times(line.factor), f"{line.amount:+,.2f}")
        for line in nearest.lines
    ]
    lines.append(("sum", whole(nearest.price), whole(nearest.adjusted_price), "", f"{nearest.net:+,.2f}"))
    table(("attribute", "that sale", "this vehicle", "times", "amount"), lines, left=3)


def _times(factor: float) -> str:
    return f"{factor:.3f}"
