"""The ledger: an append-only database of tables, estimates, plans, offers and realised sales, and the track record."""

from valuation.ledger.canonical import canonical_json, fingerprint
from valuation.ledger.check import CheckReport, LedgerFault
from valuation.ledger.ledger import Ledger
from valuation.ledger.matching import Pair, SetAside
from valuation.ledger.records import (
    OFFER_ANSWERS,
    SALE_KINDS,
    SHOWN_THINGS,
    DealRecord,
    EstimateRecord,
    ModelRecord,
    OfferRecord,
    PhotoRecord,
    PlanRecord,
    Record,
    SaleRecord,
    SheetRecord,
    ShopRecord,
    ShownRecord,
    TableRecord,
    VehicleRecord,
)

__all__ = [
    "OFFER_ANSWERS",
    "SALE_KINDS",
    "SHOWN_THINGS",
    "CheckReport",
    "DealRecord",
    "EstimateRecord",
    "Ledger",
    "LedgerFault",
    "ModelRecord",
    "OfferRecord",
    "Pair",
    "PhotoRecord",
    "PlanRecord",
    "Record",
    "SaleRecord",
    "SetAside",
    "SheetRecord",
    "ShopRecord",
    "ShownRecord",
    "TableRecord",
    "VehicleRecord",
    "canonical_json",
    "fingerprint",
]
