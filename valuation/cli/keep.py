"""``valuation keep``: an estimate, an offer and its answer, a sale, a table or a mend, in the shop's ledger."""

from __future__ import annotations

import argparse
import sys
from contextlib import redirect_stdout
from pathlib import Path
from typing import TYPE_CHECKING, Any

from valuation.answers import keeping
from valuation.answers.given import amount_in
from valuation.answers.keeping import Kept
from valuation.answers.vehicles import estimate_named
from valuation.build.figures import money
from valuation.cli.add import into_table, show_remarks
from valuation.cli.asking import agreed, once_confirmed
from valuation.cli.exits import DONE
from valuation.cli.inputs import vehicle_of
from valuation.cli.ledger_inputs import newest_table, table_here, the_tables
from valuation.cli.progress import progress
from valuation.cli.show import one_screen, paragraph, print_json
from valuation.errors import LedgerError
from valuation.ledger.records import OfferRecord, SaleRecord
from valuation.schema.vehicle import read_words

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import TableRecord


def keep(arguments: argparse.Namespace) -> int:
    """Write one thing to the ledger and say what was written."""
    keepers = {
        "estimate": _estimate, "offer": _offer, "answer": _answer, "sale": _sale, "withdrawal": _withdrawal,
        "table": _table, "mend": _mend,
    }  # fmt: skip
    with the_tables(arguments) as tables:
        keepers[arguments.what](tables, arguments)
    return DONE


def _show(arguments: argparse.Namespace, kept: Kept, then: str) -> None:
    if arguments.json:
        print_json(kept)
        return
    with one_screen(kept.notes, then, all_of_them=False):
        paragraph(kept.sentence)
        for change in kept.corrections:
            print(f"  {change.field}: was {_said(change.was)}, is {_said(change.became)} ({change.reason})")


def _said(value: object) -> str:
    return money(value) if isinstance(value, float) else str(value)


def _table(tables: Tables, arguments: argparse.Namespace) -> None:
    schema = Path(arguments.schema) if arguments.schema else None
    with progress(f"Reading {Path(arguments.table).name}"):
        kept = keeping.keep_table(tables, Path(arguments.table), schema, arguments.name)
    _show(arguments, kept, "Next: valuation keep estimate VEHICLE (what one is worth), or valuation serve (the desk).")


def _mend(tables: Tables, arguments: argparse.Namespace) -> None:
    table, given = newest_table(tables, arguments.table), read_words(arguments.words)
    kept = keeping.keep_mend(tables, table, arguments.row, given, leave_out=arguments.leave_out, right=arguments.right)
    _show(arguments, kept, "Next: valuation keep estimate VEHICLE (what one is worth now).")


def _estimate(tables: Tables, arguments: argparse.Namespace) -> None:
    from valuation.regression import PriceModel

    table = _table_to_estimate_from(tables, arguments)
    told = vehicle_of(arguments)
    sales = tables.comparables(table)
    with progress(f"Fitting {sales.n_usable} rows of {table.name}"):
        model = PriceModel.fit(sales)
    kept = keeping.keep_estimate(tables, table, model, told.vehicle(model), arguments.as_of, arguments.coverage)
    _show(arguments, kept, f'Next: valuation keep offer "{kept.subject}" AMOUNT --buyer NAME, or valuation vehicles.')


def _table_to_estimate_from(tables: Tables, arguments: argparse.Namespace) -> TableRecord:
    """The table named or found here, kept with the estimate; else the newest of the ledger."""
    file = table_here(arguments.comparables)
    if file is None:
        return newest_table(tables)
    with progress(f"Reading {file.name}"):
        return keeping.bring_file(tables, file, Path(arguments.schema) if arguments.schema else None).table


