"""How a vehicle is sold: what the shop and the vehicle's own life tell of it, and what counts as nothing."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from valuation.answers.bands import with_own_talks
from valuation.answers.given import read_plans
from valuation.answers.so_far import as_it_stands, plan_followed
from valuation.answers.vehicle_file import vehicle_file
from valuation.build.figures import named
from valuation.build.terms import SaleTerms
from valuation.ledger.finished_talks import finished_talks
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.answers.kept import KeptBands
    from valuation.answers.tables import Tables
    from valuation.build.plan import BuildPlan
    from valuation.ledger import EstimateRecord, Ledger
    from valuation.schema import Schema

SALE_TERMS = (
    "offers_per_month", "weeks_to_sell", "fee_percent", "fees", "reach_percent", "auction_fee_percent",
    "auction_premium_percent", "auction_bidders", "trade_under_percent", "consignment_fee_percent",
)  # fmt: skip
"""Terms of the sale that are told of a vehicle as it stands."""

LEARNED = ("settle_under_ask_percent", "buyers_lost_percent")
"""Terms that the shop's own talks teach: kept with the bands, so that these are made again as they were."""

_MONEY_UNTOLD = {"put_in": "what you have put in", "holding_per_week": "holding", "fee_percent": "a seller's fee",
                 "fees": "other costs of selling"}  # fmt: skip
"""What counts as nothing where it is not told, as a sentence names it."""


@dataclass(frozen=True)
class TermsKnown:
    """What fills the form of a sale.

    Attributes
    ----------
    values : dict of str to str
        By the names of the fields, as one would type them; empty where nothing is known.
    deadline : str
        ISO day, or empty.
    as_nothing : str
        What is counted as nothing since it was not told, as one sentence; empty where all was told.
    """

    values: Mapping[str, str]
    deadline: str
    as_nothing: str


def terms_known(kept: KeptBands | None, shop: Mapping[str, Any], outlay: float | None) -> TermsKnown:
    """The terms of a sale as they were last told, else by the shop's settings, else as they usually are.

    Parameters
    ----------
    kept : KeptBands or None
        The price as it was last set.
    shop : mapping
        A plan as data, with what the shop's settings say.
    outlay : float or None
        All that went into the vehicle so far; it goes before what was typed for that.
    """
    usual, sale, own = SaleTerms(), shop.get("sale", {}), shop.get("shop", {})
    values = {name: _typed(sale.get(name, _usual(usual, name))) for name in SALE_TERMS}
    values |= {"holding_per_week": _typed(own.get("holding_per_week")), "put_in": ""}
    deadline = ""
    if kept is not None:
        values |= {name: text for name, text in kept.inputs.get("form", {}).items() if name in values}
        deadline = kept.inputs.get("deadline", "")
    if outlay is not None:
        values["put_in"] = f"{outlay:.0f}"
    return TermsKnown(values, deadline, _as_nothing(values) if kept is not None else "")


def sold_as_it_stands(
    ledger: Ledger,
    schema: Schema,
    estimate: EstimateRecord,
    terms: Mapping[str, float | None],
    deadline: dt.date | None,
    shop: Mapping[str, Any] | None = None,
) -> tuple[dict[str, Any], BuildPlan]:
    """A plan without steps for a vehicle of the ledger, sold under the shop's terms and what its own talks teach.

    Parameters
    ----------
    ledger : Ledger
        With the finished talks.
    schema : Schema
        Of the estimate's table.
    estimate : EstimateRecord
        Of the vehicle.
    terms : mapping of str to float or None
        Figures of the sale by their names in a plan, and ``holding_per_week``; what is None is left to the shop.
    deadline : date or None
        By which it must be sold.
    shop : mapping or None
        A plan as data, with what the shop's settings say.

    Returns
    -------
    dict
        The plan as data, what the talks teach written in, so that it can be read again as it was.
    BuildPlan
    """
    base = shop or {}
    sale = {**base.get("sale", {}), **{name: terms[name] for name in SALE_TERMS if terms[name] is not None}}
    if deadline is not None:
        sale["deadline"] = deadline.isoformat()
    plan = {**base, **bare(estimate.subject, json.loads(estimate.vehicle), estimate.currency), "sale": sale}
    if terms["holding_per_week"] is not None:
        plan["shop"] = {**base.get("shop", {}), "holding_per_week": terms["holding_per_week"]}
    (read,) = read_plans([plan], schema, steps_needed=False)
    read = with_own_talks(read, finished_talks(ledger))
    sale |= {name: getattr(read.sale, name) for name in LEARNED}
    return plan, read


def bare(subject: str, vehicle: Mapping[str, Any], currency: str) -> dict[str, Any]:
    """A plan without steps as data.

    Parameters
    ----------
    subject : str
        The vehicle's key.
    vehicle : mapping
        Its attributes.
    currency : str
        May be empty.
    """
    plan: dict[str, Any] = {"name": subject[:120], "vehicle": dict(vehicle)}
    return {**plan, "currency": currency} if currency else plan


def estimate_to_sell_by(tables: Tables, subject: str) -> EstimateRecord | None:
    """The newest estimate of a vehicle, unless work on it was finished since: then a new one of it as it stands is due.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.
    """
    file = vehicle_file(tables, subject)
    plan, newest = plan_followed(tables, file), file.estimate
    if newest is None or plan is None or plan.progress is None:
        return newest
    since = [one for one in plan.progress.done if one.on > newest.as_of]
    same = json.loads(newest.vehicle) == plain(as_it_stands(tables, subject).kept())
    return None if since and not same else newest


def _as_nothing(values: Mapping[str, str]) -> str:
    untold = [words for name, words in _MONEY_UNTOLD.items() if values.get(name, "").strip() in ("", "0")]
    return f"Counted as nothing, since not told: {named(untold)}." if untold else ""


def _usual(usual: SaleTerms, name: str) -> object:
    value = getattr(usual, name)
    return value.likely if name == "weeks_to_sell" else value if value else None


def _typed(value: object) -> str:
    """A figure as one would type it; a range of three is left to the shop's settings."""
    return f"{value:g}" if isinstance(value, int | float) else ""
