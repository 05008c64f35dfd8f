"""Photographs of a vehicle: taken in, and where they lie in the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from valuation.errors import SheetError

if TYPE_CHECKING:
    from valuation.ledger import Ledger, PhotoRecord

MOST_KEPT = 60
"""Photographs of one vehicle: chosen; at 1,400 pixels they are some 15 MB of the ledger."""
MOST_AT_ONCE = 6
"""Photographs that are brought in one go: chosen, so that each request ends soon."""


def keep_photos(
    ledger: Ledger, subject: str, files: Sequence[tuple[str, bytes]], caption: str = ""
) -> tuple[PhotoRecord, ...]:
    """Prepare photographs and keep them with a vehicle: all of them or, where one cannot be used, none.

    Parameters
    ----------
    ledger : Ledger
    subject : str
        The vehicle's key.
    files : sequence of (str, bytes)
        Name and content of each.
    caption : str
        Of all of them; may be empty.

    Raises
    ------
    SheetError
        One is no picture, is damaged or too large, or there are too many.
    """
    from valuation.sheets.photos import prepare_photo

    kept = len(ledger.photos(subject))
    if not files or len(files) > MOST_AT_ONCE:
        raise SheetError(
            f"Cannot keep {len(files) or 'no'} photographs in one go: bring 1 to {MOST_AT_ONCE} at once.",
            where="photos",
        )
    if kept + len(files) > MOST_KEPT:
        raise SheetError(
            f"Cannot keep {len(files)} more photographs: {kept} are kept of this vehicle, and there is room for "
            f"{MOST_KEPT}. Take some away first.",
            where="photos",
        )
    try:
        photos = [prepare_photo(content, name, caption.strip()) for name, content in files]
    except SheetError as error:
        error.where = "photos"
        raise
    return tuple(
        ledger.add_photo(subject=subject, jpeg=one.jpeg, caption=one.caption, width=one.width, height=one.height)
        for one in photos
    )


def photo_numbered(ledger: Ledger, number: int) -> PhotoRecord | None:
    """The photograph whose first record has that number, as it stands; None where it was taken away.

    Parameters
    ----------
    ledger : Ledger
    number : int
        That the ledger has.
    """
    from valuation.ledger import PhotoRecord

    subject = ledger.record(PhotoRecord, number).subject
    return next((one for one in ledger.photos(subject) if one.first == number), None)
