"""The records of the ledger, one frozen class for each kind; the database's columns follow from their fields."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from typing import Annotated, ClassVar, Self

from valuation.ledger.values import (
    Content,
    Count,
    Day,
    Digest,
    Flag,
    JsonText,
    Label,
    Money,
    Share,
    Text,
    one_of,
    reference,
)

OFFER_ANSWERS = ("", "accept", "counter", "hold", "decline")
"""What was answered to an offer; empty while it is open."""
SALE_KINDS = ("private", "auction", "dealer", "other")
"""How a realised sale came about."""
SHOWN_THINGS = ("vehicle", "table", "plan")
"""What may be called otherwise than its key, and put away."""


@dataclass(frozen=True, kw_only=True)
class Record:
    """What every record has beside its own fields.

    Attributes
    ----------
    id : int
        Number within its kind, from 1 up without a gap.
    written_at : datetime
        When it was written, with the offset of the clock that wrote it.
    corrects : int or None
        Number of the record of the same kind that this one corrects.
    reason : str
        Why it was corrected or withdrawn; empty for a first record.
    withdrawn : bool
        Whether the chain ends here: the thing recorded did not happen.
    seal : str
        SHA-256 over this record and the seal of the one before it, so that a changed, removed or slipped-in record
        shows.
    history : tuple of Record
        The records that this one corrects, oldest first, each without a history of its own.
    """

    stored_in: ClassVar[str]
    noun: ClassVar[str]

    id: int
    written_at: datetime
    corrects: int | None
    reason: Text
    withdrawn: Flag
    seal: str
    history: tuple[Self, ...] = ()

    @property
    def first(self) -> int:
        """Number of the record that began the chain; it stays whatever is corrected."""
        return (self.history or (self,))[0].id

    @classmethod
    def own_fields(cls) -> tuple[str, ...]:
        """Names of the fields that this kind adds to those of every record, in order."""
        common = {field.name for field in fields(Record)}
        return tuple(field.name for field in fields(cls) if field.name not in common)


@dataclass(frozen=True, kw_only=True)
class TableRecord(Record):
    """One version of a table of comparables.

    Attributes
    ----------
    name : str
        The shop's name for the table; its versions share it.
    version : int
        From 1 up within the name.
    schema : str
        The schema that it was read with, as canonical JSON.
    source_name : str
        File name that it came by.
    source : str
        Fingerprint of the original file's bytes, which the ledger keeps.
    fingerprint : str
        Fingerprint of the table's canonical content, as the comparables room gives it.
    rows, faults : int
        Data rows in the file and faults found in them.
    """

    stored_in: ClassVar[str] = "table_versions"
    noun: ClassVar[str] = "table"

    name: Label
    version: Count
    schema: JsonText
    source_name: Text
    source: Content
    fingerprint: Label
    rows: Count
    faults: Count


@dataclass(frozen=True, kw_only=True)
class ModelRecord(Record):
    """A fitted model.

    Attributes
    ----------
    table_id : int
        The table version that it was fitted to.
    fingerprint : str
        Fingerprint of the saved model's text, which the ledger keeps.
    """

    stored_in: ClassVar[str] = "models"
    noun: ClassVar[str] = "model"

    table_id: Annotated[int, reference("table_versions")]
    fingerprint: Content


@dataclass(frozen=True, kw_only=True)
class EstimateRecord(Record):
    """An estimate with everything that is needed to repeat it.

    Attributes
    ----------
    subject : str
        The shop's name for the vehicle.
    vehicle : str
        The vehicle's attributes as canonical JSON.
    as_of : date
        The date on which the estimate holds.
    model_id : int
        The model that made it, and through it the table version.
    coverage : float
        Stated coverage of the prediction interval, a share.
    currency : str
        Currency of the money; empty when the table names none.
    median : float
        The estimate, money.
    low, high : float or None
        Ends of the prediction interval, money; ``None`` where that side is open.
    settings : str
        What else the estimate depends on (options, versions), as canonical JSON.
    summary : str
        Fingerprint of the whole summary as canonical JSON, which the ledger keeps.
    """

    stored_in: ClassVar[str] = "estimates"
    noun: ClassVar[str] = "estimate"

    subject: Label
    vehicle: JsonText
    as_of: Day
    model_id: Annotated[int, reference("models")]
    coverage: Share
    currency: Text
    median: Money
    low: Money | None
    high: Money | None
    settings: JsonText
    summary: Content


@dataclass(frozen=True, kw_only=True)
class PlanRecord(Record):
    """A build plan: the text of its file.

    Attributes
    ----------
    subject, name : str
        The vehicle that it is for, and the plan's own name.
    text : str
        The TOML text, letter for letter.
    """

    stored_in: ClassVar[str] = "plans"
    noun: ClassVar[str] = "plan"

    subject: Label
    name: Label
    text: Text


@dataclass(frozen=True, kw_only=True)
class DealRecord(Record):
    """A result of the deal room: paths, steps, bands or the like.

    Attributes
    ----------
    subject, kind : str
        The vehicle, and what was asked (for example ``paths``).
    plan_id, model_id : int or None
        The plan and the model it rests on, where there is one.
    inputs : str
        Everything else that it was computed from, as canonical JSON.
    result : str
        Fingerprint of the result as canonical JSON, which the ledger keeps.
    """

    stored_in: ClassVar[str] = "deals"
    noun: ClassVar[str] = "deal result"

    subject: Label
    kind: Label
    plan_id: Annotated[int, reference("plans")] | None
    model_id: Annotated[int, reference("models")] | None
    inputs: JsonText
    result: Content


@dataclass(frozen=True, kw_only=True)
class OfferRecord(Record):
    """An offer made by a buyer, and the answer given.

    Attributes
    ----------
    subject : str
        The vehicle.
    plan_id, estimate_id : int or None
        The plan and the estimate it belongs to, where there is one.
    amount : float
        The offer, money in ``currency``.
    offered_on : date
        When it was made.
    who : str
        Who made it, in the shop's own words; may be empty.
    answer : str
        One of ``OFFER_ANSWERS``.
    counter : float or None
        The price named in return, with the answer ``counter`` only.
    remark : str
        Anything else.
    """

    stored_in: ClassVar[str] = "offers"
    noun: ClassVar[str] = "offer"

    subject: Label
    plan_id: Annotated[int, reference("plans")] | None
    estimate_id: Annotated[int, reference("estimates")] | None
    amount: Money
    currency: Text
    offered_on: Day
    who: Text
    answer: Annotated[str, one_of(*OFFER_ANSWERS)]
    counter: Money | None
    remark: Text


@dataclass(frozen=True, kw_only=True)
class SaleRecord(Record):
    """A realised sale.

    Attributes
    ----------
    subject : str
        The vehicle.
    estimate_id : int
        An estimate of the vehicle as it was sold; it says which estimates the sale may be set against.
    price : float
        Buyer-pays price before tax, money in ``currency``.
    sold_on : date
        Day of the sale.
    kind : str
        One of ``SALE_KINDS``.
    arms_length : bool
        False for a sale to family, in distress and the like: it says nothing about the market.
    remark : str
        Anything else.
    """

    stored_in: ClassVar[str] = "sales"
    noun: ClassVar[str] = "sale"

    subject: Label
    estimate_id: Annotated[int, reference("estimates")]
    price: Money
    currency: Text
    sold_on: Day
    kind: Annotated[str, one_of(*SALE_KINDS)]
    arms_length: Flag
    remark: Text


@dataclass(frozen=True, kw_only=True)
class SheetRecord(Record):
    """A sheet that was made.

    Attributes
    ----------
    kind : str
        Which sheet (for example ``buyer``).
    subject : str
        The vehicle; empty for a sheet about none.
    estimate_id, deal_id : int or None
        What it shows.
    file_name, fingerprint : str
        Name and fingerprint of the finished file.
    inputs : str
        Everything else that is needed to make it again, as canonical JSON.
    """

    stored_in: ClassVar[str] = "sheets"
    noun: ClassVar[str] = "sheet"

    kind: Label
    subject: Text
    estimate_id: Annotated[int, reference("estimates")] | None
    deal_id: Annotated[int, reference("deals")] | None
    file_name: Text
    fingerprint: Digest
    inputs: JsonText


@dataclass(frozen=True, kw_only=True)
class VehicleRecord(Record):
    """A vehicle as the shop has it: what it was when it was found, and when it was bought and offered.

    Attributes
    ----------
    subject : str
        The vehicle's key, under which all about it is filed; it never changes.
    number : str
        Chassis number or the like; may be empty.
    found : str
        The attributes as found, as canonical JSON.
    asked : float or None
        What was asked for it, money in ``currency``.
    currency : str
        May be empty.
    found_on : date or None
    bought_for : float or None
        Money in ``currency``.
    bought_on, for_sale_on : date or None
        Empty while it is not bought, or not for sale.
    remark : str
        Anything else.
    """

    stored_in: ClassVar[str] = "vehicles"
    noun: ClassVar[str] = "vehicle"

    subject: Label
    number: Text
    found: JsonText
    asked: Money | None
    currency: Text
    found_on: Day | None
    bought_for: Money | None
    bought_on: Day | None
    for_sale_on: Day | None
    remark: Text


@dataclass(frozen=True, kw_only=True)
class ShownRecord(Record):
    """What a vehicle, table or plan is called, and whether it is put away.

    Attributes
    ----------
    thing : str
        One of ``SHOWN_THINGS``.
    key : str
        Of a vehicle its subject, of a table its name in the ledger, of a plan the subject and its name, a line each.
    name : str
        What it is called.
    archived : bool
        Whether lists leave it out.
    """

    stored_in: ClassVar[str] = "shown"
    noun: ClassVar[str] = "shown name"

    thing: Annotated[str, one_of(*SHOWN_THINGS)]
    key: Label
    name: Label
    archived: Flag


@dataclass(frozen=True, kw_only=True)
class PhotoRecord(Record):
    """A photograph of a vehicle.

    Attributes
    ----------
    subject : str
        The vehicle.
    content : str
        Fingerprint of the JPEG, which the ledger keeps.
    caption : str
        May be empty.
    width, height : int
        Pixels.
    """

    stored_in: ClassVar[str] = "photographs"
    noun: ClassVar[str] = "photograph"

    subject: Label
    content: Content
    caption: Text
    width: Count
    height: Count


@dataclass(frozen=True, kw_only=True)
class ShopRecord(Record):
    """The shop's settings: one chain, the newest counts.

    Attributes
    ----------
    text : str
        The TOML text, letter for letter.
    """

    stored_in: ClassVar[str] = "shop_settings"
    noun: ClassVar[str] = "shop setting"

    text: Text


KINDS: tuple[type[Record], ...] = (
    TableRecord,
    ModelRecord,
    EstimateRecord,
    PlanRecord,
    DealRecord,
    OfferRecord,
    SaleRecord,
    SheetRecord,
    VehicleRecord,
    ShownRecord,
    PhotoRecord,
    ShopRecord,
)
"""Every kind, each after those that it refers to."""
