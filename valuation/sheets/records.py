"""Records: what is kept of a sheet so that it can be made again identically."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping, Sequence
from importlib.metadata import version
from typing import Any, Literal

from valuation.errors import SheetError, shortlist
from valuation.notes import Note
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.deal_sheet import DealSheet
from valuation.sheets.field_card import FieldCard
from valuation.sheets.one_page import Message, OnePage, message_picture, message_text, one_page_html, one_page_pdf
from valuation.sheets.owner_words import notes_for_the_owner
from valuation.sheets.photos import Photo
from valuation.sheets.plain import from_plain, to_plain
from valuation.sheets.seal import Seal
from valuation.text.language import ENGLISH, spoken
from valuation.text.locale import Locale, locale_from

FORMAT = 2
"""Of the record with which a sheet is made again; a change that old records do not fit raises it.

2: a buyer sheet holds what a buyer may see and no more, and the fingerprint counts locale and photographs. Sheets of
format 1, which no release ever wrote, are refused by name."""
Face = Literal["pdf", "html", "txt", "png"]
AnySheet = BuyerSheet | OnePage | Message | DealSheet | FieldCard
KINDS: Mapping[str, type[AnySheet]] = {
    "buyer": BuyerSheet, "page": OnePage, "message": Message, "deal": DealSheet, "card": FieldCard,
}  # fmt: skip
FACES: Mapping[str, tuple[Face, ...]] = {
    "buyer": ("pdf", "html"), "page": ("pdf", "html"), "message": ("txt", "png"), "deal": ("pdf", "html"),
    "card": ("pdf",),
}  # fmt: skip
"""What can be made of each kind, first the file that the ledger notes the fingerprint of."""
FOR_BUYERS: Mapping[str, Callable[[BuyerSheet], AnySheet]] = {
    "buyer": lambda sheet: sheet,
    "page": OnePage,
    "message": Message,
}
"""What may be handed to a buyer, and how it is made of the buyer sheet: none holds anything else."""
_NAMED = {
    "buyer": "buyer sheet", "page": "buyer sheet on one page", "message": "message", "deal": "deal sheet",
    "card": "field card",
}  # fmt: skip
_NAMED_FACES = {
    ("pdf", "html"): "a PDF or HTML file", ("txt", "png"): "a text and a picture",
    ("pdf",): "one page for the printer",
}  # fmt: skip
_ENGINES = ("typst", "vl-convert-python", "jinja2")


def sheet_inputs(
    sheet: AnySheet, locale: Locale, photos: Sequence[Photo] = (), *, in_ledger: bool = False
) -> dict[str, Any]:
    """Everything from which a sheet can be made again, as plain data for the ledger.

    Parameters
    ----------
    sheet : BuyerSheet, DealSheet or FieldCard
    locale : Locale
    photos : sequence of Photo
        Of a sheet for a buyer; kept whole.
    in_ledger : bool
        Whether a ledger keeps it, which the sheet then says.

    Returns
    -------
    dict
        ``format``, ``kind``, ``fingerprint`` (as printed), ``in_ledger``, ``sheet``, ``locale``, ``photos``, ``notes``
        (what its owner should know, in English; not on it), ``engines`` (versions of what draws it; with the same ones
        the bytes are the same, with others only the words and figures).
    """
    kind = next(name for name, made in KINDS.items() if isinstance(sheet, made))
    return {
        "format": FORMAT,
        "kind": kind,
        "fingerprint": Seal.of(sheet, locale, photos).fingerprint,
        "in_ledger": in_ledger,
        "sheet": to_plain(sheet),
        "locale": locale.as_dict(),
        "photos": [
            {
                "caption": photo.caption,
                "width": photo.width,
                "height": photo.height,
                "jpeg": base64.b64encode(photo.jpeg).decode(),
            }
            for photo in photos
        ],
        "notes": _notes(sheet, locale, photos, in_ledger),
        "engines": {name: version(name) for name in _ENGINES},
    }


def _notes(sheet: AnySheet, locale: Locale, photos: Sequence[Photo], in_ledger: bool) -> list[dict[str, str]]:
    if not isinstance(sheet, BuyerSheet | OnePage | Message):
        return []
    with spoken(ENGLISH):
        return [to_plain(note) for note in notes_for_the_owner(sheet, locale, photos, in_ledger=in_ledger)]


def notes_of(inputs: Mapping[str, Any]) -> tuple[Note, ...]:
    """What the owner should know of a recorded sheet; records of older programs hold none."""
    return tuple(from_plain(Note, note) for note in inputs.get("notes", ()))


def sheet_from(inputs: Mapping[str, Any]) -> tuple[AnySheet, Locale, tuple[Photo, ...]]:
    """The sheet, locale and photographs of a record.

    Raises
    ------
    SheetError
        If the record is damaged, changed, of an unknown kind, or from a newer program.
    """
    if inputs.get("format") != FORMAT or inputs.get("kind") not in KINDS:
        raise SheetError(
            f"Cannot make the sheet again: its record is of format {inputs.get('format')!r} and kind "
            f"{inputs.get('kind')!r}; format {FORMAT} of {shortlist(list(KINDS))} is known. Use the program that wrote "
            "it."
        )
    sheet = from_plain(KINDS[inputs["kind"]], inputs.get("sheet"))
    try:
        photos = tuple(
            Photo(entry["caption"], base64.b64decode(entry["jpeg"], validate=True), entry["width"], entry["height"])
            for entry in inputs.get("photos", ())
        )
    except (KeyError, TypeError, binascii.Error) as problem:
        raise SheetError("Cannot make the sheet again: a photograph in its record is damaged.") from problem
    locale = locale_from(inputs.get("locale"))
    if Seal.of(sheet, locale, photos).fingerprint != inputs.get("fingerprint"):
        raise SheetError(
            "Cannot make the sheet again: its record does not agree with its own fingerprint, so it was changed since. "
            "Take the record from a backup."
        )
    return sheet, locale, photos


def draw(
    sheet: AnySheet, locale: Locale, photos: Sequence[Photo] = (), face: Face = "pdf", *, in_ledger: bool = False
) -> bytes:
    """The finished file of a sheet.

    Parameters
    ----------
    sheet : AnySheet
    locale : Locale
    photos : sequence of Photo
        In the order in which they are shown.
    face : Face
        A field card is a PDF only.
    in_ledger : bool
        Whether a ledger keeps it, which the sheet then says.

    Raises
    ------
    SheetError
        If it cannot be set, or has no such face.
    """
    check_face(next(name for name, made in KINDS.items() if isinstance(sheet, made)), face)
    seal = Seal.of(sheet, locale, photos, in_ledger=in_ledger)
    with spoken(locale.language):
        return _drawn(sheet, locale, photos, face, seal)


def check_face(kind: str, face: Face) -> None:
    """Refuse a file that there is none of that kind of sheet.

    Parameters
    ----------
    kind : str
        One of ``KINDS``.
    face : Face

    Raises
    ------
    SheetError
        If there is no such file of it.
    """
    if face not in FACES[kind]:
        raise SheetError(
            f"Cannot make a {_NAMED[kind]} as {face.upper()}: it is {_NAMED_FACES[FACES[kind]]}. Name a file that ends "
            f"in .{FACES[kind][0]}."
        )


def _drawn(sheet: AnySheet, locale: Locale, photos: Sequence[Photo], face: Face, seal: Seal) -> bytes:
    """The file, in the language that is spoken; modules that draw are loaded where they are needed."""
    if isinstance(sheet, BuyerSheet):
        from valuation.sheets.buyer_faces import buyer_html, buyer_pdf

        if face == "pdf":
            return buyer_pdf(sheet, locale, photos, seal)
        return buyer_html(sheet, locale, photos, seal).encode()
    if isinstance(sheet, OnePage):
        if face == "pdf":
            return one_page_pdf(sheet, locale, photos, seal)[0]
        return one_page_html(sheet, locale, photos, seal).encode()
    if isinstance(sheet, Message):
        if face == "txt":
            return message_text(sheet, locale, seal).encode()
        return message_picture(sheet, locale, photos, seal)
    if isinstance(sheet, DealSheet):
        from valuation.sheets.deal_faces import deal_html, deal_pdf

        return deal_pdf(sheet, locale, seal) if face == "pdf" else deal_html(sheet, locale, seal).encode()
    from valuation.sheets.field_card import card_pdf

    return card_pdf(sheet, locale, seal)


def make_again(inputs: Mapping[str, Any], face: Face = "pdf") -> bytes:
    """The finished file from its record.

    Parameters
    ----------
    inputs : mapping
        As :func:`sheet_inputs` gave them.
    face : Face
        A field card is a PDF only.

    Raises
    ------
    SheetError
        For the reasons of :func:`sheet_from` and :func:`draw`.
    """
    sheet, locale, photos = sheet_from(inputs)
    return draw(sheet, locale, photos, face, in_ledger=bool(inputs.get("in_ledger")))
