"""Canonical texts and their fingerprints: equal content gives equal bytes, so that a fingerprint can prove it."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping

from valuation.errors import LedgerError

DEEPEST = 100
"""Levels of nesting that a stored value may have; far more than any result needs."""


def fingerprint(content: bytes | str) -> str:
    """SHA-256 of the content (a text as UTF-8) in 64 hexadecimal digits.

    Examples
    --------
    >>> fingerprint("Tern")[:12]
    'e80389d84afa'
    """
    raw = content.encode() if isinstance(content, str) else content
    return hashlib.sha256(raw).hexdigest()


def canonical_json(value: object, what: str = "value") -> str:
    """One JSON text for one value: sorted keys, no spaces, plain ASCII, floats in their shortest exact form.

    Parameters
    ----------
    value : object
        Mappings with text keys, lists, tuples, text, whole numbers, finite floats, true, false and ``None``.
    what : str
        What it is, for the message when it is refused.

    Returns
    -------
    str
        Reading it back gives the same value to the last bit (a tuple comes back as a list).

    Raises
    ------
    LedgerError
        If a part is not such a value (NaN and infinity are not), with the place where it stands.

    Examples
    --------
    >>> canonical_json({"median": 18500.0, "body": "panel"})
    '{"body":"panel","median":18500.0}'
    """
    _check(value, (what,))
    try:
        return json.dumps(value, sort_keys=True, allow_nan=False, separators=(",", ":"))
    except ValueError as error:  # a whole number of more digits than Python writes out
        raise LedgerError(f"Cannot keep {what} in the ledger: {error}. Give it as text.") from error


def _check(value: object, place: tuple[str, ...]) -> None:
    if len(place) > DEEPEST:
        raise LedgerError(
            f"Cannot keep {place[0]} in the ledger: it is nested more than {DEEPEST} levels deep. Give a flatter value."
        )
    if isinstance(value, Mapping):
        if not isinstance(value, dict):
            raise _refusal(value, place)
        for key, part in value.items():
            if not isinstance(key, str):
                raise _refusal(key, place, "as a name")
            _check(part, (*place, key))
    elif isinstance(value, list | tuple):
        for position, part in enumerate(value):
            _check(part, (*place, str(position)))
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise _refusal(value, place)
    elif value is not None and not isinstance(value, str | int):
        raise _refusal(value, place)


def _refusal(value: object, place: tuple[str, ...], how: str = "") -> LedgerError:
    found = f"{value!r} {how}".strip()
    return LedgerError(
        f"Cannot keep {place[0]} in the ledger: found {found} ({type(value).__name__}) at {'.'.join(place)}. Text, "
        "whole numbers, finite numbers, true, false, null, and lists or objects of these with text as names are "
        "accepted. Convert it first; write null for an open end."
    )
