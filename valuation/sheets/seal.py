"""The seal of a sheet: the fingerprint that is printed on it, and what is true of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

from valuation.sheets.plain import fingerprint, to_plain
from valuation.text.language import Said, say

if TYPE_CHECKING:
    from valuation.sheets.photos import Photo
    from valuation.text.locale import Locale


@dataclass(frozen=True, slots=True)
class Seal:
    """What stands at the foot of a sheet.

    Parameters
    ----------
    fingerprint : str
        SHA-256 of what the sheet says, of how its figures are written, and of its photographs with their captions.
    in_ledger : bool
        Whether the sheet is kept in the shop's ledger under that fingerprint.
    """

    fingerprint: str
    in_ledger: bool = False

    @classmethod
    def of(cls, sheet: Any, locale: Locale, photos: Sequence[Photo] = (), *, in_ledger: bool = False) -> Self:
        """The seal of a sheet.

        Parameters
        ----------
        sheet : BuyerSheet, DealSheet or FieldCard
        locale : Locale
        photos : sequence of Photo
        in_ledger : bool
        """
        shown = {
            "sheet": to_plain(sheet),
            "locale": locale.as_dict(),
            "photos": [[photo.caption, photo.fingerprint] for photo in photos],
        }
        return cls(fingerprint(shown), in_ledger)

    @property
    def keyword(self) -> str:
        """As it stands among the keywords of the file, where ``valuation sheet verify`` looks for it."""
        return f"fingerprint {self.fingerprint}"

    @property
    def groups(self) -> str:
        """The fingerprint in groups of eight, as it is printed."""
        return " ".join(self.fingerprint[at : at + 8] for at in range(0, len(self.fingerprint), 8))

    def for_buyer(self, *, photographs: bool = False) -> str:
        """The seal in words for a buyer, in the language of the sheet; ``photographs``: whether it has any."""
        digits = Said(self.groups)
        said = say("Fingerprint of this sheet: {digits}.", digits=digits)
        if photographs:
            said = say("Fingerprint of this sheet, its photographs included: {digits}.", digits=digits)
        if not self.in_ledger:
            return said
        kept = say("The sheet is kept under it in the seller's ledger, from which it can be made again and compared.")
        return f"{said} {kept}"

    def for_shop(self) -> str:
        """The seal in words on a private sheet."""
        said = f"Fingerprint of this sheet: {self.groups}."
        if self.in_ledger:
            said += " The sheet is kept under it in the shop's ledger, from which it can be made again and compared."
        return said
