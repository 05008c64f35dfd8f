"""Values: from what a cell or a vehicle file says to what an attribute holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from valuation.errors import shortlist, shown
from valuation.schema.attributes import Attribute, Role
from valuation.schema.checks import NUMERIC
from valuation.text.dates import read_date
from valuation.text.numbers import (
    DOUBT,
    NO_RESULT,
    both_readings,
    is_error,
    is_missing,
    letters_as_digits,
    read_number,
)
from valuation.text.reading import Reading
from valuation.text.spelling import level_key, nearest, one_meant

Value = str | float | bool | dt.date
"""A known value: a level's name, a number, yes or no, or a date."""

YES_WORDS = frozenset(
    {"yes", "y", "true", "t", "1", "x", "on", "✓", "✔", "☑", "🗹", "ja", "oui", "si", "sí", "wahr", "vrai", "verdadero"}
)
"""What a flag's cell says when it is true, in lower case: words, ticks, and what other languages' spreadsheets export.
A crossed box (☒) is in neither list, since some cross a box for yes and some for no."""

NO_WORDS = frozenset({"no", "n", "false", "f", "0", "off", "☐", "✗", "✘", "nein", "non", "falsch", "faux", "falso"})
"""What a flag's cell says when it is false, in lower case."""


@dataclass(frozen=True, slots=True)
class CellFault:
    """Why a text cannot be a value, what to do about it, and the text to write where there is one answer."""

    code: str
    why: str
    mend: str
    suggestion: str = ""


