"""What a vehicle is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from valuation.evidence.grid_rows import INTERACTION_TITLE, GridRow, grid_table
from valuation.notes import Note, each_once
from valuation.regression.figures import Factor, Interval
from valuation.regression.price_curve import CurvePoint, price_curve
from valuation.schema.vehicle import Vehicle
from valuation.text.rounding import told
from valuation.view import View, Viewed

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.evidence.subject import Subject
    from valuation.regression.model import PriceModel


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Estimate(Viewed):
    """What a vehicle is worth, with the nearest sales adjusted to it; ``base`` times the ``factors`` is ``median``.

    Attributes
    ----------
    vehicle : Vehicle
        The subject.
    as_of : date
        The day on which the estimate holds.
    currency : str
        Of all money below; empty when the table names none.
    median, mean : float
        The estimate, which half of such sales end above, and the average of many such sales.
    interval : Interval
        Holds the price of one such sale.
    mean_interval : Interval
        Holds the median itself.
    base : float
        Price of the table's average vehicle.
    factors : tuple of Factor
        One for each attribute of the table, the sale date and the interaction among them.
    notes : tuple of Note
        All that must be known, each once.
    sales_used : mapping of str to int
        ``sold``, ``bid_not_met``, ``asking``, ``set_aside``.
    grid : tuple of GridRow
        The nearest comparables, nearest first, adjusted line by line; empty for a model that holds no sales.
    reconciled : float or None
        What the sold rows of the grid come to together; None without any.
    titles : mapping of str to str
        Attributes as people read them, by name, the interaction among them; empty in estimates that were kept before
        they held them.
    curve : tuple of CurvePoint
        The distribution of the price, for a picture; empty in estimates that were kept before they held it.
    """

    vehicle: Vehicle
    as_of: date
    currency: str
    median: float
    mean: float
    interval: Interval
    mean_interval: Interval
    base: float
    factors: tuple[Factor, ...]
    notes: tuple[Note, ...]
    sales_used: Mapping[str, int]
    grid: tuple[GridRow, ...]
    reconciled: float | None
    titles: Mapping[str, str] = field(default_factory=dict)
    curve: tuple[CurvePoint, ...] = ()

    def _view(self) -> View:
        header, rows = grid_table(self.grid)
        interval = self.interval
        return View(
            title=f"Estimate of {self.vehicle.name}",
            facts=(
                told(self.median, self.currency, width=interval.high - interval.low),
                f"{interval.coverage:.0%} of such sales from {told(interval.low)} to {told(interval.high)}",
                f"as of {self.as_of}",
            ),
            header=header,
            rows=rows,
            notes=self.notes,
        )


def estimate(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> Estimate:
    """The price of one vehicle, its range, its factors and the nearest sales adjusted to it; as of today unless told.

    Parameters
    ----------
    model : PriceModel
        The fit.
    vehicle : Vehicle
        The subject.
    as_of : date, optional
        The day on which the estimate holds.
    coverage : float
        Of the intervals; strictly between 0 and 1.
    comparables : Comparables, optional
        The table, for a model that was loaded without its sales.

    Raises
    ------
    EvidenceError, RegressionError
        If the coverage does not lie strictly between 0 and 1.

    Examples
    --------
    >>> import datetime as dt
    >>> import valuation as v
    >>> schema = v.read_schema("data/schema.toml")
    >>> model = v.PriceModel.fit(v.read_comparables("data/comparables.csv", schema))
    >>> vehicle = v.read_vehicle("data/vehicles/haywain-pickup.toml", schema)
    >>> found = v.estimate(model, vehicle, dt.date(2026, 7, 1))
    >>> found.interval.low < found.median < found.interval.high
    True
    """
    from valuation.evidence.subject import Subject

    return estimate_of(Subject.of(model, vehicle, as_of), vehicle, coverage, comparables)


def estimate_of(subject: Subject, vehicle: Vehicle, coverage: float, comparables: Comparables | None) -> Estimate:
    """The estimate of a vehicle that is encoded already; see ``estimate``.

    Parameters
    ----------
    subject : Subject
    vehicle : Vehicle
    coverage : float
    comparables : Comparables or None
    """
    from valuation.evidence.grid import grid_of
    from valuation.evidence.own_sales import own_sales_note
    from valuation.regression.interaction import INTERACTION

    model = subject.model
    found = model.valuation_of(vehicle, subject.cells, subject.rows, subject.as_of, coverage)
    grid = grid_of(subject, comparables)
    own = own_sales_note(comparables or model.comparables, vehicle.number)
    return Estimate(
        vehicle=vehicle,
        as_of=found.as_of,
        currency=found.currency,
        median=found.median,
        mean=found.mean,
        interval=found.interval,
        mean_interval=found.mean_interval,
        base=found.base,
        factors=found.factors,
        notes=each_once((*found.notes, *own, *grid.notes)),
        sales_used=found.sales_used,
        grid=grid.rows,
        reconciled=grid.reconciled,
        titles={**{one.name: one.title for one in model.attributes}, INTERACTION: INTERACTION_TITLE},
        curve=price_curve(found.distribution),
    )
