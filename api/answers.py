"""From records and results to the answer models of the JSON service."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from api.desk import Desk
from api.models.comparables import AttributeAnswer, CheckAnswer, LevelAnswer, SchemaAnswer, TableAnswer
from api.models.deal import ChangeAnswer, DealAnswer, OfferAnswerModel, SaleAnswer
from api.models.shared import NoteAnswer
from api.problems import Refusal
from valuation.errors import shortlist
from valuation.notes import Note, as_dicts
from valuation.schema import Schema
from valuation.text.plain import plain

if TYPE_CHECKING:
    from api.intake import Brought, Mended
    from valuation.comparables.mends import Mend
    from valuation.ledger import DealRecord, EstimateRecord, OfferRecord, Record, SaleRecord, TableRecord
    from valuation.sell.offers import OfferAnswer


def table_answer(table: TableRecord) -> TableAnswer:
    """A table version."""
    return TableAnswer(
        id=table.id,
        name=table.name,
        version=table.version,
        written_at=table.written_at,
        source_name=table.source_name,
        fingerprint=table.fingerprint,
        rows=table.rows,
        faults=table.faults,
    )


def mend_answer(mend: Mend, found: str | None = None) -> dict[str, Any]:
    """A mend, and what its cell holds where that is something else."""
    return {"row": mend.row, "column": mend.column, "old": mend.old, "new": mend.new, "found": found}


def clash_refusal(found: Mended) -> Refusal:
    """The refusal of mends to cells that another hand has changed meanwhile."""
    places = [
        f"row {one.mend.row}, {one.mend.column or 'left out'} (now {one.found!r}, wanted {one.mend.new!r})"
        for one in found.placed.clashes
    ] + [f"header '{header}' (now {now!r}, wanted {mine!r})" for header, _, now, mine in found.headers]
    return Refusal(
        409,
        "service.clash",
        f"Cannot put the mends into '{found.table.name}': table {found.table.id} is newer than {found.shown.id} and "
        f"holds something else in {shortlist(places)}. Nothing was written. Read the newer version and mend that.",
    )


def check_answer(desk: Desk, table: TableRecord, brought: Brought | None = None) -> CheckAnswer:
    """A table version as it was understood, and what was remembered when it was brought."""
    from valuation.comparables.mending import header_choices

    found = desk.comparables(table)
    return CheckAnswer.model_validate(
        {
            "table": table_answer(table),
            "rows": found.rows,
            "usable": found.n_usable,
            "currency": found.currency,
            "outcomes": found.outcome_counts(),
            "headers": header_choices(desk.text_table(table), desk.schema(table)),
            "faults": [fault.as_dict() for fault in found.faults],
            "notes": as_dicts(found.notes),
            "remembered": _remembered(brought) if brought is not None and brought.before is not None else None,
        }
    )


def _remembered(brought: Brought) -> dict[str, Any]:
    return {
        "before": brought.before.id if brought.before else None,
        "as_it_came": brought.as_it_came.id,
        "mended_again": [mend_answer(mend) for mend in brought.placed.fits],
        "no_longer_fits": [mend_answer(one.mend, one.found) for one in brought.placed.clashes],
    }


def schema_answer(schema: Schema, seen: Mapping[str, list[str]]) -> SchemaAnswer:
    """A schema with the levels that its table holds."""
    return SchemaAnswer(
        name=schema.name,
        title=schema.title,
        currency=schema.currency,
        fingerprint=schema.fingerprint(),
        attributes=[
            AttributeAnswer(
                name=one.name,
                title=one.title,
                role=str(one.role),
                meaning=one.meaning,
                unit=one.unit,
                required=one.required,
                missing=one.missing,
                direction=one.direction,
                minimum=one.minimum,
                maximum=one.maximum,
                levels=[LevelAnswer(name=level.name, meaning=level.meaning) for level in one.levels],
                seen=seen.get(one.name, []),
            )
            for one in schema.attributes
        ],
        data=schema.as_dict(),
    )


def kept_estimate(desk: Desk, estimate: EstimateRecord) -> dict[str, Any]:
    """An estimate from the ledger, as JSON."""
    summary = plain(desk.ledger.estimate_summary(estimate.id))
    return {"id": estimate.id, "table": desk.table_of(estimate).id, **summary}


def deal_answer(desk: Desk, deal: DealRecord) -> DealAnswer:
    """A result of the deal room."""
    return DealAnswer(
        id=deal.id,
        subject=deal.subject,
        kind=deal.kind,
        written_at=deal.written_at,
        inputs=json.loads(deal.inputs),
        result=desk.ledger.deal_result(deal.id),
    )


def offer_answer(offer: OfferRecord, advice: OfferAnswer | None = None, notes: Sequence[Note] = ()) -> OfferAnswerModel:
    """An offer."""
    return OfferAnswerModel(
        id=offer.id,
        subject=offer.subject,
        estimate=offer.estimate_id,
        amount=offer.amount,
        currency=offer.currency,
        offered_on=offer.offered_on,
        who=offer.who,
        answer=offer.answer,
        counter=offer.counter,
        remark=offer.remark,
        advice=advice,
        **_corrected(offer, notes),
    )


def sale_answer(sale: SaleRecord, notes: Sequence[Note] = ()) -> SaleAnswer:
    """A realised sale."""
    return SaleAnswer(
        id=sale.id,
        subject=sale.subject,
        estimate=sale.estimate_id,
        price=sale.price,
        currency=sale.currency,
        sold_on=sale.sold_on,
        kind=sale.kind,
        arms_length=sale.arms_length,
        remark=sale.remark,
        **_corrected(sale, notes),
    )


def _corrected(record: Record, notes: Sequence[Note]) -> dict[str, Any]:
    from valuation.ledger.corrections import corrections_of

    return {
        "corrects": record.corrects,
        "corrections": [ChangeAnswer.model_validate(asdict(one)) for one in corrections_of(record)],
        "withdrawn": record.withdrawn,
        "notes": [NoteAnswer(code=note.code, text=note.text) for note in notes],
    }
