"""The adjustment grid: the nearest comparables, each difference from the subject priced line by line.

A line says what the difference in one attribute is worth by the fit; lines compound in a fixed order (date of sale,
attributes in the order of the schema, the interaction last) and their amounts add up to the adjusted price to the cent.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from valuation.comparables.price_basis import as_written
from valuation.evidence.grid_rows import INTERACTION_TITLE, Grid, GridLine, GridRow, reconcile
from valuation.evidence.remembered import remembered
from valuation.evidence.sale_facts import SaleFacts
from valuation.evidence.subject import SALE_DATE, Subject
from valuation.notes import Note
from valuation.regression.cells import first_cell
from valuation.regression.factors import level_text
from valuation.regression.interaction import INTERACTION
from valuation.text.language import english
from valuation.text.rounding import rounded
from valuation.view import amount_text
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.model import PriceModel
    from valuation.schema.attributes import Attribute
    from valuation.schema.vehicle import Vehicle

Array = npt.NDArray[np.float64]

GRID_SALES = 6
"""Comparables beside the vehicle where nothing else is asked. Common practice, no source."""
STALE_PER_YEAR = 0.03
"""Log price by which a year between sale and estimate makes a sale count as farther off, beyond the fitted drift; a
modest rate chosen so that of two like sales the later is preferred."""

_SHORTLIST = 2000
"""Rows whose full distance is worked out, so that a large table costs no more than a middling one."""


def adjustment_grid(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date | None = None,
    *,
    comparables: Comparables | None = None,
    count: int | None = GRID_SALES,
    leave_out: Collection[int] = (),
) -> Grid:
    """Adjust the nearest comparables to a vehicle, line by line.

    Parameters
    ----------
    model : PriceModel
        The fit.
    vehicle : Vehicle
        The subject.
    as_of : date, optional
        As for ``PriceModel.value``.
    comparables : Comparables, optional
        The table, for a model that was loaded without its sales.
    count : int or None
        How many comparables; all when None. Sold rows come first, then the nearest of the others.
    leave_out : collection of int
        Numbers of rows that are not to be among them.

    Returns
    -------
    Grid
        Empty, with a note that says what to do, when there is no table.

    Notes
    -----
    With log price y_i and columns x_i of a comparable and columns x of the subject, its adjusted log price is
    y_i + (x - x_i)'b. Distance^2 = sum over the lines of ((x - x_i)'b for that line)^2 + (x - x_i)'V(x - x_i) +
    (0.03 years)^2 with V the covariance of the coefficients. Weight is in proportion to 1 / (s^2 / w_i + distance^2)
    with s^2 the variance of one sale and w_i its weight in the fit.

    The weighted geometric mean over all rows with the weights w_i of the fit reproduces the estimate exactly, since the
    intercept is never shrunk; the mean with the regression's own weights x'Vx_i w_i / s^2 falls short of it by what the
    shrinkage holds back.
    """
    return grid_of(Subject.of(model, vehicle, as_of), comparables, count, leave_out)


def grid_of(
    subject: Subject,
    comparables: Comparables | None = None,
    count: int | None = GRID_SALES,
    leave_out: Collection[int] = (),
) -> Grid:
    """The same as ``adjustment_grid`` for a subject that is encoded already.

    Parameters
    ----------
    subject : Subject
        The vehicle.
    comparables, count, leave_out
        As for ``adjustment_grid``.
    """
    model = subject.model
    table = comparables if comparables is not None else model.comparables
    if table is None:
        text = "The model holds no sales: give the table of comparables that it was fitted to for the adjustment grid."
        return Grid((), None, subject.estimate, (Note("grid_needs_table", text),))
    fit = model.fit_result if table is model.comparables else None
    facts = remembered(table, "facts", lambda: SaleFacts.of(table))
    matrix = fit.rows.matrix if fit else _encoded(subject, table)
    fit_weight = fit.weight if fit else np.ones(len(matrix))
    parts = _lines_in_order(model)
    logs = np.column_stack(
        [(subject.columns[at] - matrix[:, at]) @ model.core.coefficients[at] for at in parts.values()]
    )
    shown = ~np.isin(facts.rows, list(leave_out))
    chosen, distance = _nearest(subject, facts, matrix, logs, count, shown)
    weight = np.where(facts.sold[chosen], 1 / (model.core.noise / fit_weight[chosen] + distance**2), 0.0)
    weight = weight / weight.sum() if weight.sum() > 0 else weight
    if SALE_DATE in parts:
        logs[:, list(parts).index(SALE_DATE)] += np.log(facts.moved)
    heads = [_head(subject, name) for name in parts]
    # The running price is rounded to the cent and lines are its steps, so that they add up whatever the rounding.
    start = 100 * facts.prices[chosen, None]
    running = np.rint(np.hstack([start, start * np.exp(np.cumsum(logs[chosen], axis=1))])).astype(np.int64).tolist()
    factors = np.exp(logs[chosen]).tolist()
    rows = tuple(
        _row(facts, place, heads, factors[at], running[at], far, share, _written(table, facts, place))
        for at, (place, far, share) in enumerate(zip(chosen.tolist(), distance.tolist(), weight.tolist(), strict=True))
    )
    notes = _notes(subject, rows, int(facts.sold.sum()))
    if comparables is not None and comparables.fingerprint != model.table_fingerprint:
        text = "The sales of the grid are from another table than the one that the model, and so each line, rests on."
        notes = (*notes, Note("grid_other_table", text))
    return Grid(rows, reconcile(rows), subject.estimate, notes)


def _written(table: Comparables, facts: SaleFacts, place: int) -> str:
    """The price as the owner wrote it; the same few sales are near to many vehicles."""
    row, moved = int(facts.rows[place]), float(facts.moved[place])
    return remembered(table, f"written {place}", lambda: as_written(table, row, moved))


def _encoded(subject: Subject, table: Comparables) -> Array:
    """The sales of a table through the model's design."""
    cells = table.features().reindex(columns=list(subject.cells))
    return subject.model.core.rows(cells).matrix


