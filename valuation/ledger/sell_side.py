"""The sell side of a ledger: offers and realised sales, their answers and corrections."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TypeVar

from valuation.errors import LedgerError
from valuation.ledger.corrections import ANSWERED
from valuation.ledger.doubts import ask_about_day, ask_about_money, clock_note, newest_moment
from valuation.ledger.records import EstimateRecord, OfferRecord, SaleRecord
from valuation.ledger.rows import Transaction, changed_values, one, own_values
from valuation.ledger.writer import Writer
from valuation.notes import Note

S = TypeVar("S", OfferRecord, SaleRecord)


class SellSide(Writer):
    """Offers as they come and sales as they are made.

    A figure far from the estimate and a day ahead of the clock have to be confirmed: `UnlikelyError` is raised and
    nothing written until the same is given with ``confirmed``. In a correction only what it changes is asked
    about.
    """

    def add_offer(
        self,
        *,
        subject: str,
        amount: float,
        offered_on: date | str,
        currency: str = "",
        who: str = "",
        answer: str = "",
        counter: float | None = None,
        remark: str = "",
        plan_id: int | None = None,
        estimate_id: int | None = None,
        confirmed: bool = False,
        corrects: int | None = None,
        reason: str = "",
    ) -> OfferRecord:
        """Write an offer as it comes, with the answer when it is given at once (else see `answer_offer`).

        Parameters
        ----------
        subject : str
            The vehicle.
        amount : float
            Money, in ``currency``.
        offered_on : date
            Asked about when it lies in the future.
        currency, who, remark : str
            In the shop's own words; may be empty.
        answer : str
            One of ``OFFER_ANSWERS``.
        counter : float, optional
            Money; given with the answer ``counter`` and with no other.
        plan_id, estimate_id : int, optional
            What it belongs to.
        confirmed : bool
            Whether an unlikely figure or day was asked about and is right.
        corrects, reason
            See `Writer`.
        """
        if (answer == "counter") != (counter is not None):
            raise LedgerError(
                f"Cannot write the offer to the ledger: the answer is {answer!r} and the counter {counter!r}. A "
                "counter is an amount given with the answer 'counter' and with no other. Give both or neither."
            )
        values = {
            "subject": subject,
            "plan_id": plan_id,
            "estimate_id": estimate_id,
            "amount": amount,
            "currency": currency,
            "offered_on": offered_on,
            "who": who,
            "answer": answer,
            "counter": counter,
            "remark": remark,
        }
        with self._writing() as transaction:
            offer = transaction.append(OfferRecord, values, corrects, reason)
            if not confirmed:
                _ask(transaction, offer, "an offer", ("amount", "counter"), "offered_on")
            return offer

    def answer_offer(
        self, number: int, answer: str, counter: float | None = None, *, confirmed: bool = False
    ) -> OfferRecord:
        """Write the answer given to an offer that is in the ledger, as the next record of its chain.

        Parameters
        ----------
        number : int
            Of the offer.
        answer : str
            One of ``OFFER_ANSWERS``.
        counter : float or None
            Money; with the answer ``counter`` and with no other.
        confirmed : bool
            Whether an unlikely figure or day was asked about and is right.
        """
        values = own_values(self.offer(number)) | {"answer": answer, "counter": counter}
        return self.add_offer(**values, confirmed=confirmed, corrects=number, reason=ANSWERED)

    def add_sale(
        self,
        *,
        estimate_id: int,
        price: float,
        sold_on: date | str,
        kind: str,
        currency: str | None = None,
        arms_length: bool = True,
        remark: str = "",
        confirmed: bool = False,
        corrects: int | None = None,
        reason: str = "",
    ) -> SaleRecord:
        """Write a realised sale.

        Parameters
        ----------
        estimate_id : int
            An estimate of the vehicle as it was sold. The track record sets the sale against the newest estimate of
            that vehicle made before the sale, which need not be this one.
        price : float
            Buyer-pays price before tax.
        sold_on : date
            Asked about when it lies in the future.
        kind : str
            One of ``SALE_KINDS``.
        currency : str, optional
            Of the price; the estimate's when left out.
        arms_length : bool
            False for a sale to family, in distress and the like.
        remark : str
            Anything else.
        confirmed : bool
            Whether an unlikely figure or day was asked about and is right.
        corrects, reason
            See `Writer`.
        """
        with self._writing() as transaction:
            estimate = one(transaction.connection, EstimateRecord, estimate_id)
            values = {
                "subject": estimate.subject,
                "estimate_id": estimate_id,
                "price": price,
                "currency": estimate.currency if currency is None else currency,
                "sold_on": sold_on,
                "kind": kind,
                "arms_length": arms_length,
                "remark": remark,
            }
            sale = transaction.append(SaleRecord, values, corrects, reason)
            if not confirmed:
                _ask(transaction, sale, "a price", ("price",), "sold_on")
            return sale

    def correct(self, record: S, reason: str, changes: Mapping[str, object], *, confirmed: bool = False) -> S:
        """Write a sale or an offer once more with some fields changed; the mistaken record stays as its ``history``.

        Parameters
        ----------
        record : SaleRecord or OfferRecord
            The newest of its chain.
        reason : str
            Why, in a few words.
        changes : mapping
            New values by the names of `add_sale` and `add_offer`; what is left out stays.
        confirmed : bool
            Whether an unlikely figure or day was asked about and is right.
        """
        values = changed_values(record, changes)
        if isinstance(record, OfferRecord):
            return self.add_offer(**values, confirmed=confirmed, corrects=record.id, reason=reason)
        del values["subject"]  # an estimate says what was sold
        return self.add_sale(**values, confirmed=confirmed, corrects=record.id, reason=reason)

    def clock_notes(self) -> tuple[Note, ...]:
        """A note when this computer's clock is behind the ledger's newest records; as a rule nothing."""
        with self._database.reading() as connection:
            note = clock_note(self._clock(), newest_moment(connection))
            return () if note is None else (note,)


def _ask(
    transaction: Transaction, record: OfferRecord | SaleRecord, what: str, amounts: tuple[str, ...], day: str
) -> None:
    """Ask about what a record just written says, where it differs from the record that it corrects."""
    before = record.history[-1] if record.history else None
    fresh = [name for name in (*amounts, day) if before is None or getattr(before, name) != getattr(record, name)]
    if record.estimate_id is not None:
        estimate = one(transaction.connection, EstimateRecord, record.estimate_id)
        for name in amounts:
            amount = getattr(record, name)
            if name in fresh and amount is not None:
                ask_about_money(what, amount, record.currency, estimate, where=name)
    if day in fresh:
        ask_about_day(
            record.noun, getattr(record, day), transaction.now, newest_moment(transaction.connection, record), where=day
        )
