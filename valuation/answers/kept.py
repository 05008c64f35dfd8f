"""What the ledger keeps of a deal: answers with what they were computed from, and the talks about a vehicle."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from valuation.answers.build import BuildAnswer
from valuation.answers.given import read_plans
from valuation.answers.offer import offer as answer
from valuation.build.figures import money
from valuation.build.plan import BuildPlan
from valuation.build.terms import Goal, SaleTerms
from valuation.day import day_of
from valuation.errors import UnlikelyError
from valuation.ledger import DealRecord, EstimateRecord, Ledger, OfferRecord, SaleRecord, TableRecord
from valuation.notes import Note, each_once
from valuation.paths.compare import PathsReport
from valuation.schema import schema_from_dict
from valuation.sell.bands import PriceBands
from valuation.sell.offer_log import OfferLog
from valuation.sell.offers import Offer, OfferAnswer
from valuation.text.language import english_day
from valuation.text.plain import plain


def keep_deal(
    ledger: Ledger,
    model_id: int,
    subject: str,
    kind: str,
    inputs: Mapping[str, Any],
    found: PathsReport | PriceBands | BuildAnswer,
) -> int:
    """Write an answer of the deal room to the ledger.

    Parameters
    ----------
    ledger : Ledger
    model_id : int
        Number of the model that it was computed with.
    subject, kind : str
        The find or vehicle, and which question was asked.
    inputs : mapping
        All that the answer was computed from, as plain data.
    found : PathsReport, PriceBands or BuildAnswer

    Returns
    -------
    int
        Number of the deal record.
    """
    record = ledger.add_deal(subject=subject, kind=kind, inputs=plain(inputs), result=plain(found), model_id=model_id)
    return record.id


@dataclass(frozen=True)
class KeptBuild:
    """A comparison of paths as the ledger keeps it, as plain data.

    Attributes
    ----------
    inputs : dict
        What it was computed from.
    found : dict
        ``paths``, ``curves`` and ``plans``.
    """

    inputs: Mapping[str, Any]
    found: Mapping[str, Any]

    @property
    def nearest(self) -> Mapping[str, Any]:
        """The path to go, or the one that comes nearest to the goal."""
        best, paths = self.found["paths"]["best"], self.found["paths"]["paths"]
        named: Mapping[str, Any] | None = next((one for one in paths if one["name"] == best), None)
        return named or max(paths, key=lambda one: float(one["most_to_pay"]))

    @property
    def notes(self) -> tuple[Note, ...]:
        """All that must be known of the paths and the builds, each note once; older records lack some lists."""
        paths = self.found["paths"]
        built = (plan[part] for plan in self.found["plans"].values() for part in ("schedule", "steps"))
        parts = [paths, *paths["paths"], *built]
        return each_once(Note(note["code"], note["text"]) for part in parts for note in part.get("notes", []))


def kept_build(ledger: Ledger, deal: DealRecord) -> KeptBuild:
    """The comparison of paths behind a deal record.

    Parameters
    ----------
    ledger : Ledger
    deal : DealRecord
        Of the kind "build".
    """
    return KeptBuild(json.loads(deal.inputs), ledger.deal_result(deal.id))


def bands_key(deal: int) -> tuple[str, int]:
    """Under which the bands of a deal record are remembered."""
    return "bands", deal


@dataclass(frozen=True)
class KeptBands:
    """The bands last kept for a vehicle: what they were computed from.

    Attributes
    ----------
    deal : int
        Number of the deal record.
    model : int
        Number of the model that they were computed with.
    table : TableRecord
    plan : BuildPlan
    inputs : dict
        As the ledger keeps them.
    """

    deal: int
    model: int
    table: TableRecord
    plan: BuildPlan
    inputs: Mapping[str, Any]

    @property
    def key(self) -> tuple[str, int]:
        """Under which they are remembered."""
        return bands_key(self.deal)

    @property
    def as_of(self) -> dt.date:
        """The day that they were asked for."""
        return dt.date.fromisoformat(self.inputs["as_of"])

    @property
    def price(self) -> float | None:
        """What was paid for the vehicle, if that was told."""
        return self.inputs.get("price")

    @property
    def goal(self) -> Goal | None:
        """What the shop wanted, where it was not the plan's own goal."""
        told = self.inputs.get("goal")
        return None if told is None else Goal(told["margin_percent"], told["profit"], told["sure_percent"])


def kept_bands(ledger: Ledger, subject: str, currency: str | None = None) -> KeptBands | None:
    """The bands last kept for a vehicle, in a currency where it is told.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    currency : str or None
        Of the bands; any unless given.
    """
    kept = [deal for deal in ledger.deals(subject) if deal.kind == "bands"]
    if currency is not None:
        kept = [deal for deal in kept if ledger.deal_result(deal.id)["currency"] == currency]
    number = kept[-1].model_id if kept else None
    if number is None:
        return None
    table = ledger.table(ledger.model(number).table_id)
    inputs = json.loads(kept[-1].inputs)
    (plan,) = read_plans([inputs["plan"]], schema_from_dict(json.loads(table.schema)), steps_needed=False)
    return KeptBands(kept[-1].id, number, table, plan, inputs)


