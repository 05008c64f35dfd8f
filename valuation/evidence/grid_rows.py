"""What an adjustment grid consists of: lines, rows, and the figure that they reconcile to."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from valuation.notes import Note
from valuation.text.rounding import told
from valuation.view import Said, View, Viewed, as_money

INTERACTION_TITLE = "Two attributes together"


@dataclass(frozen=True, slots=True, repr=False)
class GridLine(Said):
    """One difference between a comparable and the subject, priced.

    Attributes
    ----------
    attribute : str
        ``"interaction"`` for two attributes mattering together.
    from_level, to_level : str
        The comparable's and the subject's, as people read them.
    factor : float
        What the difference multiplies the price by; below 1 where the comparable is the better one.
    amount : float
        The same in money on the price adjusted so far, in whole hundredths of the currency.
    title : str
        The attribute as people read it; empty in a grid that was kept before lines held it.
    """

    attribute: str
    from_level: str
    to_level: str
    factor: float
    amount: float
    title: str = ""

    def _said(self) -> str:
        return f"{self.title or self.attribute}, {self.from_level} to {self.to_level}: {self.amount:+,.2f}"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class GridRow(Viewed):
    """One comparable adjusted to the subject; the price and the amounts of the lines add up to the adjusted price.

    Attributes
    ----------
    row : int
        Its number in the table, as a spreadsheet shows it; 0 in a grid that was kept before rows held it.
    sale, outcome, source : str
        Its name in the table, how the price came about, and where it is from.
    date : date or None
        Day of the sale.
    price, adjusted_price : float
        Buyer-pays price (highest bid, asking price), and the same adjusted to the subject and the as-of date; money in
        whole hundredths of the currency.
    lines : tuple of GridLine
        In the fixed order.
    net, gross, gross_percent : float
        Sum of the adjustments, sum of their sizes, and that in percent of the price.
    weight : float
        Its share in the reconciled figure; 0 for a row that was not sold.
    distance : float
        How far it lies from the subject, log units; see ``Grid.notes``.
    why : str
        Why it is in the grid, in words. Empty, as ``distance`` is 0, in a grid that was kept before rows held it.
    as_written : str
        The price as the owner wrote it with what was added, such as ``6,250 and 10 % premium: 6,875``; empty in a grid
        that was kept before rows held it.
    """

    sale: str
    date: dt.date | None
    outcome: str
    source: str
    price: float
    lines: tuple[GridLine, ...]
    adjusted_price: float
    net: float = field(init=False, default=0.0)
    gross: float = field(init=False, default=0.0)
    gross_percent: float = field(init=False, default=0.0)
    weight: float
    distance: float = 0.0
    why: str = ""
    as_written: str = ""
    row: int = 0

    def __post_init__(self) -> None:
        gross = sum(abs(in_cents(line.amount)) for line in self.lines) / 100
        object.__setattr__(self, "net", (in_cents(self.adjusted_price) - in_cents(self.price)) / 100)
        object.__setattr__(self, "gross", gross)
        object.__setattr__(self, "gross_percent", 100 * gross / self.price)

    def _view(self) -> View:
        return View(
            title=self.sale,
            facts=(
                f"{as_money(self.price)}, adjusted {as_money(self.adjusted_price)}",
                f"{self.weight:.0%} of the weight",
            ),
            header=("attribute", "that sale", "this vehicle", "times", "amount"),
            rows=[
                (one.title, one.from_level, one.to_level, f"{one.factor:.3f}", f"{one.amount:+,.2f}")
                for one in self.lines
            ],
        )


def in_cents(amount: float) -> int:
    """Money in hundredths of the currency, in which a grid adds up."""
    return round(100 * amount)


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
        header, rows = grid_table(self.rows)
        return View(
            title=f"Adjustment grid of {len(self.rows)} rows",
            facts=(f"reconciled {told(self.reconciled)}", f"estimate from all sales {told(self.estimate)}"),
            header=header,
            rows=rows,
            notes=self.notes,
        )


def grid_table(rows: tuple[GridRow, ...]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Header and cells of a grid as a view shows them."""
    header = ("sale", "date", "outcome", "price", "adjusted by", "adjusted", "weight")
    return header, [
        (
            row.sale,
            str(row.date or ""),
            row.outcome,
            as_money(row.price),
            f"{row.net:+,.0f}",
            as_money(row.adjusted_price),
            f"{row.weight:.0%}",
        )
        for row in rows
    ]


def reconcile(rows: tuple[GridRow, ...]) -> float | None:
    """Weighted geometric mean of the adjusted prices, money; None when no row has weight."""
    total = sum(row.weight for row in rows)
    if not total > 0:
        return None
    return float(np.exp(sum(row.weight * np.log(row.adjusted_price) for row in rows) / total))
