"""Reading a hand-written TOML table: each figure checked, each error naming file, table, key, value and mend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError, shown
from valuation.text.dates import NO_DATE, possible_day, read_day
from valuation.text.money import read_amount, read_money
from valuation.text.numbers import DOUBT, finite_number, read_number
from valuation.text.reading import Reading
from valuation.text.spelling import did_you_mean


@dataclass(slots=True)
class TomlTable:
    """One table of a plan file.

    Parameters
    ----------
    file : str
        The file's name, for messages.
    name : str
        The table's name as the file spells it, such as ``[sale]``; empty for the top.
    data : mapping
    absent : list of str
        Filled with the names of the keys that were asked for with a default and were not there.
    currency : str
        Of the plan; empty when it names none.
    """

    file: str
    name: str
    data: Mapping[str, Any]
    absent: list[str] = field(default_factory=list)
    currency: str = ""

    def where(self, key: str = "") -> str:
        """The place of a key, or of the table, in a form: ``shop.crew``, ``step 'paint'.cost``."""
        return ".".join(filter(None, [self.name.strip("[]:"), key]))

    def refusal(self, key: str, why: str, mend: str) -> PlanError:
        """The error for one key.

        Parameters
        ----------
        key : str
            The entry's name.
        why : str
            What was found.
        mend : str
            What to do about it.
        """
        place = f"{self.name} {key}".strip()
        return PlanError(f"Cannot use the plan {self.file}: {place} {why} {mend}", where=self.where(key))

    def only(self, *known: str) -> None:
        """Refuse keys that are not known."""
        for key in self.data:
            if key not in known:
                raise self.refusal(key, "is not known.", f"Known here: {', '.join(known)}.{did_you_mean(key, known)}")

    def table(self, key: str) -> TomlTable | None:
        """A table below this one, or None."""
        if key not in self.data:
            return None
        value = self.data[key]
        if not isinstance(value, dict):
            raise self.refusal(key, f"is {shown(value)}, not a table.", f"Start it with a line [{key}].")
        return TomlTable(self.file, f"[{key}]", value, currency=self.currency)

    def text(self, key: str, default: str | None = None) -> str:
        """A line of text; refused when it is missing and has no default.

        Parameters
        ----------
        key : str
            The entry's name.
        default : str or None
            Where the entry is missing.
        """
        if key not in self.data:
            if default is None:
                raise self.refusal(key, "is missing.", f'Write {key} = "...".')
            return default
        value = self.data[key]
        if not isinstance(value, str) or not value.strip():
            raise self.refusal(key, f"is {shown(value)}, not a text.", f'Write it in quotes: {key} = "...".')
        return value.strip()

    def number(self, key: str, default: float, unit: str) -> float:
        """A plain finite number.

        Parameters
        ----------
        key : str
            The entry's name.
        default : float
            Where the entry is missing.
        unit : str
            What it is counted in, for messages.
        """
        if key not in self.data:
            self.absent.append(key)
            return default
        return self._finite(key, self.data[key], unit)

    def whole(self, key: str, default: int, unit: str) -> int:
        """A whole number.

        Parameters
        ----------
        key : str
            The entry's name.
        default : int
            Where the entry is missing.
        unit : str
            What it is counted in, for messages.
        """
        value = self.number(key, float(default), unit)
        if value != int(value):
            raise self.refusal(key, f"is {value:g}.", f"A whole number is accepted ({unit}).")
        return int(value)

    def choice(self, key: str, default: str, accepted: Sequence[str]) -> str:
        """One of a few words.

        Parameters
        ----------
        key : str
            The entry's name.
        default : str
            Where the entry is missing.
        accepted : sequence of str
            Words to choose from.
        """
        value = self.text(key, default)
        if value not in accepted:
            hint = did_you_mean(value, accepted)
            raise self.refusal(key, f"is {shown(value)}.", f"Accepted: {', '.join(accepted)}.{hint}")
        return value

    def day(self, key: str) -> date | None:
        """A date, or None."""
        if key not in self.data:
            return None
        value = self.data[key]
        mend = f"Write year-month-day: {key} = 2027-05-30."
        if not isinstance(value, str | date):
            raise self.refusal(key, f"is {shown(value)}, not a date.", mend)
        try:
            if isinstance(value, str):
                return read_day(value, Reading())
            return possible_day(value.date() if isinstance(value, datetime) else value)
        except ValueError as problem:
            why = "not a date" if str(problem) == NO_DATE else f"which {problem}"
            raise self.refusal(key, f"is {shown(value)}, {why}.", mend) from None

    def words(self, key: str) -> tuple[str, ...]:
        """A list of words, or one word."""
        value = self.data.get(key, [])
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
            raise self.refusal(key, f"is {shown(value)}, not a list of step ids.", f'Write {key} = ["...", "..."].')
        return tuple(value)

    def three_point(self, key: str, default: ThreePoint, unit: str) -> ThreePoint:
        """A list of low, likely and high, or one number.

        Parameters
        ----------
        key : str
            The entry's name.
        default : ThreePoint
            Where the entry is missing.
        unit : str
            What it is counted in, for messages.
        """
        if key not in self.data:
            self.absent.append(key)
            return default
        value = self.data[key]
        figures = value if isinstance(value, list) else [value]
        if len(figures) not in (1, 3):
            raise self.refusal(key, f"has {len(figures)} figures.", f"Accepted: one, or low, likely and high ({unit}).")
        numbers = [self._finite(key, figure, unit) for figure in figures]
        low, likely, high = numbers if len(numbers) == 3 else numbers * 3
        if low < 0:
            raise self.refusal(key, f"is {shown(value)}; a figure is below 0.", f"Write figures of 0 or more ({unit}).")
        if not low <= likely <= high:
            raise self.refusal(
                key,
                f"is {shown(value)}; low {low:g}, likely {likely:g} and high {high:g} must not fall.",
                "Write the smallest figure first.",
            )
        return ThreePoint(low, likely, high)

    def _finite(self, key: str, value: object, unit: str) -> float:
        mend = f"A plain number is accepted ({unit}), without a unit or a currency sign."
        if isinstance(value, str):
            return self._written(key, value, unit, mend)
        number = finite_number(value)
        if number is None:
            raise self.refusal(key, f"is {shown(value)}.", mend)
        return number

    def _written(self, key: str, text: str, unit: str, mend: str) -> float:
        """A number in quotes, as a person writes it; money with no other currency than the plan's."""
        try:
            if not unit.startswith("money"):
                return read_number(text, DOUBT if "." in text else "")
            if self.currency or not read_money(text).currency:
                return read_amount(text, self.currency)
        except ValueError as problem:
            raise self.refusal(key, f"is {shown(text)}, which {problem}.", mend) from None
        mend = f'{mend[:-1]}; or name the currency of the plan: currency = "...".'
        raise self.refusal(key, f"is {shown(text)}.", mend)
