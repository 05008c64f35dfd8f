"""Notes on a fit and on an estimate: what its reader must know, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from valuation.errors import shortlist
from valuation.notes import Note
from valuation.regression.cells import CellTable, first_cell
from valuation.regression.core import Core, Rows
from valuation.regression.distribution import FloatArray
from valuation.regression.empty_cells import unknown_effects
from valuation.regression.terms import NominalTerm, NumberTerm, OrdinalTerm, Term
from valuation.schema.attributes import Attribute
from valuation.text.language import english, english_day
from valuation.text.spelling import counted, did_you_mean
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.regression.fit import Fit

FEW_SALES = 30
"""Sold rows under which a note says that they are few; a usual bound of a small sample, no result of this project."""

_NEARLY_ALL = 0.9
"""Share of a level's prior variance that is left when its sales have said little; a choice."""


RECORDED_SALES = Note(
    "recorded_sales",
    english(
        "Recorded sales are often the ones that went well. In a simulation in which every second sale that went badly "
        "was left out of the table, estimates were 5 % high, and the 80 % range held 78 % of all sales in place of "
        "82 %."
    ),
)
"""Said beside every range; figures of ``benchmarks/known_truth`` (selective recording against plain, 160 sales)."""


def leaning_note(table: str, sales: int, *, leaned: bool) -> Note:
    """What became of the model that a fit was to lean on.

    Parameters
    ----------
    table : str
        Name of the table that the model rests on; empty where it has none.
    sales : int
        Sold rows of that table.
    leaned : bool
        Whether its effects are expected.
    """
    whose = f"the model of {table or 'another table'} ({counted(sales, 'sale')})"
    if leaned:
        return Note(
            "leans_on",
            f"What is not known from this table is expected as in {whose}; this table outweighs it as it grows, and "
            "each effect says how much of it came from the table.",
        )
    return Note(
        "not_leaned_on",
        f"{whose[0].upper()}{whose[1:]} was left aside: with its effects expected, the sales of this table are not "
        "clearly more probable than without.",
    )


def column_notes(X: pd.DataFrame, low: FloatArray, high: FloatArray) -> list[Note]:
    """What the table itself gives reason to say.

    Parameters
    ----------
    X : DataFrame, shape (n, attributes)
        Raw cells.
    low, high : ndarray, shape (n,)
        Prices, money; equal where sold.
    """
    notes: list[Note] = []
    constant = [str(name) for name in X.columns if X[name].nunique(dropna=True) <= 1]
    if constant:
        notes.append(
            Note(
                "column_constant",
                f"{shortlist(constant)}: the same in every sale, so the table cannot say what it is worth. "
                "A vehicle that differs there is estimated as if it did not, or by what the schema expects.",
            )
        )
    repeated = int(X.assign(_low=low, _high=high).duplicated().sum())
    if repeated:
        notes.append(
            Note(
                "rows_repeated",
                f"{counted(repeated, 'row repeats', 'rows repeat')} another in every cell. If the same "
                "sale was entered twice, the interval is too narrow: remove one of each.",
            )
        )
    sold = low[low == high]
    if len(sold) and np.ptp(sold) == 0:
        notes.append(
            Note(
                "prices_equal", "Every sale has the same price, so nothing can be said of what any attribute is worth."
            )
        )
    return notes


def fit_notes(fit: Fit, sold: int) -> list[Note]:
    """What the fit gives reason to say.

    Parameters
    ----------
    fit : Fit
        The fit.
    sold : int
        Rows that were sold.
    """
    notes: list[Note] = []
    if sold < FEW_SALES:
        notes.append(
            Note(
                "few_sales",
                english(
                    "There are only {sold} sales to go by, so the interval is wide, and one more sale may move the "
                    "estimate.",
                    sold=sold,
                ),
            )
        )
    notes += _unsold_notes(fit)
    if fit.held:
        notes.append(
            Note(
                "order_kept",
                english(
                    "{names}: the sales do not show the expected order here, so grades or figures that would run the "
                    "other way are valued alike.",
                    names=shortlist(list(fit.held)),
                ),
            )
        )
    light = _light_sales(fit)
    if light:
        notes.append(
            Note(
                "tails_heavy",
                english(
                    "A few prices lie far from the rest: {which} for less than half, so that the others are not pulled "
                    "along.",
                    which=counted(light, "sale counts", "sales count"),
                ),
            )
        )
    repeats = _repeating_attributes(fit)
    if repeats:
        notes.append(
            Note(
                "columns_collinear",
                f"{shortlist(repeats)}: these go together in the table, which cannot say what each is worth alone. "
                "The estimate stands; how it is split between them is a guess.",
            )
        )
    return notes


def _unsold_notes(fit: Fit) -> list[Note]:
    """How far bids and asking prices were taken to lie from the price, and whether there are too many."""
    unsold = int((~fit.exact).sum())
    notes: list[Note] = []
    if fit.ranges is not None:
        ranges = fit.ranges
        bid, asking = 100 * np.expm1(ranges.bid), -100 * np.expm1(-ranges.asking)
        text = english(
            "A vehicle whose bid was not met is taken to be worth up to {bid} % more than the bid, one still offered "
            "up to {asking} % less than is asked, as far as this table can tell.",
            bid=f"{bid:.0f}",
            asking=f"{asking:.0f}",
        )
        own = [
            *(f"{name} up to {100 * np.expm1(width):.0f} % over the bid" for name, width in ranges.bid_at.items()),
            *(
                f"{name} up to {-100 * np.expm1(-width):.0f} % less than is asked"
                for name, width in ranges.asking_at.items()
            ),
        ]
        text += " " + english("Venues with rows enough of their own: {venues}.", venues=shortlist(own)) if own else ""
        text += " " + english("A gap that you know for a venue can be stated in the schema.")
        notes.append(Note("unsold_gap", text))
    if unsold > len(fit.exact) - unsold:
        text = english(
            "{unsold} of the {rows} rows were not sold. Where unsold rows outnumber sales, the estimate rests on what "
            "is assumed of them: add sales.",
            unsold=unsold,
            rows=len(fit.exact),
        )
        notes.append(Note("unsold_outnumber", text))
    return notes


