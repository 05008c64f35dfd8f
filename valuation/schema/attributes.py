"""Attributes: what a column of the table means and how its values are ordered."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from valuation.errors import SchemaError
from valuation.view import Said

Direction = Literal["up", "down"]
MissingRule = Literal["average", "lowest", "refuse"]
Difference = Literal["", "much", "little"]


class Role(StrEnum):
    """How an attribute enters the regression.

    ``number``: a straight line (its log where the data prefer it) with a shrunken bend; ``smooth``: a curve, such as
    model year; ``count``: small whole numbers; ``ordinal``: ordered levels; ``nominal``: unordered levels; ``flag``:
    yes or no; ``date``: a calendar date, a curve in years.
    """

    NUMBER = "number"
    SMOOTH = "smooth"
    COUNT = "count"
    ORDINAL = "ordinal"
    NOMINAL = "nominal"
    FLAG = "flag"
    DATE = "date"


@dataclass(frozen=True, slots=True)
class Expectation:
    """What the trade expects one step of an attribute to be worth, before the table speaks.

    Parameters
    ----------
    percent : float
        Price change in percent for one step up an ordinal scale, for ``per`` units of a number or count, or for a
        flag being true. Must be above -100.
    give_or_take : float
        One standard deviation of that expectation, in percentage points; > 0. Small means sure.
    per : float
        Units of a number or count to which ``percent`` belongs; 1 for ordinals and flags.
    """

    percent: float
    give_or_take: float
    per: float = 1.0

    def __post_init__(self) -> None:
        if not self.percent > -100:
            raise SchemaError(f"An expected effect must be above -100 percent; found {self.percent}.")
        if not self.give_or_take > 0:
            raise SchemaError(
                f"'give_or_take' of an expected effect must be above 0 percentage points; found {self.give_or_take}."
            )
        if not self.per > 0:
            raise SchemaError(f"'per' of an expected effect must be above 0 units; found {self.per}.")


@dataclass(frozen=True, slots=True)
class Level:
    """One level of an ordinal or nominal attribute, with what it means and the other spellings it goes by."""

    name: str
    meaning: str = ""
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, repr=False)
class Attribute(Said):
    """One priced attribute of a vehicle (or of whatever the table lists).

    Parameters
    ----------
    name : str
        Column name in code, files and JSON.
    role : Role
        How it enters the regression.
    label : str
        Name shown to people; the name with spaces when empty.
    levels : tuple of Level
        In rising order for ``ordinal`` (at least two); for ``nominal`` a closed set, or empty for an open one.
    direction : {"up", "down"} or None
        Whether more (or a later level) is expected to be worth more or less. With a direction the fitted effect
        never runs the other way. ``None``: the table alone decides.
    expected : Expectation or None
        Expected effect per step and how sure.
    levels_differ : {"", "much", "little"}
        How far prices of the levels of a ``nominal`` are expected to lie apart before the table speaks; empty: as far
        as is usual.
    missing : {"average", "lowest", "refuse"}
        A missing cell is treated as unknown (the table's average, with a wider interval), as the lowest level, or
        sets the row aside.
    required : bool
        Whether the column must be in the table.
    unit : str
        For example ``"miles"``; shown beside numbers.
    minimum, maximum : float or None
        Smallest and largest possible value of a number; outside it the row is a fault.
    aliases : tuple of str
        Other headers this column goes by.
    meaning : str
        One sentence for the data dictionary and for forms.
    """

    name: str
    role: Role
    label: str = ""
    levels: tuple[Level, ...] = ()
    direction: Direction | None = None
    expected: Expectation | None = None
    levels_differ: Difference = ""
    missing: MissingRule = "average"
    required: bool = False
    unit: str = ""
    minimum: float | None = None
    maximum: float | None = None
    aliases: tuple[str, ...] = ()
    meaning: str = ""

    def _said(self) -> str:
        levels = f" of {len(self.levels)} levels" if self.levels else ""
        return f"{self.title}: {self.role.value}{levels}{f', in {self.unit}' if self.unit else ''}"

    @property
    def title(self) -> str:
        """The label, or the name with spaces for underscores."""
        return self.label or self.name.replace("_", " ")

    @property
    def level_names(self) -> tuple[str, ...]:
        """Names of the levels in order; empty for numbers and open nominals."""
        return tuple(level.name for level in self.levels)
