"""What an estimate consists of, as plain data: its interval, and a factor for each attribute."""

from __future__ import annotations

from dataclasses import dataclass

from valuation.text.plain import OpenSide
from valuation.text.rounding import told
from valuation.view import Said


@dataclass(frozen=True, slots=True, repr=False)
class Interval(Said):
    """A range of prices with the coverage it was asked for; money."""

    coverage: float
    low: OpenSide
    high: OpenSide

    def _said(self) -> str:
        return f"{self.coverage:.0%} from {told(self.low)} to {told(self.high)}"


@dataclass(frozen=True, slots=True, repr=False)
class Factor(Said):
    """What one attribute multiplies the price of the table's average vehicle by.

    Parameters
    ----------
    attribute : str
        Name of the attribute; ``"interaction"`` for the block of two attributes together.
    level : str
        The vehicle's value as text; ``"unknown"`` for an empty cell.
    factor, low, high : float
        Multiplier and its interval (of the effect, at the coverage of the valuation).
    """

    attribute: str
    level: str
    factor: float
    low: float
    high: float

    def _said(self) -> str:
        return f"{self.attribute} {self.level}: times {self.factor:.3f} ({self.low:.3f} to {self.high:.3f})"
