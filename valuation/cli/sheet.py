"""``valuation sheet``: paper for a buyer, the deal sheet, the field card, the workbook; one again, and one verified."""

from __future__ import annotations

import argparse
import datetime as dt
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from valuation.answers.given import amount_in
from valuation.build.figures import about
from valuation.cli.exits import DONE, FAULTS_FOUND
from valuation.cli.inputs import model_for, vehicle_of
from valuation.cli.progress import progress
from valuation.cli.show import paragraph
from valuation.day import day_of
from valuation.errors import SheetError
from valuation.files import write_file
from valuation.sheets.records import FOR_BUYERS, AnySheet, Face, check_face, draw, make_again, notes_of, sheet_inputs
from valuation.text.files import read_text_file
from valuation.text.json import read_json
from valuation.text.language import ENGLISH, retold, spoken, written
from valuation.text.locale import Locale, locale_from
from valuation.text.spelling import counted

if TYPE_CHECKING:
    from valuation.sheets.photos import Photo

FACES: dict[str, Face] = {".pdf": "pdf", ".html": "html", ".htm": "html", ".txt": "txt", ".png": "png"}


_NAMED = {"buyer": "the buyer sheet", "page": "the buyer sheet on one page", "message": "the message"}


def sheet(arguments: argparse.Namespace) -> int:
    """Make one sheet, or verify one."""
    if arguments.kind == "verify":
        return _verify(arguments)
    makers = {
        "buyer": _buyer,
        "page": _buyer,
        "message": _buyer,
        "deal": _deal,
        "card": _card,
        "workbook": _workbook,
        "again": _again,
    }
    makers[arguments.kind](arguments)
    return DONE


def _buyer(arguments: argparse.Namespace) -> None:
    from valuation.answers.explain import explain
    from valuation.evidence import left_out_check
    from valuation.sheets.buyer import buyer_sheet
    from valuation.sheets.buyer_summary import Seller
    from valuation.sheets.photos import read_photos

    face, locale = _face(arguments.out, arguments.kind), _locale(arguments)
    photos = read_photos(arguments.photo, arguments.caption)
    told = vehicle_of(arguments)
    model = model_for(arguments, near=told.file)
    vehicle = told.vehicle(model)
    with progress("Gathering the evidence"), spoken(ENGLISH):  # what is recorded is English; drawing it says it again
        found = explain(model, vehicle, day_of(arguments.as_of), arguments.coverage)
        tried = left_out_check(model, arguments.coverage) if model.comparables is not None else None
    seller = Seller(
        asking_price=amount_in(arguments.asking_price, model.currency, "--asking-price"),
        engine_number=arguments.engine_number,
        graded_by=arguments.graded_by,
        graded_on=arguments.graded_on,
        not_inspected=tuple(arguments.not_inspected),
        contact=arguments.contact,
    )
    with spoken(ENGLISH):
        whole = buyer_sheet(
            model,
            found,
            tried=tried,
            shop=arguments.shop,
            remark=arguments.remark,
            assumptions=tuple(arguments.assumption),
            seller=seller,
        )
    made = FOR_BUYERS[arguments.kind](whole)
    what = f"{_NAMED[arguments.kind]} of {whole.vehicle} at about {about(found.median)}"
    _finish(arguments, made, what, locale, face, whole.vehicle, photos)
    if arguments.kind == "message" and face == "txt":
        beside = str(Path(arguments.out).with_suffix(".png"))
        picture = draw(made, locale, photos, "png", in_ledger=bool(arguments.ledger))
        _write(beside, picture, "its picture")


def _deal(arguments: argparse.Namespace) -> None:
    from valuation.build.plan_file import read_plan
    from valuation.build.under_way import with_progress
    from valuation.sell.offer_log import read_offer_log
    from valuation.sheets.deal_sheet import deal_sheet, read_spent

    face, locale = _face(arguments.out, arguments.kind), _locale(arguments)
    model = model_for(arguments, near=arguments.plans[0])
    read = [read_plan(file, model.schema) for file in arguments.plans]
    plans = with_progress(read, arguments.bought, arguments.done, model.currency)
    with progress("Working out the deal") as state:
        made = deal_sheet(
            model,
            plans,
            day_of(arguments.as_of),
            price=amount_in(arguments.price, model.currency, "--price"),
            spent=read_spent(arguments.spent, model.currency),
            log=read_offer_log(arguments.offers) if arguments.offers else None,
            shop=arguments.shop,
            tell=lambda what, done, parts: state.tell(done, parts),
        )
    what = f"the deal sheet of {counted(len(plans), 'plan')}"
    _finish(arguments, made, what, locale, face, made.vehicle)


def _card(arguments: argparse.Namespace) -> None:
    from valuation.answers.given import model_years
    from valuation.build.plan_file import read_plan
    from valuation.sheets.field_card import field_card

    face, locale = _face(arguments.out, arguments.kind), _locale(arguments)
    model = model_for(arguments, near=arguments.plans[0])
    plans = [read_plan(file, model.schema) for file in arguments.plans]
    years = model_years(arguments.years) if arguments.years else None
    with progress("Working out the card"):
        made = field_card(model, plans, day_of(arguments.as_of), years=years, shop=arguments.shop)
    what = f"the field card of {counted(len(plans), 'plan')}"
    _finish(arguments, made, what, locale, face)