def _offer(tables: Tables, arguments: argparse.Namespace) -> None:
    estimate = estimate_named(tables, arguments.vehicle)
    currency = arguments.currency or arguments.amount.currency or estimate.currency
    amount = amount_in(arguments.amount, currency, "the offer")
    if arguments.corrects:
        changes = {"amount": amount, "offered_on": arguments.on, "who": arguments.buyer, "remark": arguments.remark,
                   "currency": arguments.currency}  # fmt: skip
        kept = _corrected(tables, arguments, OfferRecord, estimate.subject, changes)
    else:
        words = {"currency": currency, "who": arguments.buyer or "", "remark": arguments.remark or ""}
        kept = once_confirmed(
            lambda sure: keeping.keep_offer(tables, estimate, amount, arguments.on, confirmed=sure, **words),
            arguments.confirm,
        )
    _show(arguments, kept, f"Next: valuation keep answer {kept.id} accept, counter AMOUNT, hold or decline.")


def _answer(tables: Tables, arguments: argparse.Namespace) -> None:
    offer = tables.ledger.offer(arguments.number)
    counter = amount_in(arguments.counter, offer.currency, "the counter")
    kept = once_confirmed(
        lambda sure: keeping.keep_answer(tables, offer, arguments.answer, counter, confirmed=sure), arguments.confirm
    )
    sold = f'Next: valuation keep sale "{kept.subject}" PRICE --on DATE, once it is paid.'
    _show(arguments, kept, sold if arguments.answer == "accept" else f'Next: valuation vehicles "{kept.subject}".')


def _sale(tables: Tables, arguments: argparse.Namespace) -> None:
    estimate = estimate_named(tables, arguments.vehicle)
    price = amount_in(arguments.price, estimate.currency, "the price")
    if arguments.corrects:
        changes = {"price": price, "sold_on": arguments.on, "kind": arguments.kind, "remark": arguments.remark}
        changes |= {"arms_length": False} if arguments.related else {}
        kept = _corrected(tables, arguments, SaleRecord, estimate.subject, changes)
    else:
        words = {"kind": arguments.kind or "private", "arms_length": not arguments.related,
                 "remark": arguments.remark or ""}  # fmt: skip
        kept = once_confirmed(
            lambda sure: keeping.keep_sale(tables, estimate, price, arguments.on, confirmed=sure, **words),
            arguments.confirm,
        )
    wanted = arguments.into_table is not None
    _show(arguments, kept, "" if wanted else f"Next: valuation add --sale {kept.id} (takes it into the comparables).")
    sale = tables.ledger.sale(kept.id)
    if not wanted and sale.arms_length and not arguments.json:
        wanted = bool(agreed(f"Take sale {kept.id} into the comparables?"))
    if wanted:
        added = into_table(tables, sale, arguments.into_table or None, arguments.venue, None)
        with redirect_stdout(sys.stderr if arguments.json else sys.stdout):
            paragraph(added.sentence)
            show_remarks(added)
            print("\nNext: valuation record (how good the estimates were).")


def _withdrawal(tables: Tables, arguments: argparse.Namespace) -> None:
    ledger, number = tables.ledger, arguments.number
    if arguments.kind == "offer":
        kept = keeping.keep_withdrawal(tables, ledger.offer(number), arguments.reason)
    else:
        kept = keeping.keep_withdrawal(tables, ledger.sale(number), arguments.reason)
    _show(arguments, kept, f'Next: valuation vehicles "{kept.subject}".')


def _corrected(
    tables: Tables,
    arguments: argparse.Namespace,
    kind: type[OfferRecord] | type[SaleRecord],
    subject: str,
    changes: dict[str, Any],
) -> Kept:
    """What the command line says anew of a record, which must be about the vehicle that it names."""
    record: Any = tables.ledger.record(kind, arguments.corrects)
    if record.subject != subject:
        raise LedgerError(
            f"Cannot correct {kind.noun} {record.id}: it is about '{record.subject}', and '{subject}' was named. Name "
            "the one that is meant."
        )
    told = {name: value for name, value in changes.items() if value is not None}
    return once_confirmed(
        lambda sure: keeping.keep_correction(tables, record, arguments.reason, told, confirmed=sure), arguments.confirm
    )
