"""``valuation sheet``: the buyer sheet, the deal sheet, the field card, the workbook, and any of them again."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from valuation.cli.exits import DONE
from valuation.cli.inputs import amount_in, as_of_day, model_for
from valuation.cli.progress import progress
from valuation.errors import SheetError
from valuation.files import write_file
from valuation.sheets.records import AnySheet, Face, draw, make_again, sheet_inputs
from valuation.text.files import read_text_file
from valuation.text.json import read_json
from valuation.text.locale import Locale, locale_from

FACES: dict[str, Face] = {".pdf": "pdf", ".html": "html", ".htm": "html"}


def sheet(words: argparse.Namespace) -> int:
    """Make one sheet."""
    makers = {"buyer": _buyer, "deal": _deal, "card": _card, "workbook": _workbook, "again": _again}
    makers[words.kind](words)
    return DONE


def _buyer(words: argparse.Namespace) -> None:
    from valuation.evidence import evidence, left_out_check
    from valuation.schema import read_vehicle
    from valuation.sheets.buyer import buyer_sheet
    from valuation.sheets.photos import read_photos

    face, locale = _face(words.out), _locale(words)
    photos = read_photos(words.photo, words.caption)
    model = model_for(words, near=words.vehicle)
    vehicle = read_vehicle(words.vehicle, model.schema)
    with progress("Gathering the evidence"):
        found = evidence(model, vehicle, as_of_day(words), words.coverage)
        tried = left_out_check(model, words.coverage) if model.comparables is not None else None
    made = buyer_sheet(
        model, found, tried=tried, shop=words.shop, remark=words.remark, assumptions=tuple(words.assumption)
    )
    _finish(words, made, locale, draw(made, locale, photos, face), sheet_inputs(made, locale, photos), made.vehicle)


def _deal(words: argparse.Namespace) -> None:
    from valuation.build.plan_file import read_plan
    from valuation.sell.offer_log import read_offer_log
    from valuation.sheets.deal_sheet import deal_sheet, read_spent

    face, locale = _face(words.out), _locale(words)
    model = model_for(words, near=words.plans[0])
    plans = [read_plan(file, model.schema) for file in words.plans]
    with progress("Working out the deal") as state:
        made = deal_sheet(
            model,
            plans,
            as_of_day(words),
            price=amount_in(words.price, model.currency, "--price"),
            spent=read_spent(words.spent, model.currency),
            log=read_offer_log(words.offers) if words.offers else None,
            shop=words.shop,
            tell=lambda what, done, parts: state.tell(done, parts),
        )
    _finish(words, made, locale, draw(made, locale, face=face), sheet_inputs(made, locale), made.vehicle)


def _card(words: argparse.Namespace) -> None:
    from valuation.build.plan_file import read_plan
    from valuation.cli.deal import years_of
    from valuation.sheets.field_card import field_card

    face, locale = _face(words.out), _locale(words)
    model = model_for(words, near=words.plans[0])
    plans = [read_plan(file, model.schema) for file in words.plans]
    years = years_of(words.years) if words.years else None
    with progress("Working out the card"):
        made = field_card(model, plans, as_of_day(words), years=years, shop=words.shop)
    _finish(words, made, locale, draw(made, locale, face=face), sheet_inputs(made, locale), "")


def _workbook(words: argparse.Namespace) -> None:
    from valuation.answers.paths import paths as ways
    from valuation.build.plan_file import read_plan
    from valuation.evidence import evidence
    from valuation.schema import read_vehicle
    from valuation.sheets.workbook import workbook

    model = model_for(words, near=words.vehicle or (words.plan[0] if words.plan else None))
    if model.comparables is None:
        raise SheetError(
            "Cannot write the workbook: a saved model holds no sales. Name the table with --comparables TABLE."
        )
    day = as_of_day(words)
    with progress("Gathering the workbook"):
        found = evidence(model, read_vehicle(words.vehicle, model.schema), day) if words.vehicle else None
        plans = [read_plan(file, model.schema) for file in words.plan]
        price = amount_in(words.price, model.currency, "--price")
        paths = ways(model, plans, day, price=price) if plans else None
        content = workbook(model.comparables, found, paths)
    _write(words.out, content)


def _again(words: argparse.Namespace) -> None:
    try:
        inputs = read_json(read_text_file(words.record))
    except ValueError as problem:
        raise SheetError(
            f"Cannot make the sheet again: the record {words.record} cannot be read ({problem}). Name a file that "
            "'--record' wrote."
        ) from problem
    if not isinstance(inputs, dict):
        raise SheetError(f"Cannot make the sheet again: {words.record} is no record of a sheet.")
    _write(words.out, make_again(inputs, _face(words.out)))


def _finish(
    words: argparse.Namespace, made: AnySheet, locale: Locale, content: bytes, inputs: dict[str, Any], subject: str
) -> None:
    """Write the file and its records."""
    _write(words.out, content)
    if words.record:
        _write(words.record, json.dumps(inputs, sort_keys=True, indent=1).encode())
    if words.ledger:
        from valuation.ledger import Ledger, fingerprint

        with Ledger.open(words.ledger) as book:
            kept = book.add_sheet(
                kind=inputs["kind"],
                file_name=Path(words.out).name,
                fingerprint=fingerprint(content),
                inputs=inputs,
                subject=subject,
            )
        print(f"Recorded in {words.ledger} as sheet {kept.id}, fingerprint {made.fingerprint[:16]}.")


def _locale(words: argparse.Namespace) -> Locale:
    """The locale named, on the paper named."""
    locale = locale_from(words.locale)
    return locale_from({**locale.as_dict(), "paper": words.paper}) if words.paper else locale


def _face(file: str) -> Face:
    face = FACES.get(Path(file).suffix.casefold())
    if face is None:
        raise SheetError(f"Cannot tell what to make of {file!r}: name a file that ends in .pdf or .html.")
    return face


def _write(file: str, content: bytes) -> None:
    try:
        write_file(file, content)
    except OSError as problem:
        raise SheetError(f"Cannot write {file}: {problem.strerror}. Name a folder that is there.") from problem
    print(f"Wrote {file}.")
