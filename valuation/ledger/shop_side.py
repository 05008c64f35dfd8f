"""The shop's side of a ledger: its vehicles, what things are called, photographs, and its settings."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date

from valuation.errors import LedgerError
from valuation.ledger.records import PhotoRecord, ShopRecord, ShownRecord, VehicleRecord
from valuation.ledger.rows import Transaction, changed_values, holds, own_values
from valuation.ledger.writer import Writer


class ShopSide(Writer):
    """Vehicles from the day they are found, names that can be changed, photographs and settings."""

    def add_vehicle(
        self,
        *,
        subject: str,
        number: str = "",
        found: Mapping[str, object] | None = None,
        asked: float | None = None,
        currency: str = "",
        found_on: date | str | None = None,
        bought_for: float | None = None,
        bought_on: date | str | None = None,
        for_sale_on: date | str | None = None,
        remark: str = "",
    ) -> VehicleRecord:
        """Write a vehicle; the same brought once more is given back.

        Parameters
        ----------
        subject : str
            The vehicle's key, which never changes.
        number : str
            Chassis number or the like.
        found : mapping, optional
            Its attributes as found, as plain values.
        asked, bought_for : float, optional
            Money, in ``currency``.
        currency : str
        found_on, bought_on, for_sale_on : date, optional
        remark : str

        Raises
        ------
        LedgerError
            If the ledger has another vehicle under that key.
        """
        values = {
            "subject": subject,
            "number": number,
            "found": found or {},
            "asked": asked,
            "currency": currency,
            "found_on": found_on,
            "bought_for": bought_for,
            "bought_on": bought_on,
            "for_sale_on": for_sale_on,
            "remark": remark,
        }
        with self._writing() as transaction:
            there = transaction.newest(VehicleRecord, {"subject": subject})
            if there is None:
                return transaction.append(VehicleRecord, values)
            if holds(there, values):
                return there
            raise LedgerError(
                f"Cannot write {subject!r} as a new vehicle: vehicle {there.first} of the ledger has that name. Choose "
                "another name, or correct that vehicle.",
                where="subject",
            )

    def change_vehicle(self, subject: str, reason: str, changes: Mapping[str, object]) -> VehicleRecord:
        """Write a vehicle once more with some fields changed; the older record stays as its ``history``.

        Parameters
        ----------
        subject : str
        reason : str
            Why, in a few words.
        changes : mapping
            New values by the names of `add_vehicle`; what is left out stays.
        """
        with self._writing() as transaction:
            there = self._there(transaction, subject)
            values = changed_values(there, changes)
            if values["subject"] != subject:
                raise LedgerError(f"Cannot change the key {subject!r} of a vehicle. Change what it is called instead.")
            values["found"] = changes.get("found", json.loads(there.found))
            return transaction.append(VehicleRecord, values, there.id, reason)

    def show_as(
        self, thing: str, key: str, *, name: str | None = None, archived: bool | None = None, reason: str = ""
    ) -> ShownRecord:
        """Write what a thing is called, or that it is put away or brought back; what is not told stays.

        Parameters
        ----------
        thing : str
            One of ``SHOWN_THINGS``.
        key : str
            Of a plan: subject and name, a line each.
        name : str, optional
            As it was called; a key's last line for a thing that never was called otherwise.
        archived : bool, optional
        reason : str
            Why, in a few words; what was done unless told.
        """
        with self._writing() as transaction:
            there = transaction.newest(ShownRecord, {"thing": thing, "key": key})
            values: dict[str, object] = (
                {"thing": thing, "key": key, "name": key.rpartition("\n")[2], "archived": False}
                if there is None
                else own_values(there)
            )
            values |= {"name": name} if name is not None else {}
            values |= {"archived": archived} if archived is not None else {}
            if there is None:
                return transaction.append(ShownRecord, values)
            if holds(there, values):
                return there
            if values["archived"] != there.archived:
                done = "put away" if values["archived"] else "brought back"
            else:
                done = "called otherwise"
            return transaction.append(ShownRecord, values, there.id, reason or done)

    def add_photo(self, *, subject: str, jpeg: bytes, caption: str = "", width: int, height: int) -> PhotoRecord:
        """Write a photograph; one of this vehicle that is there already is given back.

        Parameters
        ----------
        subject : str
            The vehicle.
        jpeg : bytes
            The picture, without metadata.
        caption : str
        width, height : int
            Pixels.
        """
        with self._writing() as transaction:
            values = {"subject": subject, "content": transaction.keep(jpeg)}
            there = transaction.newest(PhotoRecord, values)
            more = {"caption": caption, "width": width, "height": height}
            return there or transaction.append(PhotoRecord, {**values, **more})

    def caption_photo(self, photo: PhotoRecord, caption: str) -> PhotoRecord:
        """Write other words under a photograph.

        Parameters
        ----------
        photo : PhotoRecord
            The newest of its chain.
        caption : str
        """
        with self._writing() as transaction:
            if caption == photo.caption:
                return photo
            values = {**own_values(photo), "caption": caption}
            return transaction.append(PhotoRecord, values, photo.id, "other words")

    def keep_shop(self, text: str, reason: str = "") -> ShopRecord:
        """Write the shop's settings as they are from now on; the same once more are given back.

        Parameters
        ----------
        text : str
            TOML, letter for letter.
        reason : str
            Why, in a few words.
        """
        with self._writing() as transaction:
            there = transaction.newest(ShopRecord, {})
            if there is None:
                return transaction.append(ShopRecord, {"text": text})
            if holds(there, {"text": text}):
                return there
            return transaction.append(ShopRecord, {"text": text}, there.id, reason or "changed")

    def _there(self, transaction: Transaction, subject: str) -> VehicleRecord:
        there = transaction.newest(VehicleRecord, {"subject": subject})
        if there is None:
            raise LedgerError(f"Cannot change the vehicle {subject!r}: the ledger has none of that name. Add it first.")
        return there
