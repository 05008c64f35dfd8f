"""Whether a sheet that somebody holds is one that the shop made: held against the ledger."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

from valuation.errors import SheetError, shortlist, shown
from valuation.sheets.records import FACES, Face, make_again

if TYPE_CHECKING:
    from valuation.ledger.records import SheetRecord

LEAST_DIGITS = 16
"""Of a fingerprint that is typed from paper: the first two groups, which no two sheets of a shop share by chance."""

_DIGITS = "([0-9a-f]{64})"
_PRINTED: Mapping[Face, re.Pattern[bytes]] = {
    "pdf": re.compile(rf"/Keywords\s*\([^)]*fingerprint {_DIGITS}\)".encode()),
    "html": re.compile(rf'<meta name="keywords" content="[^"]*fingerprint {_DIGITS}">'.encode()),
    "txt": re.compile(rb": ((?:[0-9a-f]{8} ){7}[0-9a-f]{8})\."),
    "png": re.compile(rf"fingerprint {_DIGITS}".encode()),
}
"""Where a file of each face holds the fingerprint that is printed on it."""


@dataclass(frozen=True, slots=True)
class Verified:
    """What the ledger says of a sheet.

    Attributes
    ----------
    genuine : bool
        Whether it is a sheet that the ledger holds, unchanged as far as what was given can show.
    words : str
        The finding, then what to do.
    sheet : int or None
        Number of the sheet in the ledger, where it has one of that fingerprint.
    """

    genuine: bool
    words: str
    sheet: int | None = None


def verify_file(content: bytes, records: Sequence[SheetRecord]) -> Verified:
    """Hold the file of a sheet against the sheets of a ledger.

    Parameters
    ----------
    content : bytes
        Of a PDF or HTML file, or of a message or its picture.
    records : sequence of SheetRecord
    """
    digest = hashlib.sha256(content).hexdigest()
    for record in records:
        if record.fingerprint == digest:
            return Verified(True, f"It is {_named(record)}, byte for byte.", record.id)
    face = _face_of(content)
    found = _PRINTED[face].search(content)
    if found is None:
        return Verified(False, "It holds no fingerprint of a sheet: it was not made here, or was saved anew since.")
    printed = found.group(1).decode().replace(" ", "")
    alike = [(record, inputs) for record in records if (inputs := _inputs(record)).get("fingerprint") == printed]
    if not alike:
        return Verified(False, f"The ledger holds no sheet with its fingerprint {printed[:LEAST_DIGITS]}.")
    for record, inputs in alike:
        if face in FACES[inputs["kind"]] and make_again(inputs, face) == content:
            return Verified(True, f"It is {_named(record)}, as the ledger makes it again byte for byte.", record.id)
    record, inputs = alike[-1]
    return Verified(False, f"It carries the fingerprint of {_named(record)}, but {_why_not(inputs)}", record.id)


def _face_of(content: bytes) -> Face:
    if content.startswith(b"%PDF"):
        return "pdf"
    if content.startswith(b"\x89PNG"):
        return "png"
    return "html" if content.lstrip()[:1] == b"<" else "txt"


def verify_printed(fingerprint: str, records: Sequence[SheetRecord]) -> Verified:
    """Look for the fingerprint of a sheet on paper among the sheets of a ledger.

    Parameters
    ----------
    fingerprint : str
        As printed, or its beginning; spaces do not count.
    records : sequence of SheetRecord

    Raises
    ------
    SheetError
        If it is no fingerprint, or too little of one.
    """
    digits = "".join(fingerprint.split()).casefold()
    if not re.fullmatch(f"[0-9a-f]{{{LEAST_DIGITS},64}}", digits):
        raise SheetError(
            f"Cannot look for the sheet {shown(fingerprint)}: that is neither a file that is there nor a fingerprint. "
            f"Name a PDF or HTML file, or write at least the first {LEAST_DIGITS} figures and letters of the "
            "fingerprint in quotes."
        )
    for record in records:
        if str(_inputs(record).get("fingerprint", "")).startswith(digits):
            words = f"It is the fingerprint of {_named(record)}. Hold the paper against the ledger's own sheet."
            return Verified(True, words, record.id)
    return Verified(False, f"The ledger holds no sheet with the fingerprint {digits[:LEAST_DIGITS]}.")


def _inputs(record: SheetRecord) -> dict[str, Any]:
    inputs = json.loads(record.inputs)
    return inputs if isinstance(inputs, dict) else {}


def _named(record: SheetRecord) -> str:
    about = f", {record.subject}" if record.subject else ""
    return f"sheet {record.id} of the ledger ({record.kind}{about}), made on {record.written_at:%Y-%m-%d}"


def _why_not(inputs: Mapping[str, Any]) -> str:
    other = [name for name, then in inputs.get("engines", {}).items() if _version(name) != then]
    if other:
        return (
            f"it was drawn with other versions of {shortlist(sorted(other))} than are here, so that its bytes cannot "
            "be compared. Make the sheet again from the ledger and hold the two side by side."
        )
    return "its content is not what the ledger holds: it was changed since. Hand out the ledger's own."


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
