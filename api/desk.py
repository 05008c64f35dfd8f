"""The desk: the service's working state over one ledger. Every route and page asks here; the arithmetic is below it."""

from __future__ import annotations

import datetime as dt
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from api import tasks
from api.jobs import RETRY_SECONDS, Job, JobBoard
from api.problems import Refusal, not_found
from api.settings import Settings
from valuation.errors import LedgerError, TableError
from valuation.schema import Schema, schema_from_dict

if TYPE_CHECKING:
    from api.intake import Brought, Draft
    from api.pages.refused import Typed
    from valuation.answers.estimate import Estimate
    from valuation.answers.explain import Evidence
    from valuation.comparables import Comparables
    from valuation.comparables.texttable import TextTable
    from valuation.ledger import DealRecord, EstimateRecord, Ledger, Record, TableRecord
    from valuation.regression import PriceModel
    from valuation.schema import Vehicle

R = TypeVar("R", bound="Record")
T = TypeVar("T")
MAX_NUMBER = 2**31 - 1
FRESH_SECONDS = 1.0
"""How long the newest table is taken to be the newest without asking the ledger, which other programs write too."""


class Shelf:
    """Things made once and kept while they are among the newest; made by one thread at a time for each key."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._locks: dict[Hashable, threading.Lock] = {}
        self._lock = threading.Lock()

    def find(self, key: Hashable) -> Any:
        """The thing under a key, or ``None``."""
        return self._kept.get(key)

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The thing under a key, made if it is not there."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                found: T = self._kept[key]
                return found
            own = self._locks.setdefault(key, threading.Lock())
        with own:
            if key in self._kept:
                found = self._kept[key]
                return found
            made = make()
            with self._lock:
                self._kept[key] = made
                while len(self._kept) > self._size:
                    self._kept.popitem(last=False)
                self._locks.pop(key, None)
            return made


class Newest(Generic[T]):
    """A few things that wait for their owner to come back; the oldest are forgotten."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: dict[str, T] = {}
        self._lock = threading.Lock()

    def keep(self, key: str, thing: T) -> None:
        """Keep a thing under a key."""
        with self._lock:
            self._kept[key] = thing
            while len(self._kept) > self._size:
                del self._kept[next(iter(self._kept))]

    def find(self, key: str) -> T | None:
        """The thing under a key, if it is still kept."""
        return self._kept.get(key)


