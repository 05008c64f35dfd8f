"""The family of errors: every refusal a shop owner can meet, each with a stable code.

``ValuationError`` is the root. Each child names one kind of refusal, carries a ``code`` that is the same in the
command line's exit message, in the JSON problem type and in the README, and also derives from the builtin that a
Python caller would expect. Messages say what cannot be done, for which thing, what was found, what is accepted and
what to do next.
"""

from __future__ import annotations

import datetime as dt
import reprlib


class ValuationError(Exception):
    """Root of every error this project raises on purpose.

    Parameters
    ----------
    message : str
    where : str
        The field, key or attribute that it is about, where it is about a single one; a form shows it there.
    """

    code = "valuation"

    def __init__(self, message: str = "", *, where: str = "") -> None:
        super().__init__(message)
        self.where = where


class SchemaError(ValuationError, ValueError):
    """A schema file or a schema object contradicts itself or cannot be read."""

    code = "schema.invalid"


class TableError(ValuationError, ValueError):
    """A table of comparables cannot be read at all (a fault of one row is a ``Fault``, not an error)."""

    code = "comparables.unreadable"


class TooFewSalesError(ValuationError, ValueError):
    """There are fewer usable sales than the question needs."""

    code = "comparables.too_few"


class VehicleError(ValuationError, ValueError):
    """A vehicle to be valued has an attribute that the schema does not know or cannot accept."""

    code = "vehicle.invalid"


class RegressionError(ValuationError, ValueError):
    """The regression was given data or settings that it cannot use."""

    code = "regression.invalid"


class EvidenceError(ValuationError, ValueError):
    """A piece of evidence (ratio study, diagnostics, index, calibration) was given figures that it cannot use."""

    code = "evidence.invalid"


class ModelFileError(ValuationError, ValueError):
    """A saved model is damaged, foreign or newer than this program."""

    code = "model.refused"


class PlanError(ValuationError, ValueError):
    """A build plan, a goal or a sale setting contradicts itself."""

    code = "plan.invalid"


class OfferError(ValuationError, ValueError):
    """An offer or an offer log cannot be used."""

    code = "offer.invalid"


class SheetError(ValuationError, ValueError):
    """A sheet cannot be made from what was given (for example a photograph that is none)."""

    code = "sheet.invalid"


class LedgerError(ValuationError, RuntimeError):
    """The ledger cannot be opened, migrated, written or trusted."""

    code = "ledger.invalid"


class UnlikelyError(LedgerError):
    """A figure or a day is so unlikely that it is asked about once more before it is written."""

    code = "ledger.unlikely"


def shortlist(items: list[str], limit: int = 10) -> str:
    """Join names for a message: at most ``limit`` of them, then how many more there are.

    Parameters
    ----------
    items : list of str
    limit : int
        How many are named at most.

    Examples
    --------
    >>> shortlist(["a", "b", "c"], limit=2)
    'a, b and 1 more'
    """
    if len(items) <= limit:
        return ", ".join(items)
    return f"{', '.join(items[:limit])} and {len(items) - limit} more"


def shown(value: object) -> str:
    """What was found, for a message: its ``repr``, cut short however large or deeply nested it is.

    Examples
    --------
    >>> shown("drvier"), shown([1, 2, 3]), shown(dt.date(2027, 5, 30))
    ("'drvier'", '[1, 2, 3]', '2027-05-30')
    """
    if isinstance(value, dt.date):
        return value.isoformat()
    return _SHOWN.repr(value)


class _Shown(reprlib.Repr):
    """Short words for anything; a whole number beyond Python's limit of digits has none of its own."""

    def __init__(self) -> None:
        super().__init__()
        self.maxlevel, self.maxstring, self.maxother, self.maxlong = 4, 120, 120, 60

    def repr_int(self, x: int, level: int) -> str:
        digits = int(x.bit_length() * 0.30103) + 1
        return super().repr_int(x, level) if digits <= self.maxlong else f"a number of {digits:,} digits"


_SHOWN = _Shown()
