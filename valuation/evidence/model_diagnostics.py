"""Diagnostics of a fitted model, and what they mean for the interval of one vehicle."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError
from valuation.evidence.diagnostics import CHANCE, Diagnostics, diagnose
from valuation.evidence.remembered import remembered
from valuation.evidence.residual_checks import breusch_pagan, white_special
from valuation.notes import Note
from valuation.regression.interaction import INTERACTION

if TYPE_CHECKING:
    from valuation.regression.fit import Fit
    from valuation.regression.model import PriceModel

Array = npt.NDArray[np.float64]

_SPREAD_CODES = ("spread_grows", "spread_shrinks", "spread_uneven")
INTERVAL_CODES = frozenset({*_SPREAD_CODES, "spread_followed", "two_humps", "attributes_move_together"})
"""Findings about the whole table that the reader of a single estimate must know."""


def diagnose_model(model: PriceModel) -> Diagnostics:
    """Check the fit of a model: uneven spread, two humps, heavy tails, attributes that move together, unusual sales.

    Parameters
    ----------
    model : PriceModel
        A model fitted in this session. The result is kept as long as the model lives.

    Returns
    -------
    Diagnostics
        Of the sold rows. Collinearity is that of the attributes' columns; bends and the interaction, which the
        penalties hold near nothing, are left out of it.

    Raises
    ------
    EvidenceError
        If the model was loaded from a file and holds no sales.
    """
    fit, table = model.fit_result, model.comparables
    if fit is None or table is None:
        raise EvidenceError(
            "Cannot check the fit: the model was loaded from a file and holds no sales. A model fitted to its table is "
            "needed. Fit the table of comparables again."
        )
    names = table.sales["sale"].astype(str).to_numpy()[fit.exact].tolist()
    return remembered(fit, "diagnostics", lambda: _diagnose(model, fit, names))


def _diagnose(model: PriceModel, fit: Fit, names: list[str]) -> Diagnostics:
    fitted = fit.core.location(fit.rows)
    columns, owners = [], []
    for block in fit.core.blocks:
        if block.kind == INTERACTION or block.kind.endswith("_bend"):
            continue
        # Levels and steps add up to a constant or to the trend; without one of them the block still says the same.
        first = block.start + (block.kind in ("levels", "steps"))
        columns += list(range(first, block.stop))
        owners += [model.attribute_by_name[block.attribute].title] * (block.stop - first)
    residuals = (fit.response - fitted)[fit.exact]
    found = diagnose(
        fit.rows.matrix[np.ix_(fit.exact, np.array(columns, dtype=int))],
        residuals,
        fitted[fit.exact],
        owners,
        leverage=fit.left_out.leverage[fit.exact],
        names=names,
    )
    return _spread_followed(fit, found, residuals, fitted[fit.exact])


def _spread_followed(fit: Fit, found: Diagnostics, residuals: Array, fitted: Array) -> Diagnostics:
    """Where the fit lets the scatter change with the price, and that explains the uneven spread, say so instead."""
    uneven = [note for note in found.notes if note.code in _SPREAD_CODES]
    scatter = fit.core.scatter(fitted)
    if not uneven or found.typical_miss is None or float(np.ptp(scatter)) <= 1e-12:
        return found
    even = residuals / scatter
    if min(breusch_pagan(even, fitted).probability, white_special(even, fitted).probability) < CHANCE / 2:
        return found
    cheap, middle, dear = found.typical_miss
    note = Note(
        "spread_followed",
        f"The spread changes with the price: half of the misses are above {cheap:.0f} % among the cheapest third, "
        f"{middle:.0f} % in the middle and {dear:.0f} % among the most expensive. The interval of each vehicle follows "
        "that.",
    )
    return replace(found, notes=tuple(note if other is uneven[0] else other for other in found.notes))


def interval_notes(model: PriceModel, estimate: float) -> tuple[Note, ...]:
    """What the diagnostics of the table mean for the interval of one vehicle.

    Parameters
    ----------
    model : PriceModel
        The fit; for one that holds no sales nothing is said.
    estimate : float
        The vehicle's estimate, money.
    """
    if model.fit_result is None or model.comparables is None:
        return ()
    found = diagnose_model(model)
    notes = [note for note in found.notes if note.code in INTERVAL_CODES]
    if found.typical_miss and any(note.code.startswith("spread_") for note in notes):
        fit = model.fit_result
        ends = np.exp(np.quantile(fit.core.location(fit.rows)[fit.exact], [1 / 3, 2 / 3]))
        third = int(np.searchsorted(ends, estimate))
        where = ("among the cheapest third", "in the middle third", "among the most expensive third")[third]
        notes.append(
            Note(
                "spread_here",
                f"This vehicle lies {where} of the table, where half of the misses are above "
                f"{found.typical_miss[third]:.0f} %.",
            )
        )
    return tuple(notes)
