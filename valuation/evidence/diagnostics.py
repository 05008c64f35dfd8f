"""What the misses and the columns of a fit say about the interval of every vehicle."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from valuation.evidence.collinearity import overlaps
from valuation.evidence.humps import humps
from valuation.evidence.remembered import remembered
from valuation.notes import Note
from valuation.regression.interaction import INTERACTION

if TYPE_CHECKING:
    from valuation.regression.fit import Fit
    from valuation.regression.model import PriceModel

LEAST_SALES = 8
"""Fewer misses than this say nothing about their own shape."""


def interval_notes(model: PriceModel) -> tuple[Note, ...]:
    """Misses in two groups, and attributes that go together; nothing for a model that holds no sales."""
    fit = model.fit_result
    if fit is None:
        return ()
    return remembered(fit, "diagnostics", lambda: (*_two_groups(fit), *_moving_together(model, fit)))


def _two_groups(fit: Fit) -> list[Note]:
    misses = (fit.response - fit.core.location(fit.rows))[fit.exact]
    if len(misses) < LEAST_SALES or np.ptp(misses) <= 1e-9:
        return []
    found = humps(misses)
    if not found.two:
        return []
    lower, upper = (100 * np.expm1(centre) for centre in found.centres)
    text = (
        f"The misses fall into two groups, one around {lower:+.0f} % ({100 * found.shares[0]:.0f} % of the sales) and "
        f"one around {upper:+.0f} %: something that parts the vehicles is not in the table. The interval spans both "
        "groups and its middle is a price that few vehicles bring; look at which sales are high and add what they "
        "share as an attribute."
    )
    return [Note("two_humps", text)]


def _moving_together(model: PriceModel, fit: Fit) -> list[Note]:
    """Bends and the interaction, which the penalties hold near nothing, are left out."""
    columns, owners = [], []
    for block in fit.core.blocks:
        if block.kind == INTERACTION or block.kind.endswith("_bend"):
            continue
        # Levels and steps add up to a constant or to the trend; without one of them the block still says the same.
        first = block.start + (block.kind in ("levels", "steps"))
        columns += list(range(first, block.stop))
        owners += [model.attribute_by_name[block.attribute].title] * (block.stop - first)
    return [
        Note(
            "attributes_move_together",
            f"{pair.first} and {pair.second} go together in this table (overlap {100 * pair.share:.0f} %): it cannot "
            "tell well what each is worth alone. Vehicles that follow the same pattern are estimated as well as "
            "others; one that breaks it gets a weaker estimate.",
        )
        for pair in overlaps(fit.rows.matrix[np.ix_(fit.exact, np.array(columns, dtype=int))], owners)
    ]
