"""PriceModel: the friendlier face for the trade. Comparables in, a valuation of a vehicle out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from valuation.day import day_of
from valuation.errors import RegressionError, TooFewSalesError
from valuation.notes import Note
from valuation.regression.cells import Cells, CellTable
from valuation.regression.core import Core, Rows
from valuation.regression.distribution import PriceDistribution
from valuation.regression.doubtful import doubtful_notes, doubtful_sales
from valuation.regression.factors import factors
from valuation.regression.figures import Factor, Interval
from valuation.regression.findings import RECORDED_SALES, estimate_notes, leaning_note
from valuation.regression.joint import JointPrices
from valuation.schema.attributes import Attribute, Role
from valuation.schema.frame import plain_column
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle, vehicles_frame
from valuation.text.rounding import told
from valuation.view import View, Viewed, outcome_words

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.fit import Fit

SALE_DATE_ATTRIBUTE = Attribute(
    name="sale_date", role=Role.DATE, label="Date of sale", meaning="The day on which the price was made."
)


@dataclass(frozen=True, repr=False)
class Valuation(Viewed):
    """The estimate of one vehicle.

    Attributes
    ----------
    vehicle : Vehicle
        The subject.
    as_of : date
        The date on which the estimate holds.
    currency : str
        Of all money below; empty when the table names none.
    median, mean : float
        Median (the estimate) and mean of the predictive distribution of the buyer-pays price.
    interval : Interval
        Holds the price of one such sale.
    mean_interval : Interval
        Holds the median itself, where the average of many such sales would settle.
    base : float
        Price of the table's average vehicle; times the factors it is the median.
    factors : tuple of Factor
        One for each attribute of the table, the sale date and the interaction among them.
    notes : tuple of Note
        What must be known.
    sales_used : mapping of str to int
        ``sold``, ``bid_not_met``, ``asking``, ``set_aside``.
    distribution : PriceDistribution
        The predictive distribution, length one.
    """

    vehicle: Vehicle
    as_of: dt.date
    currency: str
    median: float
    mean: float
    interval: Interval
    mean_interval: Interval
    base: float
    factors: tuple[Factor, ...]
    notes: tuple[Note, ...]
    sales_used: Mapping[str, int]
    distribution: PriceDistribution

    def _view(self) -> View:
        interval = self.interval
        return View(
            title=f"Estimate of {self.vehicle.name}",
            facts=(
                told(self.median, self.currency, width=interval.high - interval.low),
                f"{interval.coverage:.0%} of such sales from {told(interval.low)} to {told(interval.high)}",
                f"as of {self.as_of}",
            ),
            header=("attribute", "this vehicle", "times", "from", "to"),
            rows=[
                (one.attribute, one.level, f"{one.factor:.3f}", f"{one.low:.3f}", f"{one.high:.3f}")
                for one in self.factors
            ],
            notes=self.notes,
        )


@dataclass(frozen=True, repr=False)
class PriceModel(Viewed):
    """A fit of a table of comparables, ready to value vehicles.

    Attributes
    ----------
    schema : Schema
        What the columns mean.
    core : Core
        The frozen fit.
    attributes : tuple of Attribute
        Those that the fit uses, the sale date last.
    currency : str
        Of every price.
    sales_used : mapping of str to int
        Rows by outcome, and those set aside.
    first_sale, last_sale : date or None
        Of the usable rows; None for a table without dates.
    table_fingerprint, table_name : str
        Of the table that it was fitted to.
    notes : tuple of Note
        What must be known about the fit.
    table_notes : tuple of Note
        How the table was read: what was taken by a rule, such as the sheet, the order of dates or a venue's premium.
    fit_result : Fit or None
        How each sale stands to the fit; None for a model loaded from a file.
    comparables : Comparables or None
        The table; None for a model loaded from a file.
    """

    schema: Schema
    core: Core
    attributes: tuple[Attribute, ...]
    currency: str
    sales_used: Mapping[str, int]
    first_sale: dt.date | None
    last_sale: dt.date | None
    table_fingerprint: str
    table_name: str
    notes: tuple[Note, ...]
    table_notes: tuple[Note, ...] = ()
    fit_result: Fit | None = None
    comparables: Comparables | None = None

    @classmethod
    def fit(cls, comparables: Comparables, **settings: Any) -> PriceModel:
        """Fit a table.

        Parameters
        ----------
        comparables : Comparables
            The usable sales.
        **settings
            Passed to ``PriceRegressor``.

        Raises
        ------
        TooFewSalesError
            With fewer than 12 usable rows; says how many were found, how many are set aside and what to do.
        """
        from valuation.regression.regressor import PriceRegressor

        cells = comparables.features()
        empty = [name for name in cells.columns if cells[name].isna().all()]
        cells = cells.drop(columns=empty)
        used = tuple(a for a in (*comparables.schema.attributes, SALE_DATE_ATTRIBUTE) if a.name in cells.columns)
        regressor = PriceRegressor(roles={a.name: a for a in used}, **settings)
        try:
            regressor.fit(cells[[a.name for a in used]], comparables.prices(), comparables.sales["venue"])
        except TooFewSalesError as error:
            aside = comparables.rows - comparables.n_usable
            raise TooFewSalesError(
                f"Cannot estimate from {comparables.source_name or 'this table'}: {error} "
                f"(Rows in the table: {comparables.rows}; set aside for their faults: {aside}; "
                "'valuation check' lists them with the mend.)"
            ) from error
        notes = regressor.notes_
        missing_columns = [name for name in empty if name != SALE_DATE_ATTRIBUTE.name]
        if missing_columns:
            text = f"{', '.join(missing_columns)}: every cell is empty, so these say nothing here."
            notes = (*notes, Note("column_empty", text))
        if (other := settings.get("lean_on")) is not None:
            note = leaning_note(other.table_name, other.sales_used["sold"], leaned=regressor.fit_.leaned)
            notes = (*notes, note)
        dates = comparables.sales["date"].dropna()
        return cls(
            schema=comparables.schema,
            core=regressor.core_,
            attributes=used,
            currency=comparables.currency,
            sales_used=comparables.outcome_counts(),
            first_sale=dates.min().date() if len(dates) else None,
            last_sale=dates.max().date() if len(dates) else None,
            table_fingerprint=comparables.fingerprint,
            table_name=comparables.source_name,
            notes=notes,
            table_notes=comparables.notes,
            fit_result=regressor.fit_,
            comparables=comparables,
        )

    @cached_property
    def attribute_by_name(self) -> Mapping[str, Attribute]:
        """The attributes in use, by name."""
        return {attribute.name: attribute for attribute in self.attributes}

    @cached_property
    def doubts(self) -> tuple[Note, ...]:
        """The one or two sales that the fit itself finds doubtful; a saved model, which holds no sales, has none."""
        if self.fit_result is None or self.comparables is None:
            return ()
        index, names = self.comparables.sales.index.tolist(), self.comparables.sales["sale"].tolist()
        found = doubtful_sales(self.fit_result, self.attribute_by_name)
        return doubtful_notes([one for one in found if index[one.place] not in self.comparables.confirmed], names)

    def without_sales(self) -> PriceModel:
        """The model as it would come out of a file: no sales, no traces of single rows."""
        return replace(self, fit_result=None, comparables=None)

    def cells(self, vehicles: Sequence[Vehicle], as_of: dt.date | None = None) -> pd.DataFrame:
        """Raw cells of vehicles as the fit wants them, shape (m, attributes).

        Parameters
        ----------
        vehicles : sequence of Vehicle
            The m vehicles.
        as_of : date, optional
            The day; today unless told.
        """
        frame = vehicles_frame([vehicle.spelled_as(self.levels_seen()) for vehicle in vehicles], self.schema)
        if SALE_DATE_ATTRIBUTE.name in self.attribute_by_name:
            frame = frame.assign(**{SALE_DATE_ATTRIBUTE.name: pd.Timestamp(day_of(as_of))})
        return frame[[attribute.name for attribute in self.attributes]]

    def plain_cells(self, vehicles: Sequence[Vehicle], as_of: dt.date | None = None) -> dict[str, Cells]:
        """The cells of ``cells`` as plain arrays by attribute, which cost a fraction of a table.

        Parameters
        ----------
        vehicles, as_of
            As for ``cells``.
        """
        spelled = [vehicle.spelled_as(self.levels_seen()) for vehicle in vehicles]
        found: dict[str, Cells] = {}
        for attribute in self.attributes:
            if attribute.name == SALE_DATE_ATTRIBUTE.name:
                found[attribute.name] = np.full(len(vehicles), day_of(as_of), dtype="datetime64[ns]")
            else:
                values = [vehicle.attributes.get(attribute.name) for vehicle in spelled]
                found[attribute.name] = plain_column(attribute, values)
        return found

    def rows(self, vehicles: Sequence[Vehicle], as_of: dt.date | None = None) -> Rows:
        """Vehicles encoded through the frozen design.

        Parameters
        ----------
        vehicles, as_of
            As for ``cells``.
        """
        return self.core.rows(self.plain_cells(vehicles, as_of))

    def distribution(self, vehicles: Sequence[Vehicle], as_of: dt.date | None = None) -> PriceDistribution:
        """Predictive distributions of the buyer-pays prices of m vehicles.

        Parameters
        ----------
        vehicles, as_of
            As for ``cells``.
        """
        return self.core.distribution(self.rows(vehicles, as_of))

    def joint(self, vehicles: Sequence[Vehicle], as_of: dt.date | None = None) -> JointPrices:
        """Prices of m states of one vehicle, with the uncertainty that they share.

        Parameters
        ----------
        vehicles, as_of
            As for ``cells``.
        """
        return self.core.joint(self.rows(vehicles, as_of))

    def value(self, vehicle: Vehicle, as_of: dt.date | None = None, coverage: float = 0.8) -> Valuation:
        """Value one vehicle.

        Parameters
        ----------
        vehicle : Vehicle
            The subject.
        as_of : date, optional
            The date on which the estimate holds; today unless told.
        coverage : float
            Of the intervals; strictly between 0 and 1.
        """
        cells = self.plain_cells([vehicle], as_of)
        return self.valuation_of(vehicle, cells, self.core.rows(cells), as_of, coverage)

    def valuation_of(
        self, vehicle: Vehicle, cells: CellTable, rows: Rows, as_of: dt.date | None, coverage: float
    ) -> Valuation:
        """Value a vehicle whose cells are made and encoded already.

        Parameters
        ----------
        vehicle : Vehicle
            The subject.
        cells : DataFrame or mapping of str to array, one row
            Its raw cells.
        rows : Rows
            The same encoded.
        as_of, coverage
            As for ``value``.
        """
        one, centre = self.core.distribution(rows), self.core.mean_distribution(rows)
        base, lines = factors(self.core, rows, cells, self.attribute_by_name, coverage)
        return Valuation(
            vehicle=vehicle,
            as_of=day_of(as_of),
            currency=self.currency,
            median=float(one.median()[0]),
            mean=float(one.mean()[0]),
            interval=_interval(one, coverage),
            mean_interval=_interval(centre, coverage),
            base=base,
            factors=lines,
            notes=self._notes(vehicle, rows, cells),
            sales_used=self.sales_used,
            distribution=one,
        )

    def notes_on(self, vehicle: Vehicle, as_of: dt.date | None = None) -> tuple[Note, ...]:
        """What must be known of the estimate of one vehicle, without the estimate.

        Parameters
        ----------
        vehicle : Vehicle
            The subject.
        as_of : date, optional
            The day; today unless told.
        """
        cells = self.plain_cells([vehicle], as_of)
        return self._notes(vehicle, self.core.rows(cells), cells)

    def _notes(self, vehicle: Vehicle, rows: Rows, cells: CellTable) -> tuple[Note, ...]:
        found = estimate_notes(self.core, rows, self.attribute_by_name, cells)
        return (*found, *self._unused(vehicle), *self.doubts, *self.notes, *self.table_notes, RECORDED_SALES)

    def _view(self) -> View:
        span = f"{self.first_sale} to {self.last_sale}" if self.last_sale is not None else "no dates"
        return View(
            title=f"Price model of {self.table_name or 'a table'}",
            facts=(outcome_words(self.sales_used), span, f"{len(self.attributes)} attributes"),
            header=("attribute", "role"),
            rows=[(one.title, one.role.value) for one in self.attributes],
            notes=(*self.notes, *self.table_notes),
        )

    def levels_seen(self) -> dict[str, tuple[str, ...]]:
        """Levels that the table holds of each unordered scale."""
        return {
            term.attribute: term.levels
            for term in self.core.design.terms
            if self.attribute_by_name[term.attribute].role is Role.NOMINAL and hasattr(term, "levels")
        }

    def _unused(self, vehicle: Vehicle) -> list[Note]:
        """Say which given attributes the table cannot speak to."""
        names = [name for name in vehicle.attributes if name not in self.attribute_by_name]
        if not names:
            return []
        return [
            Note(
                "attribute_not_in_table",
                f"{', '.join(names)}: given for the vehicle, but the table has no such column, "
                "so the estimate does not use it.",
            )
        ]


def doubts_in(comparables: Comparables) -> tuple[Note, ...]:
    """Sales that a fit of a table finds doubtful; none where the table is too small, or not fit, to be fitted."""
    try:
        return PriceModel.fit(comparables).doubts
    except (RegressionError, TooFewSalesError):
        return ()


def _interval(distribution: PriceDistribution, coverage: float) -> Interval:
    low, high = distribution.interval(coverage)
    return Interval(coverage, float(low[0]), float(high[0]))