class Desk:
    """Ledger, tables read, models fitted, work under way.

    Parameters
    ----------
    settings : Settings
        The ledger is opened at the first use, not before.
    """

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.jobs = JobBoard(settings.workers, settings.work_seconds, settings.queue_length)
        self._ledger: Ledger | None = None
        self._lock = threading.Lock()
        self._tables, self._models, self._answers = Shelf(8), Shelf(8), Shelf(64)
        self._model_numbers: dict[int, int] = {}
        self._newest: tuple[float, TableRecord | None] = (0.0, None)
        self.drafts: Newest[Draft] = Newest(5)
        self.typed: Newest[Typed] = Newest(200)
        self.brought: Newest[Brought] = Newest(20)

    @property
    def ledger(self) -> Ledger:
        """The ledger, opened."""
        with self._lock:
            if self._ledger is None:
                from valuation.ledger import Ledger

                self._ledger = Ledger.open(self.settings.ledger)
            return self._ledger

    def close(self) -> None:
        """Stop the work and let go of the ledger."""
        self.jobs.close()
        if self._ledger is not None:
            self._ledger.close()

    def record(self, kind: type[R], number: int) -> R:
        """One record of the ledger; a refusal with status 404 when there is none of that number."""
        missing = not_found(f"{kind.noun} {number}")
        if not 0 < number <= MAX_NUMBER:
            raise missing
        try:
            return self.ledger.record(kind, number)
        except LedgerError as error:
            raise missing from error

    # Tables

    def tables(self) -> list[TableRecord]:
        """Every table version, newest first."""
        return list(reversed(self.ledger.tables()))

    def table(self, number: int | None = None) -> TableRecord:
        """One table version; the newest of all unless told."""
        from valuation.ledger import TableRecord

        if number is not None:
            return self.record(TableRecord, number)
        seen, newest = self._newest
        if newest is None or time.monotonic() - seen > FRESH_SECONDS:
            found = self.ledger.records(TableRecord, last=1)
            if not found:
                raise Refusal(
                    404, "service.no_table", "There is no table of comparables yet. Bring one first, or try the demo."
                )
            newest = found[0]
            self._newest = time.monotonic(), newest
        return newest

    def newest_tables(self) -> list[TableRecord]:
        """The newest version of every table, newest first."""
        return sorted({one.name: one for one in self.ledger.tables()}.values(), key=lambda one: -one.id)

    def schema(self, table: TableRecord) -> Schema:
        """The schema that a table version is read with."""
        import json

        return self._tables.get(("schema", table.id), lambda: schema_from_dict(json.loads(table.schema)))

    def text_table(self, table: TableRecord) -> TextTable:
        """The cells of a table version as text."""
        from valuation.comparables.mending import text_table

        def read() -> TextTable:
            found = text_table(self.ledger.content(table.source), self.schema(table), table.source_name)
            for labels in (found.cells.index, found.cells.columns):
                labels.get_loc(labels[0])  # pandas sets up its look-up at the first use, and not safely for two threads
            return found

        return self._tables.get(("text", table.id), read)

    def comparables(self, table: TableRecord) -> Comparables:
        """A table version, read and checked."""
        from valuation.comparables import read_comparables

        def read() -> Comparables:
            source = self.ledger.content(table.source)
            return read_comparables(source, self.schema(table), name=table.source_name)

        return self._tables.get(("sales", table.id), read)

    def levels_seen(self, table: TableRecord) -> dict[str, list[str]]:
        """Levels that a table holds of each open scale, most frequent first."""
        attributes = self.comparables(table).attributes
        return {
            one.name: [str(level) for level in attributes[one.name].value_counts().index]
            for one in self.schema(table).attributes
            if one.role == "nominal" and not one.levels and one.name in attributes
        }

    def versions(self, name: str) -> list[TableRecord]:
        """Every version of a table, newest first."""
        return [one for one in self.tables() if one.name == name]

    def newest_of(self, name: str) -> TableRecord | None:
        """The newest version of a table, if there is one of that name."""
        return next(iter(self.versions(name)), None)

    def bring(
        self, name: str, source: bytes, source_name: str, schema: Schema, *, follows: int | None = None
    ) -> TableRecord:
        """Read a table, check it and write it to the ledger as the next version of its name (see ``add_table``)."""
        from valuation.comparables import read_comparables

        table = read_comparables(source, schema, name=source_name or name)
        self._check_size(table.rows, table.rows * (len(table.set_aside.columns) or 1), name)
        kept = self.ledger.add_table(
            name=name,
            schema=schema.as_dict(),
            source=source,
            source_name=source_name or name,
            fingerprint=table.fingerprint,
            rows=table.rows,
            faults=len(table.faults),
            follows=follows,
        )
        self._newest = 0.0, None
        return kept

    def _check_size(self, rows: int, cells: int, name: str) -> None:
        limits = (("rows", rows, self.settings.max_rows), ("cells", cells, self.settings.max_cells))
        for what, found, limit in limits:
            if found > limit:
                raise TableError(
                    f"Cannot keep '{name}': found {found:,} {what}; this service takes {limit:,}. Bring a smaller "
                    f"table, or raise VALUATION_MAX_{what.upper()}."
                )

    def keep_draft(self, draft: Draft) -> tuple[str, TextTable] | None:
        """Keep a table for a while whose headers are to be mapped; ``None`` when it is not even a table."""
        from valuation.comparables.mending import text_table

        try:
            text = text_table(draft.source, draft.schema, draft.source_name)
        except TableError:
            return None
        key = secrets.token_urlsafe(9)
        self.drafts.keep(key, draft)
        return key, text

    # Models and estimates

    def is_fitted(self, table: TableRecord) -> bool:
        """Whether the model of a table version is at hand without waiting."""
        return self._models.find(table.fingerprint) is not None

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

        return self._models.get(table.fingerprint, missing)

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
        """The estimate of a vehicle with its adjustment grid, not written down; by the model of one beside it."""
        from valuation.answers.estimate import estimate

        same = beside is not None and self.table_of(beside).id == table.id
        model = self.model_kept(beside.model_id) if beside is not None and same else self.model(table)
        sales = self._sales_for(model, table)
        return estimate(model, vehicle, as_of, coverage, comparables=sales)

    def _sales_for(self, model: PriceModel, table: TableRecord) -> Comparables | None:
        """The table for a model that holds no sales."""
        return self.comparables(table) if model.comparables is None else None

    def keep_estimate(
        self, table: TableRecord, vehicle: Vehicle, as_of: dt.date, coverage: float
    ) -> tuple[EstimateRecord, Estimate]:
        """Make an estimate and write it to the ledger with all that is needed to repeat it."""
        from valuation.answers.kept_estimates import write_estimate

        return write_estimate(self.ledger, self.model(table), self.model_number(table), vehicle, as_of, coverage)

    def estimate(self, number: int) -> EstimateRecord:
        """One estimate."""
        from valuation.ledger import EstimateRecord

        return self.record(EstimateRecord, number)

    def known(self, table: TableRecord | None = None) -> list[EstimateRecord]:
        """The newest estimate of each vehicle, newest first; of those valued from one table unless all are wanted."""
        found = self.ledger.estimates(last=200)
        if table is not None:
            own = {one.id for one in self.ledger.tables() if one.name == table.name}
            models = {one.id for one in self.ledger.models() if one.table_id in own}
            found = tuple(one for one in found if one.model_id in models)
        return sorted({one.subject: one for one in found}.values(), key=lambda one: -one.id)

    def table_for(self, subject: str, currency: str = "") -> TableRecord:
        """The table to go on with for a vehicle: that of its last estimate or deal, else the newest in its currency."""
        if subject:
            for estimate in self.ledger.estimates(subject, last=1):
                return self.table_of(estimate)
            for deal in self.ledger.deals(subject, last=1):
                if (table := self.table_behind(deal)) is not None:
                    return table
        alike = (one for one in self.newest_tables() if not currency or self.comparables(one).currency == currency)
        return next(alike, None) or self.table()

    def table_behind(self, deal: DealRecord) -> TableRecord | None:
        """The table version that a result of the deal room rests on, if it rests on one."""
        return None if deal.model_id is None else self.table(self.ledger.model(deal.model_id).table_id)

    def table_of(self, estimate: EstimateRecord) -> TableRecord:
        """The table version behind an estimate."""
        return self.table(self.ledger.model(estimate.model_id).table_id)

    def vehicle_of(self, estimate: EstimateRecord) -> Vehicle:
        """The vehicle as it stood in an estimate."""
        import json

        from valuation.schema import parse_vehicle

        return parse_vehicle(json.loads(estimate.vehicle), self.schema(self.table_of(estimate)), estimate.subject)

    def evidence_at_hand(self, estimate: EstimateRecord) -> bool:
        """Whether everything behind an estimate can be shown without waiting."""
        known = self._answers.find(self.evidence_key(estimate)) is not None
        return known and self.is_fitted(self.table_of(estimate))

    def evidence_key(self, estimate: EstimateRecord) -> Hashable:
        """Under which the evidence is remembered."""
        return "evidence", estimate.id

    def evidence(self, job: Job, estimate: EstimateRecord) -> Evidence:
        """Inside a job: everything behind an estimate, from the model that it was made with."""
        model, sales = self.model_behind(job, estimate)
        job.report("gathering the evidence", 0.7)

        def gather() -> Evidence:
            vehicle = self.vehicle_of(estimate)
            return job.compute(tasks.explain, model, vehicle, estimate.as_of, estimate.coverage, sales)

        return self._answers.get(self.evidence_key(estimate), gather)

    def model_behind(self, job: Job, estimate: EstimateRecord) -> tuple[PriceModel, Comparables | None]:
        """Inside a job: the model that an estimate was made with, and the table where that model holds no sales."""
        table = self.table_of(estimate)
        self.fit_first(job, table)
        model = self.model_kept(estimate.model_id)
        return model, self._sales_for(model, table)

    def remembered(self, key: Hashable) -> Any:
        """A result that was made before, or ``None``."""
        return self._answers.find(key)

    def remember(self, key: Hashable, make: Callable[[], T]) -> T:
        """A result that follows from the ledger alone, made once and kept for a while."""
        return self._answers.get(key, make)

    # Work

    def work(self, what: str, do: Callable[[Job], Any], then: str = "") -> Job:
        """Begin a piece of work; refused with status 503 when too many wait."""
        return self.jobs.start(what, do, then)

    def join(self, what: str, do: Callable[[Job], Any], then: str = "") -> Job:
        """The same piece of work if it is under way already, else begun: a hundred who wait for one thing ask once."""
        return self.jobs.under_way(what, then) or self.jobs.start(what, do, then)

    def fit_first(self, job: Job, table: TableRecord) -> PriceModel:
        """Inside a job: the fitted model, with progress; one table, one fit."""

        def fit() -> PriceModel:
            job.report("reading the table", 0.05)
            comparables = self.comparables(table)
            job.report("fitting the table", 0.2)
            return job.compute(tasks.fit, comparables)

        return self._models.get(table.fingerprint, fit)

    def warm(self, table: TableRecord, then: str = "") -> Job:
        """Fit a table in the background, once for all who wait for it; ``then`` is the page to go to afterwards."""

        def fit(job: Job) -> str:
            self.fit_first(job, table)
            return then

        return self.join(f"Fitting {table.name}", fit, then)

    def newest_deal(self, subject: str, kind: str) -> tuple[int, Mapping[str, Any]] | None:
        """Number and result of the newest deal result of a kind for a vehicle."""
        found = [deal for deal in self.ledger.deals(subject) if deal.kind == kind]
        return (found[-1].id, self.ledger.deal_result(found[-1].id)) if found else None
