"""Why an estimate is what it is."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from typing import TYPE_CHECKING

from valuation.answers.estimate import Estimate, estimate_of
from valuation.evidence.reasons import Effect, Gap, PriceTrend, SaleInfluence
from valuation.notes import each_once
from valuation.threads import in_one_thread
from valuation.view import View

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.model import PriceModel
    from valuation.schema.vehicle import Vehicle


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
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
        All that must be known: of the estimate, the grid, the trend and the table's diagnostics, each once.
    """

    effects: tuple[Effect, ...]
    influence: tuple[SaleInfluence, ...]
    trend: PriceTrend
    gaps: tuple[Gap, ...]

    @property
    def effects_each_once(self) -> tuple[Effect, ...]:
        """Effects without those that others add up to: of an ordered scale the steps."""
        stepped = {one.attribute for one in self.effects if one.kind == "step"}
        return tuple(one for one in self.effects if one.kind != "against_subject" or one.attribute not in stepped)

    @property
    def effects_beside(self) -> tuple[Effect, ...]:
        """What one change of this vehicle would do, the largest in money first."""
        own = {one.attribute: one.level for one in self.factors}
        beside = [one for one in self.effects_each_once if own.get(one.attribute) in (one.from_level, one.to_level)]
        return tuple(sorted(beside, key=lambda one: -abs(one.money)))

    def _view(self) -> View:
        found = Estimate._view(self)
        return View(
            title=found.title,
            facts=found.facts,
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


@in_one_thread()
def explain(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> Evidence:
    """An estimate with its reasons: effects, single sales, the drift of prices, and which sale would help most.

    Parameters
    ----------
    model, vehicle, as_of, coverage, comparables
        As for ``estimate``; as of today unless told.

    Raises
    ------
    EvidenceError
        If the coverage does not lie strictly between 0 and 1.

    Examples
    --------
    >>> import valuation as v
    >>> schema = v.read_schema("data/schema.toml")
    >>> model = v.PriceModel.fit(v.read_comparables("data/comparables.csv", schema))
    >>> reasons = v.explain(model, v.read_vehicle("data/vehicles/haywain-pickup.toml", schema), model.last_sale)
    >>> reasons.influence[0].sale in v.frame(model.comparables)["sale"].tolist()
    True
    """
    from valuation.evidence.contrasts import States
    from valuation.evidence.diagnostics import interval_notes
    from valuation.evidence.effects import ask_effects
    from valuation.evidence.gaps import ask_gaps
    from valuation.evidence.influence import influence_of
    from valuation.evidence.subject import Subject
    from valuation.evidence.trend import ask_trend

    subject = Subject.of(model, vehicle, as_of)
    found = estimate_of(subject, vehicle, coverage, comparables)
    states = States(subject.cells)
    effects = ask_effects(model, states, coverage)
    trend = ask_trend(subject, states, coverage)
    gaps = ask_gaps(subject, states, coverage)
    encoded = states.encode(model.core)
    drift = trend(encoded)
    return Evidence(
        **{one.name: getattr(found, one.name) for one in fields(found) if one.name != "notes"},
        notes=each_once((*found.notes, *drift.notes, *interval_notes(model))),
        effects=effects(encoded),
        influence=influence_of(subject),
        trend=drift,
        gaps=gaps(encoded),
    )
