"""The ledger: an append-only database of tables, estimates, plans, offers and realised sales, and the track record."""

from valuation.ledger.canonical import canonical_json, fingerprint
from valuation.ledger.check import CheckReport, LedgerFault
from valuation.ledger.ledger import Ledger
from valuation.ledger.matching import Pair, SetAside
from valuation.ledger.records import (
    OFFER_ANSWERS,
    SALE_KINDS,
    DealRecord,
    EstimateRecord,
    ModelRecord,
    OfferRecord,
    PlanRecord,
    Record,
    SaleRecord,
    SheetRecord,
    TableRecord,
)

__all__ = [
    "OFFER_ANSWERS",
    "SALE_KINDS",
    "CheckReport",
    "DealRecord",
    "EstimateRecord",
    "Ledger",
    "LedgerFault",
    "ModelRecord",
    "OfferRecord",
    "Pair",
    "PlanRecord",
    "Record",
    "SaleRecord",
    "SetAside",
    "SheetRecord",
    "TableRecord",
    "canonical_json",
    "fingerprint",
]
