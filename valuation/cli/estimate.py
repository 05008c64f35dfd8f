"""``valuation estimate``: the price of a vehicle, with its interval, factors and nearest sales."""

from __future__ import annotations

import argparse
from collections.abc import Mapping

from valuation.answers.estimate import estimate as answer
from valuation.build.figures import money as whole
from valuation.cli.exits import DONE
from valuation.cli.inputs import as_of_day, model_for
from valuation.cli.show import heading, notes, paragraph, print_json, table
from valuation.evidence.grid_rows import Grid
from valuation.evidence.summary import Estimate
from valuation.regression.model import Valuation
from valuation.schema import read_vehicle


def estimate(arguments: argparse.Namespace) -> int:
    """Value a vehicle."""
    model = model_for(arguments, near=arguments.vehicle)
    found = answer(model, read_vehicle(arguments.vehicle, model.schema), as_of_day(arguments), arguments.coverage)
    if arguments.json:
        print_json(found.as_dict())
    else:
        show_estimate(found)
    return DONE


def show_estimate(found: Estimate) -> None:
    """Print the estimate with its factors, the grid and the notes."""
    show_valuation(found.valuation, found.titles)
    show_grid(found.grid)
    notes(found.notes)


def show_valuation(valuation: Valuation, titles: Mapping[str, str]) -> None:
    """Print the estimate and what it multiplies up from."""
    unit = f" {valuation.currency}" if valuation.currency else ""
    interval, centre, used = valuation.interval, valuation.mean_interval, valuation.sales_used
    print(f"{valuation.vehicle.name}, as of {valuation.as_of}")
    print()
    print(f"  Estimate             {whole(valuation.median):>12}{unit}   half of such sales end above it")
    reach = f"{whole(interval.low)} to {whole(interval.high)}"
    print(f"  One such sale        {reach:>12}   {interval.coverage:.0%} of such sales end in this range")
    reach = f"{whole(centre.low)} to {whole(centre.high)}"
    print(f"  Where the middle is  {reach:>12}   as far as the table knows it")
    print(f"  Average              {whole(valuation.mean):>12}{unit}   of many such sales")
    print()
    paragraph(
        f"From {used['sold']} sold, {used['bid_not_met']} bids that were not met and {used['asking']} asking prices; "
        f"{used['set_aside']} rows set aside.",
        indent="  ",
    )
    heading(f"What it multiplies up from: {whole(valuation.base)}{unit}, the table's average vehicle")
    rows = [
        (
            titles.get(f.attribute, "Attributes together"),
            f.level,
            _times(f.factor),
            f"{_times(f.low)} to {_times(f.high)}",
        )
        for f in valuation.factors
    ]
    table(("attribute", "this vehicle", "times", f"{interval.coverage:.0%} range"), rows, left=2)


def show_grid(grid: Grid) -> None:
    """Print the nearest sales with their adjustments."""
    if not grid.rows:
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
        for row in grid.rows
    ]
    table(("sale", "date", "outcome", "price", "adjusted by", "adjusted", "weight"), rows, left=3)
    if grid.reconciled is not None:
        print(f"\n  Reconciled: {whole(grid.reconciled)}; the estimate from all sales: {whole(grid.estimate)}.")
    nearest = grid.rows[0]
    heading(f"Line by line: {nearest.sale}")
    lines = [
        (line.title, line.from_level, line.to_level, _times(line.factor), f"{line.amount:+,.2f}")
        for line in nearest.lines
    ]
    lines.append(("sum", whole(nearest.price), whole(nearest.adjusted_price), "", f"{nearest.net:+,.2f}"))
    table(("attribute", "that sale", "this vehicle", "times", "amount"), lines, left=3)


def _times(factor: float) -> str:
    return f"{factor:.3f}"