def offers_for(ledger: Ledger, subject: str) -> list[OfferRecord]:
    """Offers for a vehicle in the order in which they came: a corrected one keeps its place.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    """
    return sorted(ledger.offers(subject), key=lambda one: one.first)


def talks(ledger: Ledger, subject: str, last: OfferRecord | None = None, *, since: bool = False) -> OfferLog:
    """The offers for a vehicle as a log: all, or those that are heard in its currency when one of them is answered.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    last : OfferRecord or None
        The one to answer: it ends the log.
    since : bool
        Whether what other buyers have offered since is heard too; else what came before it alone.
    """
    offers = offers_for(ledger, subject)
    if last is not None:
        who = last.who.strip().casefold()
        heard = [one for one in offers if one.currency == last.currency and one.first != last.first]
        offers = [
            *(
                one
                for one in heard
                if one.first < last.first or (since and (not who or one.who.strip().casefold() != who))
            ),
            last,
        ]
    told = tuple(Offer(one.amount, one.offered_on, one.who, one.remark) for one in offers)
    return OfferLog(subject, currency=last.currency if last else "", offers=told)


def advice_on(
    ledger: Ledger, offer: OfferRecord, bands: PriceBands, terms: SaleTerms, today: dt.date | None = None
) -> OfferAnswer:
    """Accept, counter or hold: the answer to an offer of the ledger.

    Parameters
    ----------
    ledger : Ledger
    offer : OfferRecord
    bands : PriceBands
    terms : SaleTerms
        Terms of the sale.
    today : date or None
        On which it is answered, by all that was heard until then; the offer's own day, by what came before it, unless
        given.
    """
    return answer(bands, terms, talks(ledger, offer.subject, offer, since=today is not None), today)


def take_offer(
    ledger: Ledger,
    estimate: EstimateRecord,
    amount: float,
    day: dt.date | None,
    *,
    currency: str = "",
    who: str = "",
    remark: str = "",
    confirmed: bool = False,
) -> OfferRecord:
    """Write an offer for a vehicle to the ledger as it comes.

    Parameters
    ----------
    ledger : Ledger
    estimate : EstimateRecord
        Of the vehicle.
    amount : float
    day : date or None
        On which it was made; today unless told.
    currency : str
        The estimate's unless told.
    who, remark : str
        In the shop's own words; may be empty.
    confirmed : bool
        Whether an unlikely figure or day was asked about and is right.

    Raises
    ------
    UnlikelyError
        The figure is far from the estimate, or the day lies in the future, and it is not confirmed.
    """
    return ledger.add_offer(
        subject=estimate.subject,
        amount=amount,
        offered_on=day_of(day),
        currency=currency or estimate.currency,
        who=who,
        remark=remark,
        estimate_id=estimate.id,
        confirmed=confirmed,
    )


def take_sale(
    ledger: Ledger,
    estimate: EstimateRecord,
    price: float,
    day: dt.date | None,
    *,
    kind: str = "private",
    arms_length: bool = True,
    remark: str = "",
    confirmed: bool = False,
) -> SaleRecord:
    """Write the realised sale of a vehicle to the ledger.

    Parameters
    ----------
    ledger : Ledger
    estimate : EstimateRecord
        Of the vehicle as it was sold.
    price : float
        All that the buyer paid before tax, money in the estimate's currency.
    day : date or None
        Of the sale; today unless told.
    kind : str
        One of ``SALE_KINDS``.
    arms_length : bool
        False for a sale to family, in distress and the like.
    remark : str
        In the shop's own words; may be empty.
    confirmed : bool
        Whether an unlikely figure or day, or a second sale on one day, was asked about and is right.

    Raises
    ------
    UnlikelyError
        The price is far from the estimate, the day lies in the future, or a sale of this vehicle on this day is in the
        ledger, and it is not confirmed.
    """
    sold_on = day_of(day)
    twin = next((sale for sale in ledger.sales(estimate.subject) if sale.sold_on == sold_on), None)
    if twin is not None and not confirmed:
        raise UnlikelyError(
            f"Was '{estimate.subject}' sold twice on {english_day(sold_on)}? Sale {twin.id} of that day is in the "
            f"ledger, for {money(twin.price)}. Nothing was written yet: correct that sale if it is wrong, or confirm "
            "this one.",
            where="sold_on",
        )
    return ledger.add_sale(
        estimate_id=estimate.id,
        price=price,
        sold_on=sold_on,
        kind=kind,
        arms_length=arms_length,
        remark=remark,
        confirmed=confirmed,
    )