def _light_sales(fit: Fit) -> int:
    """How many sold rows count for less than half because their price lies far off, empty cells aside."""
    core = fit.core
    if core.degrees_of_freedom is None:
        return 0
    _, unknown = unknown_effects(core.design, fit.rows, core.coefficients, core.covariance)
    by_tail = fit.weight * (1 + unknown / core.noise)
    return int((by_tail[fit.exact] < 0.5).sum())


def _repeating_attributes(fit: Fit) -> list[str]:
    """Pairs of attributes whose leading columns are nearly the same column."""
    leading = {}
    for term in fit.core.design.terms:
        start = fit.core.design.columns_of(term.attribute).start
        column = fit.rows.matrix[:, start]
        if not isinstance(term, NominalTerm) and np.ptp(column) > 0:
            leading[term.attribute] = column
    if len(leading) < 2:
        return []
    correlation = np.corrcoef(np.array(list(leading.values())))
    names = list(leading)
    first, second = np.nonzero(np.triu(np.abs(correlation) > 0.99, k=1))
    return [f"{names[i]} with {names[j]}" for i, j in zip(first, second, strict=True)]


def estimate_notes(core: Core, rows: Rows, attributes: Mapping[str, Attribute], cells: CellTable) -> list[Note]:
    """What one vehicle (the only row) gives reason to say.

    Parameters
    ----------
    core : Core
        The fit.
    rows : Rows
        The vehicle, encoded.
    attributes : mapping of str to Attribute
        By name.
    cells : DataFrame or mapping of str to array, one row
        Its raw cells.
    """
    notes: list[Note] = []
    for term in core.design.terms:
        encoded = rows.encoded[term.attribute]
        title = attributes[term.attribute].title
        found = first_cell(cells[term.attribute])
        if encoded.missing[0]:
            notes.append(Note("attribute_unknown", _unknown_text(term, title)))
        elif encoded.unseen[0]:
            notes.append(Note("level_unseen", _unseen_text(term, title, found)))
        elif encoded.beyond[0] > 0:
            notes.append(Note("outside_table", _outside_text(term, title, found)))
        elif isinstance(term, NominalTerm):
            notes.extend(_thin_level(core, term, title, str(found)))
    return notes


def _unknown_text(term: Term, title: str) -> str:
    if any(kind == "missing" for kind, _ in term.kinds):
        return english(
            "{title}: not given, so the vehicle is valued like those sales of the table where that cell is empty too, "
            "and the interval is wider.",
            title=title,
        )
    return english("{title}: not given, so the table's average is used and the interval is wider.", title=title)


def _unseen_text(term: Term, title: str, found: object) -> str:
    known = ", ".join(term.levels[:10]) if isinstance(term, NominalTerm) else "its neighbours on the scale"
    asked = did_you_mean(str(found), term.levels) if isinstance(term, NominalTerm) else ""
    if isinstance(term, OrdinalTerm):
        return english(
            "{what}: no sale in the table has it, so it is valued from {known}, with a wider interval.",
            what=f"{title} {found}",
            known=known,
        )
    return english(
        "{what}: no sale in the table has it.{asked} As it stands it is valued as an average one of its kind, "
        "with a wider interval. The table knows {known}.",
        what=f"{title} {found}",
        asked=asked,
        known=known,
    )


def _outside_text(term: Term, title: str, found: object) -> str:
    if not isinstance(term, NumberTerm):
        return english("{title}: outside the table.", title=title)
    low, high = (bound * term.scale + term.centre for bound in (term.low, term.high))
    if term.logged:
        low, high = float(np.exp(low)), float(np.exp(high))
    if term.is_date:
        start = pd.Timestamp("2000-01-01")
        ends = [(start + pd.Timedelta(days=DAYS_PER_YEAR * year)).date() for year in (low, high)]
        return english(
            "{what}: the table's sales run from {first} to {last}. Past that prices are taken to move on as "
            "they did, for half that span and two years at most, with a wider interval.",
            what=f"{title} {english_day(pd.Timestamp(str(found)).date())}",
            first=ends[0],
            last=ends[1],
        )
    return english(
        "{what}: the table runs from {low} to {high}. Beyond that the effect is carried on a little way at "
        "most, with a wider interval.",
        what=f"{title} {found:g}",
        low=f"{low:g}",
        high=f"{high:g}",
    )


def _thin_level(core: Core, term: NominalTerm, title: str, found: str) -> list[Note]:
    """Say so when a level rests on very few sales, by how much of its prior variance is left."""
    if found not in term.levels:
        return []
    column = core.design.columns_of(term.attribute).start + term.levels.index(found)
    left = core.covariance[column, column] / core.prior_variance()[column]
    if left < _NEARLY_ALL:
        return []
    return [
        Note(
            "level_thin",
            english(
                "{what}: so few sales have it that its value is taken mostly from the others.",
                what=f"{title} {found}",
            ),
        )
    ]
