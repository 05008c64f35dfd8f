"""The build plan: the vehicle as found, what would be done to it, by whom, for which show, and how it would be sold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from valuation.build.bounds import within
from valuation.build.progress import Progress
from valuation.build.terms import USUAL_INTEREST, Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import Overrun, Shape, ThreePoint
from valuation.schema.values import Value, as_text
from valuation.schema.vehicle import Vehicle
from valuation.view import View, Viewed, as_money

NOTHING = ThreePoint.certain(0.0)
"""What a step costs, works or waits for where its plan says nothing."""
AS_FOUND = "sell as found"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a build.

    Parameters
    ----------
    id : str
        Short name that other steps refer to.
    what : str
        One line on what is done.
    cost : ThreePoint
        Parts and outside work, money.
    hours : ThreePoint
        Hours of the shop's own people, all together.
    parts_weeks : ThreePoint
        Weeks until the parts (or the outside work) are there.
    order_when_ready : bool
        Parts are ordered only once the steps before are done; otherwise on the first day.
    after : tuple of str
        Steps that must be done before, and without which this one cannot be done.
    after_if_done : tuple of str
        Steps that come before this one if they are done at all.
    people : int
        People who work on it at once; 0 for work done elsewhere.
    sets : mapping of str to value
        Attributes of the vehicle afterwards, as the schema reads them.
    """

    id: str
    what: str = ""
    cost: ThreePoint = NOTHING
    hours: ThreePoint = NOTHING
    parts_weeks: ThreePoint = NOTHING
    order_when_ready: bool = False
    after: tuple[str, ...] = ()
    after_if_done: tuple[str, ...] = ()
    people: int = 1
    sets: Mapping[str, Value] = field(default_factory=dict)

    def __post_init__(self) -> None:
        within("steps", self)


@dataclass(frozen=True, slots=True)
class ShopSettings:
    """What the shop's time and room cost.

    Parameters
    ----------
    labour_rate : float
        Money per hour of the shop's own people.
    crew : int
        People who can work on this vehicle at once, >= 1.
    hours_per_week : float
        Hours that one of them gives to this vehicle in a week.
    bays : int
        Bays in the shop, >= 1; a build takes one of them.
    holding_per_week : float
        Money per week that the vehicle costs while it is owned (storage, insurance).
    overhead_per_week : float
        Money per week that the whole shop costs; a build bears one bay's share while it is in the bay.
    interest_percent : float
        What money costs, percent a year, from the day it is spent until the sale. The default is common practice, no
        source.
    overrun : Overrun
        Shared factor on all costs and hours.
    spread : {"triangular", "pert"}
        Shape between low, likely and high.
    """

    labour_rate: float = 0.0
    crew: int = 1
    hours_per_week: float = 30.0
    bays: int = 1
    holding_per_week: float = 0.0
    overhead_per_week: float = 0.0
    interest_percent: float = USUAL_INTEREST
    overrun: Overrun = field(default_factory=Overrun)
    spread: Shape = "triangular"

    def __post_init__(self) -> None:
        within("shop", self)


@dataclass(frozen=True, slots=True, repr=False)
class BuildPlan(Viewed):
    """One path from as found to sold.

    Parameters
    ----------
    name : str
    found : Vehicle
        The vehicle as found.
    steps : tuple of Step
        In the order of the file; a later step's attributes replace an earlier one's.
    shop, purchase, sale, goal
        Settings, see there.
    event : Event or None
        The show, if one is meant to be made.
    start : date or None
        First day of the build; None: the as-of date.
    currency : str
        Currency of all money; empty: the table's.
    source_name : str
        File name, for messages.
    defaults : tuple of str
        Settings that the file leaves to this program, in words.
    progress : Progress or None
        How far the build is; None before the purchase.
    """

    name: str
    found: Vehicle
    steps: tuple[Step, ...] = ()
    shop: ShopSettings = field(default_factory=ShopSettings)
    purchase: Purchase = field(default_factory=Purchase)
    sale: SaleTerms = field(default_factory=SaleTerms)
    goal: Goal = field(default_factory=Goal)
    event: Event | None = None
    start: date | None = None
    currency: str = ""
    source_name: str = ""
    defaults: tuple[str, ...] = ()
    progress: Progress | None = None

    def _view(self) -> View:
        bought = "" if self.progress is None else "under way"
        steps = "1 step" if len(self.steps) == 1 else f"{len(self.steps)} steps"
        return View(
            title=f"Plan {self.name}",
            facts=tuple(filter(None, [steps, self.goal.words, bought])),
            header=("step", "what", "cost", "hours", "after", "sets"),
            rows=[
                (
                    one.id,
                    one.what,
                    as_money(one.cost.likely, self.currency),
                    f"{one.hours.likely:g}",
                    ", ".join(one.after),
                    ", ".join(f"{name} {as_text(value)}" for name, value in one.sets.items()),
                )
                for one in self.steps
            ],
        )
