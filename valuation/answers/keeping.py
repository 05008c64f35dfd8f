"""What is kept from a terminal, as the desk keeps it: a table, a mend, an estimate, an offer and its answer, a sale."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from valuation.answers import kept
from valuation.answers.bands import bands
from valuation.answers.given import SCHEMA_NAME
from valuation.answers.intake import bring, draft_of, known_as, mend_table
from valuation.answers.kept_estimates import write_estimate
from valuation.build.figures import about, at_least, at_most, money
from valuation.comparables.appending import header_for
from valuation.errors import LedgerError, TableError
from valuation.ledger.corrections import Change, corrections_of
from valuation.ledger.matching import match
from valuation.ledger.records import EstimateRecord, OfferRecord, SaleRecord
from valuation.notes import Note
from valuation.text.language import on_day
from valuation.text.spelling import counted
from valuation.view import with_currency

if TYPE_CHECKING:
    from valuation.answers.intake import Brought
    from valuation.answers.tables import Tables
    from valuation.ledger import TableRecord
    from valuation.regression.model import PriceModel
    from valuation.schema import Vehicle

R = TypeVar("R", OfferRecord, SaleRecord)
ANSWERED = {"accept": "accepted", "counter": "countered", "hold": "held", "decline": "declined"}
"""What was answered to an offer, as a sentence says it."""


@dataclass(frozen=True)
class Kept:
    """Something that was written to the ledger.

    Attributes
    ----------
    kind : str
        ``table``, ``estimate``, ``offer`` or ``sale``.
    id : int
        Its number within the kind.
    subject : str
        The vehicle, or the table's name.
    sentence : str
        What was kept.
    notes : tuple of Note
        What must be known beside it.
    corrections : tuple of Change
        What it replaced, where it corrects an older record.
    """

    kind: str
    id: int
    subject: str
    sentence: str
    notes: tuple[Note, ...] = ()
    corrections: tuple[Change, ...] = ()


# Tables


def bring_file(tables: Tables, file: Path, schema_file: Path | None = None, name: str = "") -> Brought:
    """Bring a table's file to the ledger, as the next version of the table that it is one of.

    Parameters
    ----------
    tables : Tables
    file : Path
    schema_file : Path or None
        What its columns mean; ``schema.toml`` beside it unless given, else as the version before was read.
    name : str
        The shop's name for the table; as it is known already, else the file's name, unless given.

    Raises
    ------
    TableError
        A file cannot be read, or is no table.
    SchemaError
        The schema file contradicts itself.
    """
    beside = file.parent / SCHEMA_NAME
    schema_file = schema_file or (beside if beside.is_file() else None)
    try:
        source, schema = file.read_bytes(), schema_file.read_bytes() if schema_file else None
    except OSError as problem:
        raise TableError(
            f"Cannot read the table {problem.filename}: {problem.strerror}. Check the path; 'valuation start "
            "FOLDER' writes a table to begin with."
        ) from problem
    known = known_as(tables, source, file.name)
    draft = draft_of(tables, name or (known.name if known else file.name), source, file.name, schema_text=schema)
    return bring(tables, draft)


def keep_table(tables: Tables, file: Path, schema_file: Path | None = None, name: str = "") -> Kept:
    """Keep a table's file; see ``bring_file``.

    Parameters
    ----------
    tables, file, schema_file, name
        As for ``bring_file``.
    """
    brought = bring_file(tables, file, schema_file, name)
    table, again = brought.table, brought.reapplied
    if brought.before is not None and brought.before.id == table.id:
        sentence = f"{file.name} is in the ledger already, as version {table.version} of '{table.name}'"
    else:
        sentence = f"Kept {file.name} as version {table.version} of '{table.name}'"
    usable = tables.comparables(table).n_usable
    sentence += f": {counted(table.rows, 'row')}, {usable:,} of them usable."
    if again.fits:
        sentence += f" {counted(len(again.fits), 'mend')} of the version before {_was(len(again.fits))} made again."
    notes = [
        Note(
            "mend_no_longer_fits",
            f"A mend of the version before no longer fits: row {one.mend.row}, {one.mend.column or 'left out'} "
            f"(was {one.mend.old!r}, now {one.found!r}). Look at it on the desk, or mend the row again.",
        )
        for one in again.clashes
    ]
    return Kept("table", table.id, table.name, sentence, tuple(notes))


def keep_mend(
    tables: Tables,
    table: TableRecord,
    row: int,
    given: Mapping[str, str],
    *,
    leave_out: bool = False,
    right: bool = False,
) -> Kept:
    """Keep a mend of one row of a table as its next version.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The newest version.
    row : int
        As a spreadsheet shows it.
    given : mapping of str to str
        What its cells should say, by headers or names of the schema.
    leave_out : bool
        Whether the row is left out from now on.
    right : bool
        Whether the row looks odd and is right.

    Raises
    ------
    TableError
        There is no such row or column.
    LedgerError
        Nothing would change, or another hand mended the same cells meanwhile.
    """
    text, schema = tables.text_table(table), tables.schema(table)
    cells = {(row, header_for(text, schema, name)): value for name, value in given.items()}
    before = {header: str(text.cells.at[row, header]) for _, header in cells if row in text.cells.index}
    found = mend_table(tables, table, cells, left_out=[row] if leave_out else [], confirmed=[row] if right else [])
    if found.clashes:
        raise LedgerError(f"Cannot keep the mend: '{table.name}' was mended in row {row} meanwhile. Look at it again.")
    if found.table.id == table.id:
        raise LedgerError(f"Cannot keep the mend: row {row} of '{table.name}' says that already. Nothing was written.")
    said = [f"{header} was '{before[header]}' and is '{value}'" for (_, header), value in cells.items()]
    said += ["it is left out"] if leave_out else []
    said += ["it is right as it stands"] if right else []
    usable = tables.comparables(found.table).n_usable
    sentence = (
        f"Kept the mend of row {row}: {'; '.join(said)}. Version {found.table.version} of '{table.name}' has "
        f"{counted(usable, 'usable row')}."
    )
    return Kept("table", found.table.id, table.name, sentence)


# Estimates, offers and sales


def keep_estimate(
    tables: Tables, table: TableRecord, model: PriceModel, vehicle: Vehicle, as_of: dt.date | None, coverage: float
) -> Kept:
    """Value a vehicle and keep the estimate.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The version that the model was fitted to.
    model : PriceModel
        With its sales.
    vehicle : Vehicle
        Its name is what offers and sales are kept under.
    as_of : date or None
        Day of the estimate; today unless told.
    coverage : float
        Share of such sales inside the interval.
    """
    from valuation.regression.saved import model_text

    number = tables.ledger.add_model(text=model_text(model), table_id=table.id).id
    record, found = write_estimate(tables.ledger, model, number, vehicle, as_of, coverage)
    return Kept("estimate", record.id, record.subject, f"Kept as estimate {record.id}: {worth(record)}", found.notes)


def worth(estimate: EstimateRecord) -> str:
    """What a kept estimate says, in one sentence.

    Parameters
    ----------
    estimate : EstimateRecord
    """
    ends = reach(estimate.low, estimate.high)
    return (
        f"{estimate.subject} is worth about {with_currency(about(estimate.median), estimate.currency)} on "
        f"{on_day(estimate.as_of)}; {100 * estimate.coverage:g} in 100 such sales end {ends}."
    )


def reach(low: float | None, high: float | None) -> str:
    """A range of prices, rounded outwards.

    Parameters
    ----------
    low, high : float or None
        None: open on that side.
    """
    if high is None:
        return f"at {at_most(low or 0.0)} or more"
    return f"between {at_most(low)} and {at_least(high)}" if low else f"at {at_least(high)} or less"


def keep_offer(
    tables: Tables,
    estimate: EstimateRecord,
    amount: float,
    day: dt.date | None,
    *,
    confirmed: bool = False,
    **words: str,
) -> Kept:
    """Keep an offer as it comes; where bands are kept for the vehicle, with what to answer.

    Parameters
    ----------
    tables : Tables
    estimate : EstimateRecord
        Of the vehicle.
    amount, day, confirmed
        As for ``kept.take_offer``.
    **words : str
        Its ``currency``, ``who`` and ``remark``.
    """
    offer = kept.take_offer(tables.ledger, estimate, amount, day, confirmed=confirmed, **words)
    return _offer_kept(tables, offer, f"Kept as offer {offer.id}: {_offered(offer)}.")


def keep_answer(
    tables: Tables, offer: OfferRecord, answer: str, counter: float | None = None, *, confirmed: bool = False
) -> Kept:
    """Keep what was answered to an offer.

    Parameters
    ----------
    tables : Tables
    offer : OfferRecord
        The newest of its chain.
    answer : str
        One of ``OFFER_ANSWERS``.
    counter, confirmed
        As for ``Ledger.answer_offer``.
    """
    given = tables.ledger.answer_offer(offer.id, answer, counter, confirmed=confirmed)
    named = "" if counter is None else f" with {with_currency(money(counter), given.currency)}"
    sentence = f"Kept as offer {given.id}: {_offered(given)}; {ANSWERED[answer]}{named}."
    return Kept("offer", given.id, given.subject, sentence, tables.ledger.clock_notes())


def keep_sale(
    tables: Tables, estimate: EstimateRecord, price: float, day: dt.date | None, *, confirmed: bool = False, **more: Any
) -> Kept:
    """Keep the realised sale of a vehicle.

    Parameters
    ----------
    tables : Tables
    estimate : EstimateRecord
        Of the vehicle as it was sold.
    price, day, confirmed
        As for ``kept.take_sale``.
    **more : str or bool
        Its ``kind``, ``arms_length`` and ``remark``.
    """
    sale = kept.take_sale(tables.ledger, estimate, price, day, confirmed=confirmed, **more)
    return _sale_kept(tables, sale, f"Kept as sale {sale.id}: {_sold(sale)}.")


def keep_correction(
    tables: Tables, record: R, reason: str, changes: Mapping[str, object], *, confirmed: bool = False
) -> Kept:
    """Write an offer or a sale once more with what was wrong put right; the mistaken record stays.

    Parameters
    ----------
    tables : Tables
    record : OfferRecord or SaleRecord
        The newest of its chain.
    reason, changes, confirmed
        As for ``Ledger.correct``.
    """
    right = tables.ledger.correct(record, reason, changes, confirmed=confirmed)
    start = f"Corrected {record.noun} {record.id}, which is {right.noun} {right.id} now"
    if isinstance(right, OfferRecord):
        return _offer_kept(tables, right, f"{start}: {_offered(right)}.")
    return _sale_kept(tables, right, f"{start}: {_sold(right)}.")


def keep_withdrawal(tables: Tables, record: R, reason: str) -> Kept:
    """Write that an offer or a sale never was; the record stays, and no list counts it.

    Parameters
    ----------
    tables : Tables
    record : OfferRecord or SaleRecord
        The newest of its chain.
    reason : str
        Why, in a few words.
    """
    gone = tables.ledger.withdraw(record, reason)
    sentence = f"{record.noun.capitalize()} {record.id} of '{record.subject}' is withdrawn: {reason}."
    return Kept(record.noun, gone.id, gone.subject, sentence, tables.ledger.clock_notes(), corrections_of(gone))


def _offer_kept(tables: Tables, offer: OfferRecord, sentence: str) -> Kept:
    """An offer with what to answer, from the bands last kept for the vehicle in its currency."""
    from valuation.regression.saved import model_from_text

    ledger, advice = tables.ledger, ""
    found = kept.kept_bands(ledger, offer.subject, offer.currency)
    if found is not None:
        model = model_from_text(ledger.model_text(found.model), f"model {found.model} of the ledger")
        made = bands(model, found.plan, found.as_of, price=found.price, goal=found.goal)
        advice = f" {kept.advice_on(ledger, offer, made, found.plan.sale).sentence}"
    return Kept("offer", offer.id, offer.subject, sentence + advice, ledger.clock_notes(), corrections_of(offer))


def _sale_kept(tables: Tables, sale: SaleRecord, sentence: str) -> Kept:
    """A sale with the estimate that was made before it, where there is one."""
    ledger = tables.ledger
    pairs, _ = match(ledger.sales(sale.subject), ledger.all_written(EstimateRecord))
    pair = next((one for one in pairs if one.sale_id == sale.id), None)
    if pair is not None:
        place = "inside" if pair.inside else "outside"
        sentence += (
            f" The estimate made before was {about(pair.median)}, and the price fell {place} its "
            f"{100 * pair.coverage:g} % range."
        )
    return Kept("sale", sale.id, sale.subject, sentence, ledger.clock_notes(), corrections_of(sale))


def _offered(offer: OfferRecord) -> str:
    who, amount = offer.who or "a buyer", with_currency(money(offer.amount), offer.currency)
    return f"{who} offered {amount} for {offer.subject} on {on_day(offer.offered_on)}"


def _sold(sale: SaleRecord) -> str:
    aside = "" if sale.arms_length else ", not at arm's length"
    price = with_currency(money(sale.price), sale.currency)
    return f"{sale.subject} was sold for {price} on {on_day(sale.sold_on)}{aside}"


def _was(number: int) -> str:
    return "was" if number == 1 else "were"
