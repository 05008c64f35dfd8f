"""What a buyer sheet consists of: plain figures and words, before they are laid out."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from valuation.sheets.place import Place
from valuation.sheets.plain import LATER
from valuation.text.rounding import told
from valuation.view import View, Viewed

CellKind = Literal["text", "year", "number", "date"]


@dataclass(frozen=True, slots=True)
class Cell:
    """A value of an attribute as the table spells it, with what is needed to write it in a locale's way.

    Parameters
    ----------
    text : str
        Spelled as in evidence: a level, a bare number, an ISO date; ``unknown`` when it is not known.
    kind : {"text", "year", "number", "date"}
    unit : str
        Of a number; may be empty.
    """

    text: str
    kind: CellKind = "text"
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """One attribute of the vehicle."""

    title: str
    cell: Cell


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a level of a scale means, in the schema's words."""

    title: str
    level: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Seller:
    """What the seller adds about the vehicle and himself; every field may be left out.

    Parameters
    ----------
    asking_price : float or None
        Money; printed where the seller wants it there.
    engine_number : str
    graded_by : str
        Whose opinion the grades are.
    graded_on : date or None
    not_inspected : tuple of str
    contact : str
        Where the seller can be reached.
    """

    asking_price: float | None = None
    engine_number: str = ""
    graded_by: str = ""
    graded_on: dt.date | None = None
    not_inspected: tuple[str, ...] = ()
    contact: str = ""


@dataclass(frozen=True, slots=True)
class Adjustment:
    """One line of a comparable in the grid; ``cents`` is the amount in hundredths of the currency."""

    attribute: str
    title: str
    from_cell: Cell
    to_cell: Cell
    factor: float
    cents: int


@dataclass(frozen=True, slots=True)
class Comparable:
    """One column of the grid; its price and the cents of its lines add up to its adjusted price.

    ``row`` is its number in the table, by which the shop finds it again; it is not printed. ``source`` is what a buyer
    may read of where it is from, and ``named`` whether that is the table's own source (None on older sheets). Premium
    and fees are part of the price.
    """

    row: int
    source: str
    date: dt.date | None
    outcome: str
    price_cents: int
    premium_cents: int
    fees_cents: int
    lines: tuple[Adjustment, ...]
    adjusted_cents: int
    weight: float
    named: bool | None = field(default=None, metadata=LATER)


@dataclass(frozen=True, slots=True)
class Share:
    """What one attribute multiplies the price of the table's average vehicle by, with its interval."""

    attribute: str
    title: str
    cell: Cell
    factor: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Change:
    """What another level of an attribute would do to the price of this vehicle; percent with its interval, money."""

    attribute: str
    title: str
    from_cell: Cell
    to_cell: Cell
    kind: str
    percent: float
    low_percent: float
    high_percent: float
    money: float
    from_table: float


@dataclass(frozen=True, slots=True)
class Trial:
    """How the method fared on sales of the same table, priced as if unseen.

    Parameters
    ----------
    how : {"left out", "back-test"}
        Each sale priced from all others, or from earlier ones only.
    sales, inside : int
        Sales tried, and those whose price fell inside the interval.
    coverage : float
        That the interval promised.
    median_error_percent : float
        Half of the estimates were nearer to the price than this.
    """

    how: Literal["left out", "back-test"]
    sales: int
    inside: int
    coverage: float
    median_error_percent: float


@dataclass(frozen=True, slots=True)
class Ground:
    """What the estimate rests on.

    Parameters
    ----------
    sold, bid_not_met, asking, set_aside : int
        Rows of the table.
    not_shown : int
        Of those that count, rows that no buyer is shown.
    first_sale, last_sale : date or None
    median_age_months : float or None
        Half of the sales are younger than this on the as-of date.
    trial : Trial or None
    table : str
        File name of the table.
    table_fingerprint : str
    """

    sold: int
    bid_not_met: int
    asking: int
    set_aside: int
    not_shown: int
    first_sale: dt.date | None
    last_sale: dt.date | None
    median_age_months: float | None
    trial: Trial | None
    table: str
    table_fingerprint: str


@dataclass(frozen=True, slots=True, repr=False)
class BuyerSheet(Viewed):
    """Everything that a buyer sheet shows, before it is laid out.

    Parameters
    ----------
    vehicle, shop, remark : str
        Name of the vehicle; who hands out the sheet; the shop's own words about the vehicle. The last two may be empty.
    as_of : date
    currency : str
        Empty when the table names none.
    facts : tuple of Fact
    meanings : tuple of Meaning
        Of the grades that the sheet names.
    seller : Seller
    estimate, low, high : float
        Median and prediction interval of the buyer-pays price, money.
    coverage : float
    place : Place or None
        Comparables for the chart; None when the table was not at hand.
    grid : tuple of Comparable
    reconciled : float or None
        What the grid's sales come to together, money.
    base : float
        Price of the table's average vehicle, money; times every share's factor it is the estimate.
    shares : tuple of Share
    changes : tuple of Change
    ground : Ground
    warnings : tuple of str
        What makes the estimate weak for this very vehicle; it stands beside the figure.
    assumptions, notes : tuple of str
        What was assumed (the shop's own first) and what must be known.
    """

    vehicle: str
    shop: str
    remark: str
    as_of: dt.date
    currency: str
    facts: tuple[Fact, ...]
    meanings: tuple[Meaning, ...]
    seller: Seller
    estimate: float
    low: float
    high: float
    coverage: float
    place: Place | None
    grid: tuple[Comparable, ...]
    reconciled: float | None
    base: float
    shares: tuple[Share, ...]
    changes: tuple[Change, ...]
    ground: Ground
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]

    def _view(self) -> View:
        price = told(self.estimate, self.currency, width=self.high - self.low)
        return View(
            title=f"Buyer sheet of {self.vehicle}",
            facts=(
                f"{price}, {self.coverage:.0%} from {told(self.low)} to {told(self.high)}",
                f"as of {self.as_of}",
                "valuation.draw(sheet) makes its PDF",
            ),
            header=("", "as the sheet says it"),
            rows=[(one.title, one.cell.text) for one in self.facts],
        )
