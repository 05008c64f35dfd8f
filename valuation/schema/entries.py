"""Entries of a hand-written TOML file: typed reading with errors that name file, table, key, value and mend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from valuation.errors import SchemaError
from valuation.schema.checks import refusal
from valuation.text.numbers import finite_number
from valuation.text.spelling import did_you_mean


@dataclass(frozen=True, slots=True)
class Entries:
    """One table of a schema file.

    Parameters
    ----------
    file : str
        The file's name, for messages.
    path : str
        The table's name such as ``attributes.condition``; empty for the top of the file.
    data : mapping
        What the TOML reader found.
    """

    file: str
    path: str
    data: Mapping[str, Any]

    @property
    def place(self) -> str:
        """The table as the file spells it, for messages."""
        return f"[{self.path}]" if self.path else "at the top,"

    def refusal(self, key: str, why: str, mend: str) -> SchemaError:
        """The error for one key of this table.

        Parameters
        ----------
        key : str
            The entry's name.
        why : str
            What was found.
        mend : str
            What to do about it.
        """
        return refusal(self.file, f"{self.place} {key}", why, mend)

    def refuse_unknown(self, known: Sequence[str], renamed: Mapping[str, str]) -> None:
        """Refuse a key that is not known, suggesting the nearest one (or what ``renamed`` says is meant).

        Parameters
        ----------
        known : sequence of str
            Accepted keys.
        renamed : mapping of str to str
            What is meant by keys that people often write instead.
        """
        for key in self.data:
            if key not in known:
                hint = f" Did you mean '{renamed[key]}'?" if key in renamed else did_you_mean(key, known)
                raise self.refusal(key, "is not known here.", f"The entries are {', '.join(known)}.{hint}")

    def text(self, key: str) -> str:
        """A text; empty when the key is absent."""
        value = self.data.get(key, "")
        if not isinstance(value, str):
            raise self.refusal(key, f"= {value!r} is not text.", f'Write it in quotes: {key} = "...".')
        return value.strip()

    def flag(self, key: str) -> bool:
        """A yes or no; false when the key is absent."""
        value = self.data.get(key, False)
        if not isinstance(value, bool):
            raise self.refusal(key, f"= {value!r} is neither true nor false.", f"Write {key} = true or {key} = false.")
        return value

    def number(self, key: str) -> float | None:
        """A finite number; ``None`` when the key is absent."""
        value = self.data.get(key)
        if value is None:
            return None
        if (number := finite_number(value)) is None:
            raise self.refusal(key, f"= {value!r} is not a number.", f"Write it without quotes: {key} = 10.")
        return number

    def numbers(self) -> dict[str, float]:
        """All entries of this table as numbers, by name."""
        return {key: number for key in self.data if (number := self.number(key)) is not None}

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty when the key is absent."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(word, str) and word.strip() for word in value):
            raise self.refusal(key, f"= {value!r} is not a list of texts.", f'Write {key} = ["...", "..."].')
        return tuple(word.strip() for word in value)

    def choice(self, key: str, accepted: Sequence[str], *, required: bool = False) -> str:
        """One of ``accepted``; empty when the key is absent and not required.

        Parameters
        ----------
        key : str
            The entry's name.
        accepted : sequence of str
            Texts to choose from.
        required : bool
            Whether the entry must be there.
        """
        value = self.text(key)
        if not value and not required:
            return ""
        if value not in accepted:
            found = f'= "{value}" is not accepted.' if value else "is missing."
            hint = did_you_mean(value, accepted)
            raise self.refusal(key, found, f"Write one of {', '.join(accepted)}.{hint}")
        return value

    def table(self, key: str) -> Entries:
        """A table below this one; an empty one when the key is absent."""
        value = self.data.get(key, {})
        path = f"{self.path}.{key}" if self.path else key
        if not isinstance(value, dict):
            raise self.refusal(key, f"= {value!r} is not a table.", f"Start a table with [{path}].")
        return Entries(self.file, path, value)

    def tables_or_names(self, key: str, name_key: str) -> list[Entries]:
        """A list whose entries are tables, or texts that stand for a table with only a name.

        Parameters
        ----------
        key : str
            The entry's name.
        name_key : str
            The key that a lone text stands for.
        """
        value = self.data.get(key, [])
        path = f"{self.path}.{key}"
        if not isinstance(value, list) or not all(isinstance(entry, str | dict) for entry in value):
            raise self.refusal(key, f"= {value!r} is not a list of names.", f'Write {key} = ["...", "..."].')
        return [Entries(self.file, path, {name_key: e} if isinstance(e, str) else e) for e in value]
