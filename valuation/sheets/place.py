"""Where a vehicle stands among the comparables: the points of the chart and of the table beside it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from valuation.schema.attributes import Role
from valuation.sheets.plain import LATER
from valuation.text.language import ENGLISH, language, retold, say

if TYPE_CHECKING:
    from valuation.answers.estimate import Estimate
    from valuation.comparables.table import Comparables
    from valuation.evidence.grid_rows import GridRow
    from valuation.evidence.sale_facts import SaleFacts
    from valuation.regression.model import PriceModel
    from valuation.schema.attributes import Attribute

MOST_POINTS = 400
"""The latest so many rows are drawn; more would be one dark cloud."""


@dataclass(frozen=True, slots=True)
class Point:
    """One comparable.

    Parameters
    ----------
    price : float
        Buyer-pays price as paid (bid, asking price).
    outcome : str
    date : date or None
    group : str
        Its level; empty when it is not known.
    alike : bool
        Whether it is of the vehicle's family.
    today : float
        The price at the level of the day of the estimate; 0 where it was not brought there.
    number : int
        Its number in the adjustment grid; 0 when it does not stand there.
    """

    price: float
    outcome: str
    date: dt.date | None
    group: str
    alike: bool
    today: float = field(default=0.0, metadata=LATER)
    number: int = field(default=0, metadata=LATER)

    @property
    def shown(self) -> float:
        """The price at which it is drawn."""
        return self.today or self.price


@dataclass(frozen=True, slots=True)
class Place:
    """The comparables by the levels of one ordered scale, and the vehicle among them.

    Parameters
    ----------
    title : str
        Of the scale, for example ``condition``; empty when the table has none.
    groups : tuple of str
        Levels in rising order.
    own_group : str
        The vehicle's level; empty when it is not known.
    alike : str
        What the points have in common with the vehicle that are drawn dark, for example its family; may be empty.
    points : tuple of Point
    left_out : int
        Older rows that are not drawn.
    """

    title: str
    groups: tuple[str, ...]
    own_group: str
    alike: str
    points: tuple[Point, ...]
    left_out: int

    @property
    def brought(self) -> bool:
        """Whether prices stand at the level of the day of the estimate."""
        return any(point.today for point in self.points)

    def like_it(self) -> tuple[str, list[Point]]:
        """The sold points most like the vehicle, of which there are any, and what they have in common with it."""
        title = retold(self.title) if language() != ENGLISH else self.title.lower()
        level = f"{title}: {retold(self.own_group)}" if self.own_group else ""
        sold = [point for point in self.points if point.outcome == "sold"]
        kinds = [point for point in sold if point.alike] if self.alike else []
        for words, found in (
            (", ".join(filter(None, [self.alike, level])), [p for p in kinds if p.group == self.own_group]),
            (level, [p for p in sold if level and p.group == self.own_group]),
            (self.alike, kinds),
        ):
            if found and words:
                return words, found
        return "", sold


def outcome_words(outcome: str) -> str:
    """How a price came about that was not a sale."""
    known = {"bid_not_met": say("bid, reserve not met"), "asking": say("asked, not sold"), "sold": say("sold")}
    return known.get(outcome, outcome)


def place_among(
    table: Comparables,
    estimate: Estimate,
    model: PriceModel | None = None,
    grid: Sequence[GridRow] = (),
    leave_out: Collection[int] = (),
) -> Place:
    """Group the comparables for the chart.

    The scale is the ordered one whose levels the fit holds furthest apart for this vehicle, ``condition`` if there is
    one by that name. Points are dark where the first unordered attribute of the schema agrees with the vehicle's.

    Parameters
    ----------
    table : Comparables
    estimate : Estimate
        Of the vehicle.
    model : PriceModel, optional
        Brings prices to the day of the estimate by its drift; without it they stand as paid.
    grid : sequence of GridRow
        The rows that are numbered, in the order of the adjustment grid.
    leave_out : collection of int
        Numbers of rows that are not to be among them.
    """
    pull = {factor.attribute: abs(math.log(factor.factor)) for factor in estimate.factors}
    day = None if model is None else (model, estimate.as_of)
    return _place(table, estimate.vehicle.attributes, pull, day, grid, leave_out)


def place_of(table: Comparables, own: Mapping[str, Any] | None = None) -> Place:
    """The comparables by themselves, at prices as paid.

    Parameters
    ----------
    table : Comparables
    own : mapping of str to Any, optional
        Attributes of a vehicle to set among them.
    """
    return _place(table, own or {}, {}, None, (), ())


def _place(
    table: Comparables,
    own: Mapping[str, Any],
    pull: Mapping[str, float],
    day: tuple[PriceModel, dt.date] | None,
    grid: Sequence[GridRow],
    leave_out: Collection[int],
) -> Place:
    import numpy as np

    from valuation.evidence.price_level import drift_between
    from valuation.evidence.sale_facts import SaleFacts

    facts, names = SaleFacts.of(table), table.attributes
    ordered = [one for one in table.schema.attributes if one.role is Role.ORDINAL and one.name in names]
    scale = max(ordered, key=lambda a: (a.name == "condition", pull.get(a.name, 0.0)), default=None)
    kind = family_of(table)
    moved = np.ones(len(facts.prices)) if day is None else drift_between(day[0], table, day[1])
    brought = facts.prices * moved if np.any(moved != 1) else np.zeros(len(moved))
    latest = np.argsort(facts.days, kind="stable") if len(brought) > MOST_POINTS else np.arange(len(brought))
    latest = latest[~np.isin(facts.rows[latest], list(leave_out))]
    numbers = {row.row: number for number, row in enumerate(grid, start=1)}
    points = [
        Point(
            price=float(facts.prices[at]),
            outcome=facts.outcomes[at],
            date=None if np.isnat(facts.days[at]) else facts.days[at].astype(dt.date),
            group=_level(facts, scale, at),
            alike=kind is not None and bool(facts.cells[kind.name][at] == own.get(kind.name)),
            today=float(brought[at]),
            number=numbers.get(int(facts.rows[at]), 0),
        )
        for at in latest.tolist()[-MOST_POINTS:]
    ]
    return Place(
        title=scale.title if scale else "",
        groups=scale.level_names if scale else (),
        own_group=str(own.get(scale.name, "")) if scale else "",
        alike=str(own.get(kind.name, "")) if kind else "",
        points=tuple(point for point in points if math.isfinite(point.price)),
        left_out=len(latest) - len(points),
    )


def family_of(table: Comparables) -> Attribute | None:
    """The first unordered attribute that the table holds, such as the make and model line."""
    return next((a for a in table.schema.attributes if a.role is Role.NOMINAL and a.name in table.attributes), None)


def _level(facts: SaleFacts, scale: Attribute | None, at: int) -> str:
    level = None if scale is None else facts.cells[scale.name][at]
    return level if isinstance(level, str) else ""
