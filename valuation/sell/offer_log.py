"""The log of offers for one vehicle: a JSON file that is only ever added to."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from valuation.errors import OfferError, shown
from valuation.files import locked, write_file
from valuation.sell.offers import Offer
from valuation.text.dates import possible_day, read_day
from valuation.text.files import read_text_file
from valuation.text.json import read_json
from valuation.text.money import MOST_MONEY, read_amount
from valuation.text.numbers import finite_number
from valuation.text.plain import plain
from valuation.text.reading import Reading
from valuation.text.spelling import counted
from valuation.text.toml import read_toml
from valuation.view import View, Viewed, as_money


@dataclass(frozen=True, slots=True, repr=False)
class OfferLog(Viewed):
    """What was asked and what was offered.

    Parameters
    ----------
    subject : str
        Name of the vehicle.
    plan : str
        File of the build plan or vehicle that is sold, as seen from the log's folder; may be empty.
    currency : str
        Of all offers; empty: the table's.
    asked : float or None
        The price that is asked.
    offers : tuple of Offer
        Oldest first.
    """

    subject: str
    plan: str = ""
    currency: str = ""
    asked: float | None = None
    offers: tuple[Offer, ...] = ()

    def _view(self) -> View:
        highest = max((one.amount for one in self.offers), default=None)
        said = counted(len(self.offers), "offer")
        return View(
            title=f"Offers for {self.subject}",
            facts=(said if highest is None else f"{said}, the highest {as_money(highest, self.currency)}",),
            header=("day", "buyer", "offer", "note"),
            rows=[(str(one.date or ""), one.buyer, as_money(one.amount), one.note) for one in self.offers],
        )

    def added(self, offer: Offer) -> OfferLog:
        """The log with one more offer.

        Raises
        ------
        OfferError
            The offer is dated before the last one.
        """
        last = next((one.date for one in reversed(self.offers) if one.date), None)
        if last and offer.date and offer.date < last:
            raise OfferError(
                f"The offer of {offer.date} comes after one of {last} in the log of '{self.subject}'. Enter offers in "
                "the order in which they came."
            )
        return replace(self, offers=(*self.offers, offer))


def read_offer_log(path: str | Path) -> OfferLog:
    """Read a log of offers (JSON, or TOML with ``[[offers]]``).

    Raises
    ------
    OfferError
        The file cannot be read, or an offer in it cannot be used; the offer and the mend are named.
    """
    file = Path(path)
    try:
        text = read_text_file(file)
    except ValueError as problem:
        raise OfferError(f"Cannot read the offer log {file.name}: {problem}. Check the path.") from None
    try:
        data = read_toml(text) if file.suffix.casefold() == ".toml" else read_json(text)
    except ValueError as problem:
        raise OfferError(f"Cannot read the offer log {file.name}: it {problem}. Mend that place in the file.") from None
    if not isinstance(data, dict) or not isinstance(data.get("offers", []), list):
        raise OfferError(f"Cannot use the offer log {file.name}: it needs a list 'offers'. Write \"offers\": [].")
    asked = data.get("asked")
    if asked is not None and _money(asked) is None:
        raise OfferError(
            f"Cannot use the offer log {file.name}: 'asked' is {shown(asked)}. Write the price that is asked as a "
            "plain number."
        )
    offers = tuple(_offer(file.name, i + 1, row) for i, row in enumerate(data.get("offers", [])))
    return OfferLog(
        subject=str(data.get("subject", file.stem)),
        plan=str(data.get("plan", "")),
        currency=str(data.get("currency", "")),
        asked=_money(asked),
        offers=offers,
    )


def write_offer_log(path: str | Path, log: OfferLog) -> None:
    """Write a log of offers as JSON; the old file stays whole until the new one is on the disk.

    Parameters
    ----------
    path : str or Path
        Ends in ``.json``.
    log : OfferLog
    """
    file = Path(path)
    if file.suffix.casefold() == ".toml":
        raise OfferError(f"Cannot write {file.name}: offers are added to a JSON log. Name it {file.stem}.json.")
    try:
        write_file(file, json.dumps(plain(log), indent=2, ensure_ascii=False) + "\n")
    except OSError as problem:
        raise OfferError(f"Cannot write the offer log {file.name}: {problem.strerror}. Check the folder.") from None


@contextmanager
def held_offer_log(path: str | Path) -> Iterator[OfferLog]:
    """The log of a file, a new one if it is not there, while no other program that asks in this way may write it.

    Raises
    ------
    OfferError
        The file cannot be read or is held by another program for too long.
    """
    file = Path(path)
    with ExitStack() as held:
        try:
            held.enter_context(locked(file))
        except OSError as problem:
            raise OfferError(
                f"Cannot write the offer log {file.name}: {problem.strerror}. Check the folder, or try again."
            ) from None
        yield read_offer_log(file) if file.exists() else OfferLog(subject=file.stem)


def _offer(file: str, number: int, row: object) -> Offer:
    place = f"Cannot use the offer log {file}: offer {number}"
    if not isinstance(row, dict):
        raise OfferError(f'{place} is {shown(row)}. Write {{"date": "2027-06-01", "amount": 41000}}.')
    amount, day = _money(row.get("amount")), row.get("date")
    if amount is None:
        raise OfferError(f"{place} has the amount {shown(row.get('amount'))}. Write money above 0 as a plain number.")
    try:
        when = _day(day)
    except ValueError as problem:
        raise OfferError(
            f"{place} has the date {shown(day)}. Write year-month-day, such as 2027-06-01; what stands there {problem}."
        ) from None
    return Offer(amount, when, str(row.get("buyer", "")), str(row.get("note", "")))


def _day(value: object) -> date | None:
    if value is None or value == "":
        return None
    if isinstance(value, date):
        return possible_day(value.date() if isinstance(value, datetime) else value)
    return read_day(value if isinstance(value, str) else "", Reading())


def _money(value: object) -> float | None:
    """The value as money above 0, or None where it is something else."""
    if isinstance(value, str):
        try:
            value = read_amount(value)
        except ValueError:
            return None
    number = finite_number(value)
    return number if number is not None and 0 < number <= MOST_MONEY else None
