"""What the service shows of the ledger's records: a part of each, with what stands beside it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import BaseModel

from api.desk import Desk
from api.models.comparables import AttributeAnswer, MendAnswer, RememberedAnswer, SchemaAnswer, TableAnswer
from api.models.deal import DealAnswer, OfferAnswerModel, SaleAnswer
from api.problems import Refusal
from valuation.errors import shortlist
from valuation.notes import Note
from valuation.schema import Schema
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.answers.intake import Brought, Mended
    from valuation.comparables.mend import Mend
    from valuation.ledger import DealRecord, EstimateRecord, OfferRecord, Record, SaleRecord, TableRecord
    from valuation.sell.offers import OfferAnswer

M = TypeVar("M", bound=BaseModel)


def shown(kind: type[M], record: Record, **beside: object) -> M:
    """What is shown of a record, with what stands beside it.

    Parameters
    ----------
    kind : type of M
    record : Record
    **beside : object
    """
    return kind.model_validate({**vars(record), **beside})


def mend_answer(mend: Mend, found: str | None = None) -> MendAnswer:
    """A mend, and what its cell holds where that is something else.

    Parameters
    ----------
    mend : Mend
    found : str or None
        What the cell holds.
    """
    return MendAnswer(row=mend.row, column=mend.column, old=mend.old, new=mend.new, found=found)


def clash_refusal(found: Mended) -> Refusal:
    """The refusal of mends to cells that another hand has changed meanwhile."""
    places = [
        f"row {one.mend.row}, {one.mend.column or 'left out'} (now {one.found!r}, wanted {one.mend.new!r})"
        for one in found.reapplied.clashes
    ] + [f"header '{header}' (now {now!r}, wanted {mine!r})" for header, _, now, mine in found.headers]
    return Refusal(
        409,
        "service.clash",
        f"Cannot put the mends into '{found.table.name}': table {found.table.id} is newer than {found.shown.id} and "
        f"holds something else in {shortlist(places)}. Nothing was written. Read the newer version and mend that.",
    )


def table_answer(desk: Desk, table: TableRecord) -> TableAnswer:
    """A table version, with what it is called and whether it is put away.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
    """
    return shown(TableAnswer, table, called=desk.called(table), archived=desk.is_archived(table))


def check_answer(desk: Desk, table: TableRecord, brought: Brought | None = None) -> dict[str, Any]:
    """A table version as it was understood, and what was remembered when it was brought, as ``CheckAnswer``.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
    brought : Brought or None
        What was remembered, where it was just brought.
    """
    from valuation.answers.check import check
    from valuation.comparables.mending import header_choices

    return {
        **plain(check(desk.comparables(table))),
        "table": table_answer(desk, table),
        "headers": header_choices(desk.text_table(table), desk.schema(table)),
        "remembered": _remembered(brought) if brought is not None else None,
    }


def _remembered(brought: Brought) -> RememberedAnswer | None:
    if brought.before is None:
        return None
    return RememberedAnswer(
        before=brought.before.id,
        as_it_came=brought.as_it_came.id,
        mended_again=[mend_answer(mend) for mend in brought.reapplied.fits],
        no_longer_fits=[mend_answer(one.mend, one.found) for one in brought.reapplied.clashes],
    )


def schema_answer(schema: Schema, seen: Mapping[str, list[str]]) -> SchemaAnswer:
    """A schema with the levels that its table holds.

    Parameters
    ----------
    schema : Schema
    seen : mapping of str to list of str
        Levels that the table holds, by attribute.
    """
    attributes = [
        AttributeAnswer.model_validate(one).model_copy(update={"seen": seen.get(one.name, [])})
        for one in schema.attributes
    ]
    return SchemaAnswer(
        name=schema.name,
        title=schema.title,
        currency=schema.currency,
        fingerprint=schema.fingerprint(),
        attributes=attributes,
        data=schema.as_dict(),
    )


def kept_estimate(desk: Desk, estimate: EstimateRecord) -> dict[str, Any]:
    """An estimate from the ledger, as it was written.

    Parameters
    ----------
    desk : Desk
    estimate : EstimateRecord
    """
    return {"id": estimate.id, "table": desk.table_of(estimate).id, **desk.ledger.estimate_summary(estimate.id)}


def deal_answer(desk: Desk, deal: DealRecord) -> DealAnswer:
    """A result of the deal room.

    Parameters
    ----------
    desk : Desk
    deal : DealRecord
    """
    return shown(DealAnswer, deal, inputs=json.loads(deal.inputs), result=desk.ledger.deal_result(deal.id))


def offer_answer(offer: OfferRecord, advice: OfferAnswer | None = None, notes: Sequence[Note] = ()) -> OfferAnswerModel:
    """An offer.

    Parameters
    ----------
    offer : OfferRecord
    advice : OfferAnswer or None
        What to answer, where bands are kept.
    notes : sequence of Note
    """
    return shown(OfferAnswerModel, offer, estimate=offer.estimate_id, advice=advice, **_corrected(offer, notes))


def sale_answer(sale: SaleRecord, notes: Sequence[Note] = ()) -> SaleAnswer:
    """A realised sale.

    Parameters
    ----------
    sale : SaleRecord
    notes : sequence of Note
    """
    return shown(SaleAnswer, sale, estimate=sale.estimate_id, **_corrected(sale, notes))


def _corrected(record: Record, notes: Sequence[Note]) -> dict[str, Any]:
    from valuation.ledger.corrections import corrections_of

    return {"corrections": corrections_of(record), "notes": list(notes)}
