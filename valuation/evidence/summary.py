"""All evidence for one estimate, gathered once; faces only render it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from valuation.evidence.contrasts import States
from valuation.evidence.effects import Effect, ask_effects
from valuation.evidence.gaps import Gap, ask_gaps
from valuation.evidence.grid import grid_of
from valuation.evidence.grid_rows import Grid
from valuation.evidence.influence import SaleInfluence, influence_of
from valuation.evidence.model_diagnostics import interval_notes
from valuation.evidence.subject import Subject
from valuation.evidence.trend import PriceTrend, ask_trend
from valuation.notes import Note, as_dicts, each_once

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.model import PriceModel, Valuation
    from valuation.schema.vehicle import Vehicle


@dataclass(frozen=True)
class Evidence:
    """Everything that is said for one estimate.

    Attributes
    ----------
    valuation : Valuation
        The estimate itself with its factors.
    effects : tuple of Effect
        What each attribute is worth here.
    grid : Grid
        The nearest comparables, adjusted line by line; empty for a model that holds no sales.
    influence : tuple of SaleInfluence
        What the estimate would be without each sale, strongest first; empty for a model that holds no sales.
    trend : PriceTrend
        How the price level moved.
    gaps : tuple of Gap
        A twin of the vehicle, and sales that share one attribute with it, by how much they would narrow the interval.
    notes : tuple of Note
        All that must be known: of the estimate, the grid, the trend and the table's diagnostics.
    """

    valuation: Valuation
    effects: tuple[Effect, ...]
    grid: Grid
    influence: tuple[SaleInfluence, ...]
    trend: PriceTrend
    gaps: tuple[Gap, ...]
    notes: tuple[Note, ...]

    def as_dict(self) -> dict[str, Any]:
        """All of it as the JSON answers show it: the estimate's object with the evidence beside it."""
        trend = self.trend
        return {
            **summary_dict(self.valuation, self.grid, self.notes),
            "effects": [effect.as_dict() for effect in self.effects],
            "influence": [one.as_dict() for one in self.influence],
            "trend": {
                "by": trend.by,
                "levels": [level.as_dict() for level in trend.levels],
                "percent_per_year": trend.percent_per_year,
                "low_percent": trend.low_percent,
                "high_percent": trend.high_percent,
                "coverage": trend.coverage,
            },
            "gaps": [gap.as_dict() for gap in self.gaps],
        }


def evidence(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> Evidence:
    """Value one vehicle and gather all evidence for it.

    Parameters
    ----------
    model : PriceModel
        The fit.
    vehicle : Vehicle
        The subject.
    as_of : date, optional
        The date on which the estimate holds; the day of the newest sale unless told.
    coverage : float
        Of all intervals; strictly between 0 and 1.
    comparables : Comparables, optional
        The table, for a model that was loaded without its sales.
    """
    subject = Subject.of(model, vehicle, as_of)
    valuation = _valuation(subject, vehicle, as_of, coverage)
    states = States(subject.cells)
    effects = ask_effects(model, states, coverage)
    trend = ask_trend(subject, states, coverage)
    gaps = ask_gaps(subject, states, coverage)
    encoded = states.encode(model.core)
    grid, drift = grid_of(subject, comparables), trend(encoded)
    return Evidence(
        valuation=valuation,
        effects=effects(encoded),
        grid=grid,
        influence=influence_of(subject),
        trend=drift,
        gaps=gaps(encoded),
        notes=each_once((*valuation.notes, *grid.notes, *drift.notes, *interval_notes(model, valuation.median))),
    )


def estimate_summary(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> dict[str, Any]:
    """The estimate of one vehicle as one JSON object, its adjustment grid with it.

    Parameters
    ----------
    model, vehicle, as_of, coverage, comparables
        As for ``evidence``.

    Returns
    -------
    dict
        ``vehicle``, ``as_of``, ``currency``, ``median``, ``mean``, ``interval``, ``mean_interval``, ``base``,
        ``factors`` (whose product with ``base`` is ``median``), ``grid``, ``reconciled``, ``notes``, ``sales_used``.
    """
    subject = Subject.of(model, vehicle, as_of)
    valuation = _valuation(subject, vehicle, as_of, coverage)
    grid = grid_of(subject, comparables)
    return summary_dict(valuation, grid, each_once((*valuation.notes, *grid.notes)))


def summary_dict(valuation: Valuation, grid: Grid, notes: tuple[Note, ...]) -> dict[str, Any]:
    """The JSON object of an estimate from its parts."""
    return {
        **valuation.as_dict(),
        "grid": [row.as_dict() for row in grid.rows],
        "reconciled": grid.reconciled,
        "notes": as_dicts(notes),
    }


def _valuation(subject: Subject, vehicle: Vehicle, as_of: dt.date | None, coverage: float) -> Valuation:
    return subject.model.valuation_of(vehicle, subject.cells, subject.rows, as_of, coverage)
