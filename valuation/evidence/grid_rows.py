"""What an adjustment grid consists of: lines, rows, and the figure that they reconcile to."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from valuation.notes import Note
from valuation.view import View, Viewed, as_money


@dataclass(frozen=True, slots=True)
class GridLine:
    """One difference between a comparable and the subject, priced.

    Attributes
    ----------
    attribute, title : str
        ``"interaction"`` for two attributes mattering together.
    from_level, to_level : str
        The comparable's and the subject's, as people read them.
    factor : float
        What the difference multiplies the price by; below 1 where the comparable is the better one.
    cents : int
        The same as an amount on the price adjusted so far, in hundredths of the currency.
    """

    attribute: str
    title: str
    from_level: str
    to_level: str
    factor: float
    cents: int

    @property
    def amount(self) -> float:
        """The amount in money."""
        return self.cents / 100

    def as_dict(self) -> dict[str, Any]:
        """The line as the JSON answers show it."""
        return {
            "attribute": self.attribute,
            "from_level": self.from_level,
            "to_level": self.to_level,
            "factor": self.factor,
            "amount": self.amount,
        }


@dataclass(frozen=True, slots=True)
class GridRow:
    """One comparable adjusted to the subject.

    Attributes
    ----------
    sale, outcome, source : str
        Its name in the table, how the price came about, and where it is from.
    date : date or None
        Day of the sale.
    price_cents, adjusted_cents : int
        Buyer-pays price (highest bid, asking price) and adjusted price, in hundredths of the currency.
    lines : tuple of GridLine
        In the fixed order; ``price_cents`` and their cents add up to ``adjusted_cents``.
    distance : float
        How far it lies from the subject, log units; see ``Grid.notes``.
    weight : float
        Its share in the reconciled figure; 0 for a row that was not sold.
    why : str
        Why it is in the grid, in words.
    """

    sale: str
    outcome: str
    source: str
    date: dt.date | None
    price_cents: int
    adjusted_cents: int
    lines: tuple[GridLine, ...]
    distance: float
    weight: float
    why: str

    @property
    def price(self) -> float:
        """Buyer-pays price, money."""
        return self.price_cents / 100

    @property
    def adjusted_price(self) -> float:
        """Price adjusted to the subject and the as-of date, money."""
        return self.adjusted_cents / 100

    @property
    def net(self) -> float:
        """Sum of the adjustments, money."""
        return (self.adjusted_cents - self.price_cents) / 100

    @property
    def gross(self) -> float:
        """Sum of the sizes of the adjustments, money."""
        return sum(abs(line.cents) for line in self.lines) / 100

    @property
    def gross_percent(self) -> float:
        """Gross adjustment in percent of the price."""
        return 100 * self.gross / self.price

    def as_dict(self) -> dict[str, Any]:
        """The row as the JSON answers show it."""
        return {
            "sale": self.sale,
            "date": self.date.isoformat() if self.date else None,
            "outcome": self.outcome,
            "source": self.source,
            "price": self.price,
            "lines": [line.as_dict() for line in self.lines],
            "adjusted_price": self.adjusted_price,
            "net": self.net,
            "gross": self.gross,
            "weight": self.weight,
        }


@dataclass(frozen=True, slots=True, repr=False)
class Grid(Viewed):
    """The adjustment grid of one vehicle.

    Attributes
    ----------
    rows : tuple of GridRow
        Nearest first.
    reconciled : float or None
        Weighted geometric mean of the adjusted prices of the sold rows, money; None without any.
    estimate : float
        The model's own estimate, which rests on every sale and not on these alone.
    notes : tuple of Note
        How rows were chosen and weighted, and how to read the adjustments.
    """

    rows: tuple[GridRow, ...]
    reconciled: float | None
    estimate: float
    notes: tuple[Note, ...]

    def _view(self) -> View:
        return View(
            title=f"Adjustment grid of {len(self.rows)} rows",
            facts=(f"reconciled {as_money(self.reconciled)}", f"estimate from all sales {as_money(self.estimate)}"),
            header=("sale", "date", "outcome", "price", "adjusted by", "adjusted", "weight"),
            rows=[
                (
                    row.sale,
                    str(row.date or ""),
                    row.outcome,
                    as_money(row.price),
                    f"{row.net:+,.0f}",
                    as_money(row.adjusted_price),
                    f"{row.weight:.0%}",
                )
                for row in self.rows
            ],
            notes=self.notes,
        )


def reconcile(rows: tuple[GridRow, ...]) -> float | None:
    """Weighted geometric mean of the adjusted prices, money; None when no row has weight."""
    total = sum(row.weight for row in rows)
    if not total > 0:
        return None
    return float(np.exp(sum(row.weight * np.log(row.adjusted_price) for row in rows) / total))
