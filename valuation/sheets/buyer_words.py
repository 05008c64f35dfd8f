"""What stands on the buyer sheet in sentences: warnings, assumptions, and which notes a buyer reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from valuation.evidence.subject import SALE_DATE
from valuation.sheets.place import family_of
from valuation.text.language import Said, say, say_count

if TYPE_CHECKING:
    from valuation.answers.estimate import Estimate
    from valuation.comparables.table import Comparables
    from valuation.notes import Note
    from valuation.regression.model import PriceModel

NOTES_FOR_THE_BUYER = frozenset(
    (
        # how prices of the table were read
        "currency_assumed",
        "dates_by_rule",
        "missing_read_as_lowest",
        "premium_by_venue",
        "prices_moved",
        "index_between_values",
        "index_month_missing",
        "index_held_before",
        "index_held_after",
        "index_caution",
        # what bears on this vehicle
        "attribute_not_in_table",
        "attribute_unknown",
        # what bears on every estimate from the table
        "attributes_move_together",
        "column_constant",
        "columns_collinear",
        "drift",
        "drift_unknown",
        "newest_sales_apart",
        "no_drift",
        "order_kept",
        "prices_equal",
        "recorded_sales",
        "tails_heavy",
        "two_humps",
        "unsold_gap",
        "unsold_outnumber",
        # the grid; how its sales were chosen and what they come to stands under it
        "grid_gross",
        "grid_other_table",
        "grid_unsold",
    )
)
"""Notes that a buyer reads. All others are the shop's: of its file, its other tables or single sales."""

WARNINGS = frozenset(("few_sales", "level_thin", "level_unseen", "outside_table"))
"""Notes that say how far the estimate is to be trusted for this very vehicle; they stand beside its figure."""
FEW_OF_FAMILY = 5
"""With fewer sales of its own family a vehicle is priced by the others more than by its like; chosen, no source."""


def warnings_of(model: PriceModel, notes: Sequence[Note]) -> list[Note]:
    """The notes that make the estimate weak for this very vehicle; a day past the newest sale is none of them.

    Parameters
    ----------
    model : PriceModel
    notes : sequence of Note
        Of the estimate.
    """
    date = model.attribute_by_name.get(SALE_DATE)
    return [
        note for note in notes if note.code in WARNINGS and not (date is not None and note.text.startswith(date.title))
    ]


def notes_for_the_buyer(notes: Sequence[Note], of_grid: Sequence[Note]) -> list[Note]:
    """The notes that a buyer reads, those of the grid as it stands on the sheet.

    Parameters
    ----------
    notes, of_grid : sequence of Note
        Of the evidence, and of the grid that the sheet shows.
    """
    others = [note for note in notes if not note.code.startswith("grid_")]
    return [note for note in (*others, *of_grid) if note.code in NOTES_FOR_THE_BUYER | WARNINGS]


def few_of_family(table: Comparables | None, estimate: Estimate) -> tuple[str, ...]:
    """A warning where the others set the price more than the vehicle's like.

    Parameters
    ----------
    table : Comparables or None
        None where a model holds no sales.
    estimate : Estimate
        Of the vehicle.
    """
    family = None if table is None else family_of(table)
    own = "" if family is None else str(estimate.vehicle.attributes.get(family.name, ""))
    if table is None or family is None or not own:
        return ()
    alike = (table.attributes[family.name] == own) & (table.sales["outcome"] == "sold")
    count, sold = int(alike.sum()), estimate.sales_used["sold"]
    if count >= FEW_OF_FAMILY:
        return ()
    if not count:
        return (
            say("None of the {sold} sales are of {family}: the others set its price.", sold=sold, family=Said(own)),
        )
    return (
        say_count(
            "Only {n} of the {sold} sales is of {family}: the others set its price.",
            "Only {n} of the {sold} sales are of {family}: the others set its price.",
            count,
            sold=sold,
            family=Said(own),
        ),
    )


def assumed(model: PriceModel, estimate: Estimate) -> list[str]:
    """What every reader of the estimate takes for granted with it.

    Parameters
    ----------
    model : PriceModel
    estimate : Estimate
    """
    said = [
        say("The vehicle is as described above. What was claimed but could not be shown is taken as claimed."),
        say("Every price is the total that the buyer pays before tax: hammer price and premium, or the private price."),
    ]
    open_ones = [
        attribute
        for attribute in model.attributes
        if attribute.name in model.schema.names and attribute.name not in estimate.vehicle.attributes
    ]
    lowest = [f"{one.title} ({one.level_names[0]})" if one.levels else one.title
              for one in open_ones if one.missing == "lowest"]  # fmt: skip
    others = [one.title for one in open_ones if one.missing != "lowest"]
    if lowest:
        said.append(
            say("Not known of this vehicle, so counted as the lowest there is: {names}.", names=Said(", ".join(lowest)))
        )
    if others:
        said.append(
            say(
                "Not known of this vehicle: {names}. What is taken in their place stands under 'Good to know'.",
                names=Said(", ".join(others)),
            )
        )
    used = estimate.sales_used
    if used["bid_not_met"]:
        said.append(say("A bid that did not meet the reserve says only that the vehicle was worth about that or more."))
    if used["asking"]:
        said.append(say("A price asked without a buyer says only that the vehicle was worth about that or less."))
    return said
