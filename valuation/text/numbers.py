"""Numerals: numbers as people write them in tables, with thousands separators and either decimal mark."""

from __future__ import annotations

import re
from collections.abc import Iterable

MISSING_WORDS = frozenset(
    {"", "-", "--", "–", "—", "?", "n/a", "na", "nan", "nat", "null", "none", "unknown", "not known", "#n/a", "<na>"}
)
"""Cells that say that nothing is known, in lower case; a level of that name takes precedence."""

NO_RESULT = "#NO RESULT"
"""What a cell reads as whose formula has no result in the file."""

_ERROR = re.compile(
    rf"{NO_RESULT}|#(?:REF|VALUE|DIV/0|NUM|NULL|NAME|SPILL|CALC|BEZUG|WERT|ZAHL|VALOR|VALEUR|NOM|NOMBRE)[!?]|#+|Err:\d{{3}}"
)
"""Errors that a spreadsheet shows in place of a value; #N/A is left out: it says that nothing is known."""

DOUBT = "?"
"""The mark of a column that uses both, or of a text that nothing is told of: what could be either is refused."""

LARGEST = 1e15
"""Numbers beyond it, on either side of zero, are refused: past it not every whole number can be told apart."""

_CLEAR = re.compile(r"-?\d+(\.\d{1,2})?")
_PLAIN = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,'’\s]\d{3})+([.,]\d+)?|[+-]?\d*[.,]\d+|[+-]?\d+[.,]?")
_DOUBTFUL = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_INFINITE = {"inf", "infinity", "∞"}
_LIKE_ONE = re.compile(r"[lI](?=[\dOo])")  # at the end it may be a unit: litres
_LIKE_ZERO = str.maketrans("Oo", "00")


def is_missing(text: str) -> bool:
    """Whether a cell says that nothing is known: empty, a dash, n/a and the like."""
    return text.strip().casefold() in MISSING_WORDS


def is_error(text: str) -> bool:
    """Whether a cell holds what a spreadsheet shows when it cannot work a value out.

    Examples
    --------
    >>> is_error("#REF!"), is_error("#N/A"), is_error("#12")
    (True, False, False)
    """
    body = text.strip()
    return body[:1] in ("#", "E") and _ERROR.fullmatch(body) is not None


def decimal_mark(texts: Iterable[str]) -> str:
    """The decimal mark that a column's own cells prove: ``"."``, ``","``, ``""`` for no proof, ``"?"`` for both.

    Proof is a cell that can be read in one way only: both marks in one cell (the later one is the decimal mark), a
    mark that occurs twice (it separates thousands), or one that is not followed by exactly three digits.

    Examples
    --------
    >>> decimal_mark(["12.500,00", "9.750"]), decimal_mark(["12,500"]), decimal_mark(["1,5", "1.5"])
    (',', '', '?')
    """
    found: set[str] = set()
    for text in texts:
        found.add(_proof(letters_as_digits(text) or text))
        if len(found) == 3:
            return DOUBT
    found.discard("")
    return found.pop() if len(found) == 1 else (DOUBT if found else "")


def _proof(text: str) -> str:
    if text.isdigit():
        return ""
    body = re.sub(r"[^\d.,]", "", text).strip(".,")
    marks = [character for character in body if character in ".,"]
    if not marks:
        return ""
    if len(set(marks)) == 2:
        return marks[-1]
    mark = marks[0]
    if len(marks) > 1:
        return "," if mark == "." else "."
    before, after = body.split(mark)
    if len(after) == 3 and 1 <= len(before) <= 3 and before != "0":
        return ""
    return mark


def read_number(text: str, mark: str = "") -> float:
    """The number that a cell holds.

    Parameters
    ----------
    text : str
        Such as ``"12,500"``, ``"12.500,00"``, ``"12 500"``, ``"1.5e4"``; no currency sign and no unit.
    mark : str
        What :func:`decimal_mark` found for the column. Without proof one comma before three digits separates
        thousands and one point is a decimal point; with proof of both a cell that could be either is refused.

    Raises
    ------
    ValueError
        If the text is not a number, is infinite, or is ambiguous; the message says which.

    Examples
    --------
    >>> read_number("12,500"), read_number("12.500", mark=","), read_number("1,5")
    (12500.0, 12500.0, 1.5)
    """
    if _CLEAR.fullmatch(text):
        return _finite(text)
    body = text.strip().replace("−", "-")
    if body.startswith("(") and body.endswith(")"):  # accounting style for a negative amount
        body = "-" + body[1:-1]
    if body.casefold().lstrip("+-") in _INFINITE:
        raise ValueError("is infinite")
    if not _GROUPED.fullmatch(body):
        if _PLAIN.fullmatch(body):
            return _finite(body)
        raise ValueError("is not a number")
    own = _proof(body)
    if not own and mark == DOUBT and ("." in body or "," in body):
        raise ValueError(in_doubt(body))
    decimal = own or (mark if mark in (".", ",") else ".")
    thousands = "," if decimal == "." else "."
    cleaned = re.sub(r"['’\s]", "", body).replace(thousands, "").replace(decimal, ".")
    return _finite(cleaned)


def in_doubt(text: str) -> str:
    """Why a text is refused that can be read in two ways."""
    found = both_readings(text)
    return f"can be read as two numbers, {found[0]} and {found[1]}" if found else "can be read as two numbers"


def letters_as_digits(text: str) -> str:
    """A number in which letters stand for the digits that they look like, with those digits; empty when it is none.

    Examples
    --------
    >>> letters_as_digits("l95O"), letters_as_digits("2l"), letters_as_digits("1950")
    ('1950', '', '')
    """
    if text.isdigit() or not any(character.isdigit() for character in text):
        return ""
    fixed = _LIKE_ONE.sub("1", text).translate(_LIKE_ZERO)
    return fixed if fixed != text and not any(character.isalpha() for character in fixed) else ""


def finite_number(value: object) -> float | None:
    """A number of a file or a request as a finite one; ``None`` for anything else, yes and no and NaN included.

    Examples
    --------
    >>> finite_number(41), finite_number(10**400), finite_number(float("nan")), finite_number(True)
    (41.0, None, None, None)
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= LARGEST:
        return None
    return float(value)


def both_readings(text: str) -> tuple[str, str] | None:
    """The two numbers that a text can be when its only mark stands before three digits, written without doubt.

    Examples
    --------
    >>> both_readings("24.500"), both_readings("24.50")
    (('24500', '24.5'), None)
    """
    body = text.strip()
    if not _DOUBTFUL.fullmatch(body):
        return None
    whole, part = re.split("[.,]", body)
    return whole + part, f"{whole}.{part.rstrip('0') or '0'}"


def _finite(text: str) -> float:
    number = float(text)
    if not abs(number) <= LARGEST:
        raise ValueError(f"is too large; the largest number accepted is {LARGEST:.0e}")
    return number
