"""All evidence for one estimate, gathered once; faces only render it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from valuation.evidence.contrasts import States
from valuation.evidence.diagnostics import interval_notes
from valuation.evidence.effects import Effect, ask_effects
from valuation.evidence.gaps import Gap, ask_gaps
from valuation.evidence.grid import grid_of
from valuation.evidence.grid_rows import Grid
from valuation.evidence.influence import SaleInfluence, influence_of
from valuation.evidence.subject import Subject
from valuation.evidence.trend import PriceTrend, ask_trend
from valuation.notes import Note, as_dicts, each_once
from valuation.view import View, Viewed

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.model import PriceModel, Valuation
    from valuation.schema.vehicle import Vehicle


@dataclass(frozen=True, repr=False)
class Estimate(Viewed):
    """What a vehicle is worth, with the nearest sales adjusted to it.

    Attributes
    ----------
    valuation : Valuation
        The estimate itself with its factors.
    grid : Grid
        The nearest comparables, adjusted line by line; empty for a model that holds no sales.
    titles : mapping of str to str
        Attributes as people read them, by name.
    notes : tuple of Note
        All that must be known: of the estimate and of the grid.
    """

    valuation: Valuation
    grid: Grid
    titles: Mapping[str, str]
    notes: tuple[Note, ...]

    def as_dict(self) -> dict[str, Any]:
        """The estimate as the JSON answers show it: ``base`` times the ``factors`` is ``median``."""
        return {
            **self.valuation.as_dict(),
            "grid": [row.as_dict() for row in self.grid.rows],
            "reconciled": self.grid.reconciled,
            "notes": as_dicts(self.notes),
        }

    def _view(self) -> View:
        grid = self.grid._view()
        return replace(self.valuation._view(), header=grid.header, rows=grid.rows, notes=self.notes)


@dataclass(frozen=True, repr=False)
class Evidence(Estimate):
    """Everything that is said for one estimate: what ``Estimate`` holds, and the reasons.

    Attributes
    ----------
    effects : tuple of Effect
        What each attribute is worth here.
    influence : tuple of SaleInfluence
        What the estimate would be without each sale, strongest first; empty for a model that holds no sales.
    trend : PriceTrend
        How the price level moved.
    gaps : tuple of Gap
        A twin of the vehicle, and sales that share one attribute with it, by how much they would narrow the interval.
    notes : tuple of Note
        All that must be known: of the estimate, the grid, the trend and the table's diagnostics.
    """

    effects: tuple[Effect, ...]
    influence: tuple[SaleInfluence, ...]
    trend: PriceTrend
    gaps: tuple[Gap, ...]

    def as_dict(self) -> dict[str, Any]:
        """All of it as the JSON answers show it: the estimate's object with the evidence beside it."""
        trend = self.trend
        return {
            **super().as_dict(),
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

    def _view(self) -> View:
        return replace(
            self.valuation._view(),
            header=("attribute", "from", "to", "percent", "range", "money", "from the table"),
            rows=[
                (
                    one.title,
                    one.from_level,
                    one.to_level,
                    f"{one.percent:+.0f} %",
                    f"{one.low_percent:+.0f} to {one.high_percent:+.0f} %",
                    f"{one.money:+,.0f}",
                    f"{one.from_table:.0%}",
                )
                for one in self.effects
            ],
            notes=self.notes,
        )


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
        The date on which the estimate holds; today unless told.
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
        titles=_titles(model),
        notes=each_once((*valuation.notes, *grid.notes, *drift.notes, *interval_notes(model))),
    )


def estimate(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> Estimate:
    """What one vehicle is worth, with its adjustment grid.

    Parameters
    ----------
    model, vehicle, as_of, coverage, comparables
        As for ``evidence``.
    """
    subject = Subject.of(model, vehicle, as_of)
    valuation = _valuation(subject, vehicle, as_of, coverage)
    grid = grid_of(subject, comparables)
    return Estimate(valuation, grid, _titles(model), each_once((*valuation.notes, *grid.notes)))


def _titles(model: PriceModel) -> dict[str, str]:
    return {attribute.name: attribute.title for attribute in model.attributes}


def _valuation(subject: Subject, vehicle: Vehicle, as_of: dt.date | None, coverage: float) -> Valuation:
    return subject.model.valuation_of(vehicle, subject.cells, subject.rows, as_of, coverage)
