"""Where a vehicle stands among the comparables: the points of the chart and of the table beside it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.schema.attributes import Role

if TYPE_CHECKING:
    from valuation.answers.estimate import Estimate
    from valuation.comparables.table import Comparables
    from valuation.schema.attributes import Attribute

MOST_POINTS = 400
"""The latest so many rows are drawn; more would be one dark cloud."""


@dataclass(frozen=True, slots=True)
class Point:
    """One comparable: buyer-pays price (bid, asking price), its group, and whether it is of the same family."""

    price: float
    outcome: str
    date: dt.date | None
    group: str
    alike: bool


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


def place_among(table: Comparables, estimate: Estimate, leave_out: Collection[int] = ()) -> Place:
    """Group the comparables for the chart.

    The scale is the ordered one whose levels the fit holds furthest apart for this vehicle, ``condition`` if there is
    one by that name. Points are dark where the first unordered attribute of the schema agrees with the vehicle's.

    Parameters
    ----------
    table : Comparables
    estimate : Estimate
        Of the vehicle.
    leave_out : collection of int
        Numbers of rows that are not to be among them.
    """
    scale = ordered_scale(table, estimate)
    kind = family_of(table)
    own = estimate.vehicle.attributes
    sales = table.sales.drop(index=list(leave_out))
    sales = sales.sort_values("date", kind="stable") if len(sales) > MOST_POINTS else sales
    drawn = sales.tail(MOST_POINTS)
    groups = [None] * len(sales) if scale is None else table.attributes[scale.name].reindex(sales.index).tolist()
    kinds = [None] * len(sales) if kind is None else table.attributes[kind.name].reindex(sales.index).tolist()
    points = []
    for place, (_, sale) in enumerate(drawn.iterrows(), start=len(sales) - len(drawn)):
        group = groups[place]
        price = float(sale["high"] if sale["outcome"] == "asking" else sale["low"])
        points.append(
            Point(
                price=price,
                outcome=str(sale["outcome"]),
                date=None if sale["date"] != sale["date"] else sale["date"].date(),
                group=group if isinstance(group, str) else "",
                alike=kind is not None and bool(kinds[place] == own.get(kind.name)),
            )
        )
    return Place(
        title=scale.title if scale else "",
        groups=scale.level_names if scale else (),
        own_group=str(own.get(scale.name, "")) if scale else "",
        alike=str(own.get(kind.name, "")) if kind else "",
        points=tuple(point for point in points if math.isfinite(point.price)),
        left_out=len(sales) - len(drawn),
    )


def family_of(table: Comparables) -> Attribute | None:
    """The first unordered attribute that the table holds, such as the make and model line."""
    return next((a for a in table.schema.attributes if a.role is Role.NOMINAL and a.name in table.attributes), None)


def ordered_scale(table: Comparables, estimate: Estimate) -> Attribute | None:
    """The ordered scale of the chart.

    Parameters
    ----------
    table : Comparables
    estimate : Estimate
        Of the vehicle.
    """
    ordered = [a for a in table.schema.attributes if a.role is Role.ORDINAL and a.name in table.attributes]
    if not ordered:
        return None
    pull = {factor.attribute: abs(math.log(factor.factor)) for factor in estimate.factors}
    return max(ordered, key=lambda a: (a.name == "condition", pull.get(a.name, 0.0)))