def _lines_in_order(model: PriceModel) -> Mapping[str, slice]:
    """Columns of each line: date of sale, attributes in the order of the schema, interaction."""
    parts = model.core.parts()
    between = [attribute.name for attribute in model.attributes if attribute.name != SALE_DATE]
    return {name: parts[name] for name in (SALE_DATE, *between, INTERACTION) if name in parts}


@dataclass(frozen=True, slots=True)
class _Head:
    """What a line of the grid says in every row."""

    name: str
    title: str
    attribute: Attribute | None
    to_level: str


def _head(subject: Subject, name: str) -> _Head:
    attribute = subject.model.attribute_by_name.get(name)
    if attribute is None:
        return _Head(name, INTERACTION_TITLE, None, "")
    return _Head(name, attribute.title, attribute, level_text(first_cell(subject.cells[name]), attribute))


def _nearest(
    subject: Subject, facts: SaleFacts, matrix: Array, logs: Array, count: int | None, shown: npt.NDArray[np.bool_]
) -> tuple[npt.NDArray[np.intp], Array]:
    """Places of the nearest rows that may be shown, sold ones first, and their distances."""
    square = (logs**2).sum(axis=1)
    days = (facts.days - np.datetime64(subject.as_of)).astype(float)
    days[np.isnat(facts.days)] = 0.0
    square = square + (STALE_PER_YEAR * days / DAYS_PER_YEAR) ** 2
    order = np.lexsort((square, ~facts.sold))
    order = order[shown[order]]
    if count is not None:
        # What the sum still lacks is never negative, so on a large table a long shortlist by what it has is enough.
        order = order[: max(_SHORTLIST, count)]
    change = subject.columns - matrix[order]
    square = square[order] + np.einsum("ij,ij->i", change @ subject.model.core.covariance, change)
    nearest = np.lexsort((square, ~facts.sold[order]))[:count]
    return order[nearest], np.sqrt(square[nearest])


def _row(
    facts: SaleFacts,
    place: int,
    heads: list[_Head],
    factors: list[float],
    running: list[int],
    distance: float,
    weight: float,
    written: str,
) -> GridRow:
    """A row whose price runs, in cents, from what was paid to what it comes to line by line."""
    lines = []
    for at, head in enumerate(heads):
        start = ""
        if head.attribute is not None:
            start = level_text(facts.cells[head.name][place] if head.name in facts.cells else None, head.attribute)
        cents = running[at + 1] - running[at]
        lines.append(GridLine(head.name, start, head.to_level, factors[at], cents / 100, head.title))
    day = facts.days[place]
    return GridRow(
        sale=facts.names[place],
        outcome=facts.outcomes[place],
        source=facts.sources[place],
        date=None if np.isnat(day) else day.astype(dt.date),
        price=running[0] / 100,
        adjusted_price=running[-1] / 100,
        lines=tuple(lines),
        distance=distance,
        weight=weight,
        why=_why(lines, distance),
        row=int(facts.rows[place]),
        as_written=written,
    )


def _why(lines: list[GridLine], distance: float) -> str:
    """How near the row is, and in what it differs most."""
    largest = sorted(lines, key=lambda line: -abs(math.log(line.factor)))[:2]
    named = [
        f"{line.title.lower()} ({100 * (line.factor - 1):+.0f} %)" for line in largest if abs(line.factor - 1) >= 0.005
    ]
    differs = f"it differs most in {' and '.join(named)}" if named else "it hardly differs"
    return (
        f"Differences worth about {100 * math.expm1(distance):.0f} % in all, the doubt about them included; {differs}."
    )


def _notes(subject: Subject, rows: tuple[GridRow, ...], sold: int) -> tuple[Note, ...]:
    reconciled = reconcile(rows)
    aged = (
        f", and sold not long ago (each year between counts as {100 * STALE_PER_YEAR:g} % more)"
        if any(row.date for row in rows)
        else ""
    )
    notes = [
        Note(
            "grid_choice",
            f"The {len(rows)} nearest comparables, sold ones before others. Near means: differences that are worth "
            f"little by the fit and of whose worth the fit is sure{aged}. A sale weighs the more the nearer it is, "
            f"beside the scatter of single sales ({100 * np.expm1(np.sqrt(subject.model.core.noise)):.0f} %).",
        )
    ]
    if reconciled is not None:
        apart = 100 * (reconciled / subject.estimate - 1)
        side = "above" if apart > 0 else "below"
        where = f"{abs(apart):.0f} % {side}" if abs(apart) >= 0.5 else "close to"
        notes.append(
            Note(
                "grid_reconciled",
                f"These sales come to {amount_text(rounded(reconciled))}, {where} the estimate of "
                f"{amount_text(rounded(subject.estimate))}, which rests on all {sold} sales and on what the "
                "others say of the same attributes.",
            )
        )
    if any(row.outcome != "sold" for row in rows):
        notes.append(
            Note(
                "grid_unsold",
                english("Bids that were not met and asking prices are shown for comparison and have no weight."),
            )
        )
    wide = [row.sale for row in rows if row.gross_percent > 25]
    if wide:
        notes.append(
            Note(
                "grid_gross",
                english(
                    "{wide} of {rows} are adjusted by more than 25 % gross. For houses it is the custom to look twice "
                    "at such rows (common practice, no source); for vehicles there is no such rule.",
                    wide=len(wide),
                    rows=len(rows),
                ),
            )
        )
    return tuple(notes)
