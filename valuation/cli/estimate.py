"""``valuation estimate``: the price of a vehicle, what it rests on, and what would change it."""

from __future__ import annotations

import argparse

from valuation.answers import estimate_words as words
from valuation.answers.estimate import Estimate
from valuation.answers.estimate import estimate as answer
from valuation.build.figures import about
from valuation.build.figures import money as whole
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for, next_command, vehicle_of
from valuation.cli.show import heading, one_screen, paragraph, print_json, table
from valuation.text.language import say, written

NOT_GIVEN = "attribute_unknown"
"""Notes on what the vehicle leaves out, which one sentence of the first screen says for all."""


def estimate(arguments: argparse.Namespace) -> int:
    """Value a vehicle."""
    told = vehicle_of(arguments)
    model = model_for(arguments, near=told.file)
    found = answer(model, told.vehicle(model), arguments.as_of, arguments.coverage)
    if arguments.json:
        print_json(found)
    else:
        then = say("Next, for the reasons: {command}", command=next_command("explain", arguments, told.spoken))
        show_estimate(found, then, all_of_it=arguments.all)
    return DONE


def show_estimate(found: Estimate, then: str = "", *, all_of_it: bool = False) -> None:
    """Print the estimate, what it rests on and what would change it; with all of it, grid and notes.

    Parameters
    ----------
    found : Estimate
        The answer.
    then : str
        What usually comes next.
    all_of_it : bool
        Not only what fits on a screen.
    """
    notes = [note for note in found.notes if all_of_it or note.code != NOT_GIVEN]
    with one_screen(notes, then, all_of_them=all_of_it) as more:
        paragraph(words.answer_sentence(found))
        print()
        show_parts(found, len(found.factors) if all_of_it else words.MOST_FACTORS)
        if all_of_it:
            _show_grid(found)
            print()
            _show_middle(found)
        else:
            nearest = f"{words.nearest_sales(found)} {words.nearest_sale(found)}".strip()
            for sentence in filter(None, [nearest, words.not_told(found)]):
                more(sentence)


def show_parts(found: Estimate, most: int) -> None:
    """Print what the estimate multiplies up from.

    Parameters
    ----------
    found : Estimate
    most : int
        Factors that are named, those that matter most.
    """
    sold = say("of {n} sales", n=f"{found.sales_used['sold']:,}")
    rows = [(say("the table's average"), sold, about(found.base), "")]
    rows += [
        (
            one.title,
            one.level,
            say("x {times}", times=f"{one.factor:.2f}"),
            "" if one.low is None else say("{low} to {high}", low=f"{one.low:.2f}", high=f"{one.high:.2f}"),
        )
        for one in words.rests_on(found, most)
    ]
    reach = say("{percent} range", percent=f"{100 * found.interval.coverage:g} %")
    table((say("what it rests on"), say("this vehicle"), say("worth"), reach), rows, left=2, spare=(3,))


def _show_middle(found: Estimate) -> None:
    """Where the middle is, the average of many sales, and what the table gave."""
    centre = found.mean_interval
    paragraph(
        say(
            "The middle of such sales lies between {low} and {high} as far as the table knows it; the average of many "
            "would be {mean}.",
            low=about(centre.low),
            high=about(centre.high),
            mean=about(found.mean),
        )
    )
    for sentence in filter(None, [words.not_told(found), words.evidence_used(found)]):
        paragraph(sentence)


def _show_grid(found: Estimate) -> None:
    """Print the nearest sales with their adjustments, to the cent."""
    if not found.grid:
        return
    heading(say("The nearest sales, adjusted to this vehicle"))
    rows = [
        (
            row.sale,
            "" if row.date is None else written(row.date),
            row.outcome.replace("_", " "),
            whole(row.price),
            f"{row.net:+,.0f}",
            whole(row.adjusted_price),
            f"{row.weight:.0%}",
        )
        for row in found.grid
    ]
    table(
        (say("sale"), say("date"), say("outcome"), say("price"), say("adjusted by"), say("adjusted"), say("weight")),
        rows,
        left=3,
        spare=(2, 6, 1),
    )
    written_so = [(row.sale, row.as_written) for row in found.grid if row.as_written]
    if written_so:
        print()
        table((say("sale"), say("price as it was written")), written_so, left=2)
    if found.reconciled is not None:
        print()
        paragraph(
            say(
                "Reconciled: {price}; the estimate from all sales: {estimate}.",
                price=about(found.reconciled),
                estimate=about(found.median),
            )
        )
    nearest = found.grid[0]
    heading(say("Line by line: {sale}", sale=nearest.sale))
    lines = [
        (line.title, line.from_level, line.to_level, f"{line.factor:.3f}", f"{line.amount:+,.2f}")
        for line in nearest.lines
    ]
    lines.append((say("sum"), whole(nearest.price), whole(nearest.adjusted_price), "", f"{nearest.net:+,.2f}"))
    table(
        (say("attribute"), say("that sale"), say("this vehicle"), say("times"), say("amount")),
        lines,
        left=3,
        spare=(3,),
    )
