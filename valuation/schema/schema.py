"""The schema object: attributes in order and the names of the sale columns."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import asdict, dataclass, field
from typing import Any

from valuation.schema.attributes import Attribute, Role
from valuation.text.reading import Reading
from valuation.view import View, Viewed

SALE_COLUMNS = (
    "sale",
    "date",
    "price",
    "outcome",
    "currency",
    "venue",
    "premium",
    "fees",
    "source",
    "arms_length",
    "vehicle",
    "confirmed",
)
"""Columns that describe the sale and not the vehicle; a schema may give each other headers (aliases)."""

OUTCOMES = ("sold", "bid_not_met", "asking")
"""How a price came about: paid, bid without reaching the reserve, or asked without a buyer so far."""

OWN_PURCHASE = ("own purchase", "our purchase", "bought by us", "we bought")
"""Words of a source by which a sale is taken for the shop's own purchase, unless the schema names others."""


@dataclass(frozen=True, repr=False)
class Schema(Viewed):
    """What a table's columns mean.

    Parameters
    ----------
    name, title : str
        Short name and the name shown to people.
    attributes : tuple of Attribute
        In the order in which they are shown.
    sale_aliases : mapping of str to tuple of str
        For each of ``SALE_COLUMNS``, other headers it goes by.
    outcome_aliases : mapping of str to tuple of str
        For each outcome (``sold``, ``bid_not_met``, ``asking``), other words it goes by.
    default_outcome : str
        Outcome of a row whose table has no outcome column at all; empty: the column is required.
    currency : str
        Currency of the estimates (ISO 4217 code or whatever the shop writes); empty: none is assumed.
    rates : mapping of str to float
        Units of ``currency`` per unit of another currency.
    venue_premiums : mapping of str to float
        Buyer's premium in percent of the hammer price for each venue, used where a row gives none of its own.
    venue_fees : mapping of str to float
        Fixed fees that the buyer pays at each venue, in ``currency``, used where a row gives none of its own.
    venue_gaps : mapping of str to float
        How far, in percent and on average, a price lies above a bid that was not met, or below an asking price, at each
        venue where the shop knows it; elsewhere the table tells.
    day_first : bool
        Whether 03/04/2025 is 3 April.
    decimal_mark : {"", ".", ","}
        What stands before decimals where a text alone does not prove it; empty: not told.
    date_required : bool
        Whether a sale without a date is a fault; otherwise a table may do without dates.
    earliest_sale : str
        ISO date before which a sale date is a fault.
    print_sources : tuple of str
        A sale's source is printed for a buyer where it begins with one of these; ``"*"`` prints all, none unless given.
    leave_out : tuple of str
        A sale whose source or venue holds one of these is the shop's own affair and never on a sheet for a buyer.
    left_out : tuple of str
        Headers of columns that are kept and not used, such as remarks; nothing is said about them.
    sheet : str
        The sheet of a workbook that is read, where it has one of that name; else the one that fits best.
    source_text : str
        The TOML text that it was read from, for saving with its comments.
    """

    name: str
    attributes: tuple[Attribute, ...]
    title: str = ""
    sale_aliases: dict[str, tuple[str, ...]] = field(default_factory=dict)
    outcome_aliases: dict[str, tuple[str, ...]] = field(default_factory=dict)
    default_outcome: str = ""
    currency: str = ""
    rates: dict[str, float] = field(default_factory=dict)
    venue_premiums: dict[str, float] = field(default_factory=dict)
    day_first: bool = False
    earliest_sale: str = "1990-01-01"
    source_text: str = ""
    venue_fees: dict[str, float] = field(default_factory=dict)
    venue_gaps: dict[str, float] = field(default_factory=dict)
    date_required: bool = False
    decimal_mark: str = ""
    print_sources: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = OWN_PURCHASE
    left_out: tuple[str, ...] = ()
    sheet: str = ""

    def _view(self) -> View:
        order = "day" if self.day_first else "month"
        money = f"prices in {self.currency}" if self.currency else "no currency named"
        return View(
            title=f"Schema {self.title or self.name}",
            facts=(f"{len(self.attributes)} attributes", money, f"{order} first where a date has two readings"),
            header=("attribute", "kind", "levels", "also called"),
            rows=[
                (
                    one.name,
                    one.role.value,
                    " < ".join(one.level_names) if one.role is Role.ORDINAL else ", ".join(one.level_names),
                    ", ".join(one.aliases),
                )
                for one in self.attributes
            ],
        )

    def attribute(self, name: str) -> Attribute:
        """The attribute of that name; ``KeyError`` when there is none."""
        for attribute in self.attributes:
            if attribute.name == name:
                return attribute
        raise KeyError(name)

    def reading(self, mark: str = "", today: dt.date | None = None) -> Reading:
        """How its texts are read; ``mark`` is the decimal mark that a column proves.

        Parameters
        ----------
        mark : str
            The decimal mark that a column proves.
        today : date or None
            For years of two digits.
        """
        return Reading(mark or self.decimal_mark, self.day_first, today, self.currency, tuple(self.rates))

    @property
    def names(self) -> tuple[str, ...]:
        """Attribute names in order."""
        return tuple(attribute.name for attribute in self.attributes)

    def as_dict(self) -> dict[str, Any]:
        """Plain data for JSON; :func:`valuation.schema.schema_from_dict` gives an equal schema back."""
        data: dict[str, Any] = json.loads(json.dumps(asdict(self)))
        for younger in (
            "decimal_mark",
            "left_out",
            "print_sources",
            "sheet",
        ):  # than the first files: without they stay as they were
            if not data[younger]:
                del data[younger]
        if self.leave_out == OWN_PURCHASE:
            del data["leave_out"]
        return data

    def fingerprint(self) -> str:
        """SHA-256 of the canonical JSON of what the schema says of prices.

        Comments and layout of the file do not count, nor what a sheet may print or where the table stands: no figure
        rests on it.
        """
        data = self.as_dict()
        for name in ("source_text", "print_sources", "leave_out", "sheet"):
            data.pop(name, None)
        text = json.dumps(data, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
        return hashlib.sha256(text.encode("ascii")).hexdigest()