def _workbook(arguments: argparse.Namespace) -> None:
    from valuation.answers.explain import explain
    from valuation.answers.paths import paths as ways
    from valuation.build.plan_file import read_plan
    from valuation.schema import read_vehicle
    from valuation.sheets.workbook import paths_workbook, workbook

    model = model_for(arguments, near=arguments.vehicle or (arguments.plan[0] if arguments.plan else None))
    if model.comparables is None:
        raise SheetError(
            "Cannot write the workbook: a saved model holds no sales. Name the table with --comparables TABLE."
        )
    day = day_of(arguments.as_of)
    with progress("Gathering the workbook"):
        found = explain(model, read_vehicle(arguments.vehicle, model.schema), day) if arguments.vehicle else None
        plans = [read_plan(file, model.schema) for file in arguments.plan]
        price = amount_in(arguments.price, model.currency, "--price")
        paths = ways(model, plans, day, price=price) if plans else None
        content = workbook(model.comparables, found, arguments.paper or "a4")
    _write(arguments.out, content, f"the workbook of {model.table_name}", day)
    if paths is not None:
        out = Path(arguments.out)
        beside = str(out.with_name(f"{out.stem}-private{out.suffix}"))
        _write(beside, paths_workbook(paths, arguments.paper or "a4"), "the paths, private: not for the buyer", day)


def _again(arguments: argparse.Namespace) -> None:
    try:
        inputs = read_json(read_text_file(arguments.record))
    except ValueError as problem:
        raise SheetError(
            f"Cannot make the sheet again: the record {arguments.record} cannot be read ({problem}). Name a file that "
            "'--record' wrote."
        ) from problem
    if not isinstance(inputs, dict):
        raise SheetError(f"Cannot make the sheet again: {arguments.record} is not the record of a sheet.")
    content = make_again(inputs, _face(arguments.out))
    _write(arguments.out, content, f"the same sheet as {arguments.record} says")


def _verify(arguments: argparse.Namespace) -> int:
    from valuation.ledger import Ledger
    from valuation.sheets.verify import verify_file, verify_printed

    with Ledger.open(arguments.ledger) as book:
        records = book.sheets()
    file = Path(arguments.sheet)
    try:
        found = verify_file(file.read_bytes(), records) if file.exists() else verify_printed(arguments.sheet, records)
    except OSError as problem:
        raise SheetError(f"Cannot read {file}: {problem.strerror}. Name a PDF or HTML file.") from problem
    print(found.words)
    return DONE if found.genuine else FAULTS_FOUND


def _finish(
    arguments: argparse.Namespace,
    made: AnySheet,
    what: str,
    locale: Locale,
    face: Face,
    subject: str = "",
    photos: Sequence[Photo] = (),
) -> None:
    """Record the sheet where a ledger is named, then write the file: it says that it is kept, so it is kept first."""
    in_ledger = bool(arguments.ledger)
    content = draw(made, locale, photos, face, in_ledger=in_ledger)
    inputs = sheet_inputs(made, locale, photos, in_ledger=in_ledger)
    if in_ledger:
        from valuation.ledger import Ledger, fingerprint

        with Ledger.open(arguments.ledger) as book:
            kept = book.add_sheet(
                kind=inputs["kind"],
                file_name=Path(arguments.out).name,
                fingerprint=fingerprint(content),
                inputs=inputs,
                subject=subject,
            )
        print(f"Recorded in {arguments.ledger} as sheet {kept.id}, fingerprint {inputs['fingerprint'][:16]}.")
    _write(arguments.out, content, what, day_of(arguments.as_of))
    for note in notes_of(inputs):
        paragraph(retold(note.text))
    if arguments.record:
        record = json.dumps(inputs, sort_keys=True, indent=1).encode()
        _write(arguments.record, record, "what makes the sheet again")


def _locale(arguments: argparse.Namespace) -> Locale:
    """The locale named, on the paper named."""
    locale = locale_from(arguments.locale)
    if getattr(arguments, "language", None):
        locale = locale.in_language(arguments.language)
    return locale_from({**locale.as_dict(), "paper": arguments.paper}) if arguments.paper else locale


def _face(file: str, kind: str = "") -> Face:
    face = FACES.get(Path(file).suffix.casefold())
    if face is None:
        raise SheetError(f"Cannot tell what to make of {file!r}: name a file that ends in .pdf, .html or .txt.")
    if kind:
        check_face(kind, face)
    return face


def _write(file: str, content: bytes, what: str, day: dt.date | None = None) -> None:
    try:
        write_file(file, content)
    except OSError as problem:
        raise SheetError(f"Cannot write {file}: {problem.strerror}. Name a folder that is there.") from problem
    paragraph(f"Wrote {file}: {what}{'' if day is None else f', as of {written(day)}'}.")
