"""The desk: the service's working state over one ledger. Every route and page asks here; the arithmetic is below it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from api.jobs import RETRY_SECONDS, Job, JobBoard
from api.problems import Refusal, not_found
from api.settings import Settings
from api.talks_of_tables import MOST_WAITING
from valuation.answers.shelf import Shelf
from valuation.answers.tables import Tables
from valuation.errors import LedgerError

if TYPE_CHECKING:
    from api.pages.refused import Typed
    from api.talks_of_tables import Talk
    from valuation.answers.estimate import Estimate
    from valuation.answers.explain import Evidence
    from valuation.answers.intake import Brought
    from valuation.comparables import Comparables
    from valuation.ledger import EstimateRecord, Record, TableRecord
    from valuation.regression import PriceModel
    from valuation.schema import Vehicle

R = TypeVar("R", bound="Record")
T = TypeVar("T")
MAX_NUMBER = 2**31 - 1
"""Largest number of a record that a column of the ledger holds: a signed integer of 32 bits."""


class Desk(Tables):
    """Ledger, tables read, models fitted, work under way, and what waits for its owner to come back.

    Parameters
    ----------
    settings : Settings
        The ledger is opened at the first use, not before.
    """

    def __init__(self, settings: Settings) -> None:
        limits = {"rows": settings.max_rows, "cells": settings.max_cells}
        super().__init__(settings.ledger, limits, settings.currency)
        self.settings = settings
        self.jobs = JobBoard(settings.workers, settings.work_seconds, settings.queue_length)
        self._models: Shelf[PriceModel] = Shelf(8)
        self._answers: Shelf[Any] = Shelf(64)
        self._model_numbers: dict[int, int] = {}
        self.waiting: Shelf[Talk] = Shelf(MOST_WAITING)
        self.typed: Shelf[Typed] = Shelf(200)
        self.brought: Shelf[Brought] = Shelf(20)

    def close(self) -> None:
        """Stop the work and let go of the ledger."""
        self.jobs.close()
        super().close()

    def record(self, kind: type[R], number: int) -> R:
        """One record of the ledger; a refusal with status 404 when there is none of that number.

        Parameters
        ----------
        kind : type of Record
        number : int
            Its number within the kind.
        """
        missing = not_found(f"{kind.noun} {number}")
        if not 0 < number <= MAX_NUMBER:
            raise missing
        try:
            return self.ledger.record(kind, number)
        except LedgerError as error:
            raise missing from error

    def table(self, number: int | None = None) -> TableRecord:
        """One table version; the newest of all unless told."""
        from valuation.ledger import TableRecord

        return self.record(TableRecord, number) if number is not None else self._or_refuse(self.newest_table())

    def table_for(self, subject: str, currency: str = "") -> TableRecord:
        """The table to go on with for a vehicle; see ``Tables``.

        Parameters
        ----------
        subject : str
            The shop's name for the vehicle.
        currency : str
            Any where it is empty.
        """
        return self._or_refuse(super().table_for(subject, currency))

    def _or_refuse(self, table: TableRecord | None) -> TableRecord:
        if table is None:
            raise Refusal(
                404, "service.no_table", "There is no table of comparables yet. Bring one first, or try the demo."
            )
        return table

    # Models and estimates

    def is_fitted(self, table: TableRecord) -> bool:
        """Whether the model of a table version is at hand without waiting."""
        return self._models.find(("fitted", table.id)) is not None

    def model(self, table: TableRecord) -> PriceModel:
        """The model of a table version, which must be at hand: requests fit nothing, see ``fit_first`` and ``warm``."""

        def missing() -> PriceModel:
            self.warm(table)
            raise Refusal(
                503,
                "service.fitting",
                f"Cannot answer yet: '{table.name}' is being fitted. Nothing was written. Try again in a few seconds.",
                {"Retry-After": str(RETRY_SECONDS)},
            )

        return self._models.get(("fitted", table.id), missing)

    def model_number(self, table: TableRecord) -> int:
        """Number in the ledger of the model of a table version, written if it is new."""
        if table.id not in self._model_numbers:
            from valuation.regression.saved import model_text

            text = model_text(self.model(table))
            self._model_numbers[table.id] = self.ledger.add_model(text=text, table_id=table.id).id
        return self._model_numbers[table.id]

    def model_kept(self, number: int) -> PriceModel:
        """A model of the ledger: the table's own fit, which has its sales at hand, where that is the same to the bit.

        Another version of the program may fit the table otherwise; what was estimated with the kept model is still
        explained with it.
        """
        from valuation.ledger import ModelRecord
        from valuation.regression.saved import model_from_text, same_estimates

        def read() -> PriceModel:
            fitted = self.model(self.table(self.record(ModelRecord, number).table_id))
            text = self.ledger.model_text(number)
            return fitted if same_estimates(text, fitted) else model_from_text(text, f"model {number} of the ledger")

        return self._models.get(("kept", number), read)

    def value(
        self,
        table: TableRecord,
        vehicle: Vehicle,
        as_of: dt.date,
        coverage: float,
        *,
        beside: EstimateRecord | None = None,
    ) -> Estimate:
        """The estimate of a vehicle with its adjustment grid, not written down; by the model of one beside it.

        Parameters
        ----------
        table : TableRecord
        vehicle : Vehicle
        as_of : date
            Day of the estimate.
        coverage : float
            Share of such sales inside the interval.
        beside : EstimateRecord or None
            An estimate whose model is to be used.
        """
        from valuation.answers.estimate import estimate

        same = beside is not None and self.table_of(beside).id == table.id
        model = self.model_kept(beside.model_id) if beside is not None and same else self.model(table)
        sales = self._sales_for(model, table)
        return estimate(model, vehicle, as_of, coverage, comparables=sales)

    def _sales_for(self, model: PriceModel, table: TableRecord) -> Comparables | None:
        """The table for a model that holds no sales."""
        return self.comparables(table) if model.comparables is None else None

    def keep_estimate(
        self, table: TableRecord, vehicle: Vehicle, as_of: dt.date, coverage: float, **told: Any
    ) -> tuple[EstimateRecord, Estimate]:
        """Make an estimate and write it to the ledger with all that is needed to repeat it.

        Parameters
        ----------
        table : TableRecord
        vehicle : Vehicle
        as_of : date
            Day of the estimate.
        coverage : float
            Share of such sales inside the interval.
        **told : Any
            What else is known of the vehicle where it is new, as for ``vehicle_kept``.
        """
        from valuation.answers.kept_estimates import write_estimate

        model, number = self.model(table), self.model_number(table)
        return write_estimate(self.ledger, model, number, vehicle, as_of, coverage, **told)

    def estimate(self, number: int) -> EstimateRecord:
        """One estimate."""
        from valuation.ledger import EstimateRecord

        return self.record(EstimateRecord, number)

    def evidence_at_hand(self, estimate: EstimateRecord) -> bool:
        """Whether everything behind an estimate can be shown without waiting."""
        known = self._answers.find(self.evidence_key(estimate)) is not None
        return known and self.is_fitted(self.table_of(estimate))

    def evidence_key(self, estimate: EstimateRecord) -> Hashable:
        """Under which the evidence is remembered."""
        return "evidence", estimate.id

    def evidence(self, job: Job, estimate: EstimateRecord) -> Evidence:
        """Inside a job: everything behind an estimate, from the model that it was made with.

        Parameters
        ----------
        job : Job
            The job that the work is done in.
        estimate : EstimateRecord
        """
        from valuation.answers.explain import explain

        model, sales = self.model_behind(job, estimate)
        job.report("gathering the evidence", 0.7)
        vehicle, as_of, coverage = self.vehicle_of(estimate), estimate.as_of, estimate.coverage
        return self._answers.get(
            self.evidence_key(estimate),
            lambda: job.compute(explain, model, vehicle, as_of, coverage, comparables=sales),
        )

    def model_behind(self, job: Job, estimate: EstimateRecord) -> tuple[PriceModel, Comparables | None]:
        """Inside a job: the model that an estimate was made with, and the table where that model holds no sales.

        Parameters
        ----------
        job : Job
            The job that the work is done in.
        estimate : EstimateRecord
        """
        table = self.table_of(estimate)
        self.fit_first(job, table)
        model = self.model_kept(estimate.model_id)
        return model, self._sales_for(model, table)

    def remembered(self, key: Hashable) -> Any:
        """A result that was made before, or ``None``."""
        return self._answers.find(key)

    def remember(self, key: Hashable, make: Callable[[], T]) -> T:
        """A result that follows from the ledger alone, made once and kept for a while.

        Parameters
        ----------
        key : Hashable
        make : callable
            Makes the result.
        """
        return self._answers.get(key, make)

    # Work

    def work(self, what: str, do: Callable[[Job], Any], then: str = "") -> Job:
        """Begin a piece of work; refused with status 503 when too many wait.

        Parameters
        ----------
        what : str
            What is done, as people read it.
        do : callable
            The work.
        then : str
            Address of the page that follows.
        """
        return self.jobs.start(what, do, then)

    def join(self, what: str, do: Callable[[Job], Any], then: str = "") -> Job:
        """The same piece of work if it is under way already, else begun: a hundred who wait for one thing ask once.

        Parameters
        ----------
        what : str
            What is done, as people read it.
        do : callable
            The work.
        then : str
            Address of the page that follows.
        """
        return self.jobs.under_way(what, then) or self.jobs.start(what, do, then)

    def fit_first(self, job: Job, table: TableRecord) -> PriceModel:
        """Inside a job: the fitted model, with progress; one table, one fit.

        Parameters
        ----------
        job : Job
            The job that the work is done in.
        table : TableRecord
        """
        from valuation.regression import PriceModel

        def fit() -> PriceModel:
            job.report("reading the table", 0.05)
            comparables = self.comparables(table)
            job.report("fitting the table", 0.2)
            return job.compute(PriceModel.fit, comparables)

        return self._models.get(("fitted", table.id), fit)

    def warm(self, table: TableRecord, then: str = "") -> Job:
        """Fit a table in the background, once for all who wait for it; ``then`` is the page to go to afterwards.

        Parameters
        ----------
        table : TableRecord
        then : str
            Address of the page that follows.
        """

        def fit(job: Job) -> str:
            self.fit_first(job, table)
            return then

        return self.join(f"Fitting {table.name}", fit, then)

    def newest_deal(self, subject: str, kind: str) -> tuple[int, Mapping[str, Any]] | None:
        """Number and result of the newest deal result of a kind for a vehicle.

        Parameters
        ----------
        subject : str
            The shop's name for the vehicle.
        kind : str
            What was asked.
        """
        found = [deal for deal in self.ledger.deals(subject) if deal.kind == kind]
        return (found[-1].id, self.ledger.deal_result(found[-1].id)) if found else None