def as_text(value: object) -> str:
    """A cell's text, however the file stores it: whole numbers without a point, dates in ISO form, yes and no.

    Examples
    --------
    >>> as_text(1951.0), as_text(True), as_text(None)
    ('1951', 'yes', '')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return _float_text(value)
    if isinstance(value, dt.datetime):
        # A missing time (pandas' NaT) is a datetime that does not equal itself.
        if value != value:
            return ""
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    return str(value)


def _float_text(number: float) -> str:
    if number != number:
        return ""
    if number.is_integer():
        return str(int(number))
    text = repr(number)
    # 12.125 as text could be twelve thousand elsewhere; 12.1250 cannot.
    return text + "0" if len(text.partition(".")[2]) == 3 and "e" not in text else text


def read_value(attribute: Attribute, text: str, reading: Reading) -> Value | CellFault | None:
    """The value that a text stands for; ``None`` when it says that nothing is known.

    Parameters
    ----------
    attribute : Attribute
        Whose value it is.
    text : str
        As the cell holds it.
    reading : Reading
        How to read what can be read in two ways.
    """
    body = text.strip()
    if is_error(body):
        return spreadsheet_error(body)
    if attribute.levels:
        return _level(attribute, body)
    if is_missing(body):
        return None
    return _READERS[attribute.role](attribute, body, reading)


def spreadsheet_error(text: str) -> CellFault:
    """The fault of a cell that holds what a spreadsheet shows when it cannot work a value out."""
    if text == NO_RESULT:
        why = "The cell is a formula, and the file does not hold its result."
        return CellFault("spreadsheet_error", why, "Open the file in a spreadsheet program and save it there once.")
    mend = "Mend the formula in the spreadsheet, write the value itself, or leave the cell blank."
    return CellFault("spreadsheet_error", f"'{text}' is an error of the spreadsheet and no value.", mend)


@lru_cache(maxsize=256)
def level_index(attribute: Attribute) -> dict[str, str]:
    """Level names by the spelling key of each name and alias."""
    return {level_key(word): level.name for level in attribute.levels for word in (level.name, *level.aliases)}


def _level(attribute: Attribute, text: str) -> str | CellFault | None:
    found = level_index(attribute).get(level_key(text))
    if found is not None:
        return found
    if is_missing(text):
        return None
    spellings = [word for level in attribute.levels for word in (level.name, *level.aliases)]
    close = nearest(text, spellings)
    names = shortlist(list(attribute.level_names))
    if close:
        mend = f"Write '{level_index(attribute)[level_key(close[0])]}' if that is meant; the levels are {names}."
    else:
        mend = f"Write one of {names}, or add {shown(text)} to the aliases of a level in the schema."
    meant = one_meant(text, {word: level_index(attribute)[level_key(word)] for word in spellings})
    return CellFault("unknown_level", f"{shown(text)} is not a level of {attribute.name}.", mend, meant)


def _open_level(attribute: Attribute, text: str, reading: Reading) -> str:
    return " ".join(text.split())


def _flag(attribute: Attribute, text: str, reading: Reading) -> bool | CellFault:
    word = text.casefold()
    if word in YES_WORDS or word in NO_WORDS:
        return word in YES_WORDS
    meant = one_meant(text, {**dict.fromkeys(YES_WORDS, "yes"), **dict.fromkeys(NO_WORDS, "no")})
    mend = "Write yes or no, or leave the cell blank."
    return CellFault("not_a_flag", f"{shown(text)} is neither yes nor no.", mend, meant)


def _date(attribute: Attribute, text: str, reading: Reading) -> dt.date | CellFault:
    try:
        return read_date(text, day_first=bool(reading.day_first), today=reading.today)[0]
    except ValueError as problem:
        return CellFault("impossible_date", f"{shown(text)} {problem}.", "Write the date as 2024-05-31.")


def _number(attribute: Attribute, text: str, reading: Reading) -> float | CellFault:
    body = text
    if attribute.unit and body.casefold().endswith(attribute.unit.casefold()):
        body = body[: -len(attribute.unit)].rstrip()
    try:
        number = read_number(body, reading.mark or (DOUBT if "." in body else ""))
    except ValueError as problem:
        unit = f" of {attribute.unit}" if attribute.unit else ""
        mend = f"Write a plain number{unit} such as {_example(attribute)}, or leave the cell blank."
        if both_readings(body):
            mend = "Write the one that is meant, or set decimal_mark in the schema to the mark before decimals."
        meant = letters_as_digits(body)
        possible = bool(meant) and not isinstance(_number(attribute, meant, reading), CellFault)
        return CellFault("not_a_number", f"{shown(text)} {problem}.", mend, meant if possible else "")
    return _possible(attribute, text, number)


def _possible(attribute: Attribute, text: str, number: float) -> float | CellFault:
    low, high = attribute.minimum, attribute.maximum
    if attribute.role is Role.COUNT and (not number.is_integer() or number < 0):
        return CellFault(
            "not_a_count", f"'{text}' is not a count of {attribute.title}.", "Write a whole number such as 2."
        )
    if (low is None or number >= low) and (high is None or number <= high):
        return number
    span = possible_span(attribute)
    if low is not None and low >= 1000 and 0 <= number < 100:
        return CellFault(
            "impossible_number",
            f"'{text}' is not a complete {attribute.title}; {span} is accepted.",
            f"Write all four digits, such as {1900 + int(number)}.",
        )
    return CellFault(
        "impossible_number",
        f"{attribute.title} {text} is out of range; {span} is accepted.",
        "Correct the number, or leave the cell blank; the schema sets the range.",
    )


def possible_span(attribute: Attribute) -> str:
    """The numbers an attribute can take, in words."""
    low, high = attribute.minimum, attribute.maximum
    unit = f" {attribute.unit}" if attribute.unit else ""
    if low is not None and high is not None:
        return f"{low:.12g} to {high:.12g}{unit}"
    if low is not None:
        return f"{low:.12g}{unit} or more"
    return f"{high:.12g}{unit} or less" if high is not None else f"any number{unit}"


def _example(attribute: Attribute) -> str:
    if attribute.minimum is not None and attribute.maximum is not None:
        return f"{(attribute.minimum + attribute.maximum) // 2:.12g}"
    return "1200" if attribute.minimum is None else f"{attribute.minimum + 1:.12g}"


_Reader = Callable[[Attribute, str, Reading], Value | CellFault]
_READERS: dict[Role, _Reader] = {
    **dict.fromkeys(NUMERIC, _number),
    Role.NOMINAL: _open_level,
    Role.ORDINAL: _open_level,
    Role.FLAG: _flag,
    Role.DATE: _date,
}
