"""What the ledger holds of a vehicle for its paper: the answers that its pages show, so that both say the same."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from valuation.answers.given import read_plans
from valuation.answers.kept import kept_build
from valuation.build.terms import Goal
from valuation.errors import SheetError
from valuation.text.language import languages
from valuation.text.rounding import rounded
from valuation.text.toml import read_toml

if TYPE_CHECKING:
    from valuation.answers.vehicle_file import VehicleFile
    from valuation.build.plan import BuildPlan
    from valuation.ledger import DealRecord, Ledger
    from valuation.schema import Schema
    from valuation.sheets.buyer_summary import Seller
    from valuation.sheets.photos import Photo

KINDS = {
    "buyer": "Sheet for the buyer",
    "page": "The same on one page",
    "message": "Message to send",
    "deal": "Deal sheet, private",
    "card": "Field card, private",
}
"""What can be made of a vehicle, by its kind in the ledger."""
FOR_BUYERS = ("buyer", "page", "message")


@dataclass(frozen=True)
class ForBuyer:
    """What is told of paper for a buyer beside the estimate.

    Attributes
    ----------
    kind : str
        "buyer", "page" or "message".
    shop, remark : str
        Who hands it out, and the shop's own words; may be empty.
    seller : Seller
        What the seller adds.
    photos : tuple of int
        Numbers of the ledger's photographs, in their order.
    language : str
        Of the words; empty: the desk's own.
    """

    kind: str
    shop: str
    remark: str
    seller: Seller
    photos: tuple[int, ...] = ()
    language: str = ""


@dataclass(frozen=True)
class DealKept:
    """The newest comparison of paths for a vehicle, with what it was asked for.

    Attributes
    ----------
    plans : list of BuildPlan
    as_of : date
    price : float or None
    goal : Goal or None
    found : mapping
        ``BuildAnswer`` as plain data, as the page shows it.
    """

    plans: list[BuildPlan]
    as_of: dt.date
    price: float | None
    goal: Goal | None
    found: Mapping[str, Any]


def newest_build(ledger: Ledger, subject: str) -> DealRecord | None:
    """The record of the newest comparison of paths for a vehicle.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    """
    return next((deal for deal in reversed(ledger.deals(subject)) if deal.kind == "build"), None)


def deal_kept(ledger: Ledger, deal: DealRecord, schema: Schema) -> DealKept:
    """A comparison of paths with what it was asked for.

    Parameters
    ----------
    ledger : Ledger
    deal : DealRecord
        Of the kind "build".
    schema : Schema
        Of its table.
    """
    kept = kept_build(ledger, deal)
    told = kept.inputs.get("goal")
    return DealKept(
        plans=read_plans(kept.inputs["plans"], schema, steps_needed=False),
        as_of=dt.date.fromisoformat(kept.inputs["as_of"]),
        price=kept.inputs["price"],
        goal=None if told is None else Goal(told["margin_percent"], told["profit"], told["sure_percent"]),
        found=kept.found,
    )


@dataclass(frozen=True)
class PhotoKnown:
    """A photograph of the ledger that may stand on a sheet; ``number`` is that of its first record."""

    number: int
    caption: str


@dataclass(frozen=True)
class SheetMade:
    """A sheet that was made; ``printed`` is the fingerprint that stands on it."""

    id: int
    kind: str
    name: str
    made_on: dt.date
    printed: str


@dataclass(frozen=True)
class PaperOfVehicle:
    """What can be made of a vehicle on paper, with what is known for it, and what was made.

    Attributes
    ----------
    subject, name : str
        The vehicle's key, and what it is called.
    kinds : dict of str to str
        What can be made, by kind, as people call it.
    missing : tuple of str
        What is not there yet, and what to do for it.
    estimate : int or None
        The newest.
    currency : str
    shop, contact : str
        From the shop's settings; may be empty.
    graded_by, engine_number, not_inspected : str
        As on the sheet that was made last; may be empty.
    asking : float or None
        The opening price of the bands last kept, as it is said; printed only where the owner wants it.
    photos : tuple of PhotoKnown
    most_photos : int
        That have room on a sheet.
    languages : tuple of str
        In which a sheet for a buyer can be made.
    made : tuple of SheetMade
        The newest first.
    """

    subject: str
    name: str
    kinds: dict[str, str]
    missing: tuple[str, ...]
    estimate: int | None
    currency: str
    shop: str
    contact: str
    graded_by: str
    engine_number: str
    not_inspected: str
    asking: float | None
    photos: tuple[PhotoKnown, ...]
    most_photos: int
    languages: tuple[str, ...]
    made: tuple[SheetMade, ...]


def shop_on_paper(ledger: Ledger) -> tuple[str, str]:
    """Name and contact of the shop, from its settings; empty where they say none."""
    kept = ledger.shop()
    told = read_toml(kept.text).get("paper", {}) if kept else {}
    return str(told.get("name", "")), str(told.get("contact", ""))


def paper_of(ledger: Ledger, file: VehicleFile) -> PaperOfVehicle:
    """What can be made of a vehicle on paper, and what was made.

    Parameters
    ----------
    ledger : Ledger
    file : VehicleFile
        Of the vehicle.
    """
    from valuation.sheets.photos import MOST_PHOTOS

    shop, contact = shop_on_paper(ledger)
    bands = file.newest_deal("bands")
    ask = None if bands is None else ledger.deal_result(bands.id)["ask"]
    wanted = {"buyer": file.estimate is not None, "deal": bool(file.plans), "card": bool(file.plans)}
    wanted |= dict.fromkeys(FOR_BUYERS, wanted["buyer"])
    missing = []
    if file.estimate is None:
        missing.append("A sheet for a buyer needs an estimate: say what the vehicle is worth first.")
    if not file.plans:
        missing.append("The deal sheet and the field card need a plan.")
    last = _last_seller(file)
    return PaperOfVehicle(
        subject=file.subject,
        name=file.name,
        kinds={kind: name for kind, name in KINDS.items() if wanted[kind]},
        missing=tuple(missing),
        estimate=file.estimate.id if file.estimate else None,
        currency=file.currency,
        shop=shop,
        contact=contact or last.get("contact", ""),
        graded_by=last.get("graded_by", ""),
        engine_number=last.get("engine_number", ""),
        not_inspected="; ".join(last.get("not_inspected", ())),
        asking=None if ask is None else rounded(ask),
        photos=tuple(PhotoKnown(one.first, one.caption) for one in file.photos),
        most_photos=MOST_PHOTOS,
        languages=languages(),
        made=tuple(
            SheetMade(one.id, one.kind, KINDS[one.kind], one.written_at.date(), json.loads(one.inputs)["fingerprint"])
            for one in reversed(file.sheets)
        ),
    )


def _last_seller(file: VehicleFile) -> Mapping[str, Any]:
    """What the seller added on the sheet for a buyer that was made last."""
    kept = next((one for one in reversed(file.sheets) if one.kind in FOR_BUYERS), None)
    if kept is None:
        return {}
    sheet = json.loads(kept.inputs)["sheet"]
    seller: Mapping[str, Any] = sheet.get("sheet", sheet)["seller"]
    return seller


def photos_on_paper(ledger: Ledger, subject: str, numbers: Sequence[int]) -> tuple[Photo, ...]:
    """Photographs of a vehicle as a sheet takes them.

    Parameters
    ----------
    ledger : Ledger
    subject : str
        The vehicle.
    numbers : sequence of int
        Of their first records, in the order in which they are shown.

    Raises
    ------
    SheetError
        There are more than have room, or one is not a photograph of this vehicle.
    """
    from valuation.sheets.photos import MOST_PHOTOS, Photo

    if len(numbers) > MOST_PHOTOS:
        raise SheetError(
            f"Cannot put {len(numbers)} photographs on one sheet: there is room for {MOST_PHOTOS}. Choose the "
            f"{MOST_PHOTOS} that show most."
        )
    known = {one.first: one for one in ledger.photos(subject)}
    strange = [number for number in numbers if number not in known]
    if strange:
        raise SheetError(
            f"Cannot put photograph {strange[0]} on the sheet: '{subject}' has none of that number."
            " Choose among its own."
        )
    chosen = [known[number] for number in numbers]
    return tuple(Photo(one.caption, ledger.content(one.content), one.width, one.height) for one in chosen)
