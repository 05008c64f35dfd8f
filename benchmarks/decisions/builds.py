"""What can be done with a find: sell it as found, or one of three builds; the same plans for every method."""

from __future__ import annotations

from dataclasses import replace

from benchmarks.decisions.market import FACTORS, Find
from valuation.build.plan import BuildPlan, Goal, Purchase, SaleTerms, ShopSettings, Step
from valuation.build.three_point import Overrun, ThreePoint

MARGINS = {"wide": 22.0, "thin": 40.0}
"""Money that an hour of the shop costs: little makes nearly every find pay, much makes many a find one to pass."""

SHOP = ShopSettings(
    crew=2, hours_per_week=30, bays=2, holding_per_week=20, overhead_per_week=200,
    interest_percent=6, overrun=Overrun(1.1, 1.35),
)  # fmt: skip
SALE = SaleTerms(fee_percent=4, fees=150, weeks_to_sell=ThreePoint(2, 6, 16))
ENGINE = Step(
    "engine", cost=ThreePoint(2200, 3000, 5000), hours=ThreePoint(50, 70, 120), sets={"drivetrain": "rebuilt-original"}
)
RUNNING = Step("running", cost=ThreePoint(900, 1300, 2400), hours=ThreePoint(30, 50, 90), sets={"condition": "runner"})
DRIVER = Step(
    "driver", cost=ThreePoint(1800, 2600, 4400), hours=ThreePoint(70, 110, 190), after=("running",),
    sets={"condition": "driver"},
)  # fmt: skip
PAINT = Step("paint", cost=ThreePoint(1200, 1800, 3000), hours=ThreePoint(40, 60, 110), sets={"paint": "fresh"})
SHOW = Step(
    "show", cost=ThreePoint(5000, 7000, 12_000), hours=ThreePoint(220, 300, 500), after=("running",),
    sets={"condition": "show"},
)  # fmt: skip
SHOW_PAINT = Step(
    "show paint", cost=ThreePoint(3200, 4500, 7500), hours=ThreePoint(120, 170, 290), sets={"paint": "show-finish"}
)


def plans(find: Find, labour_rate: float) -> list[BuildPlan]:
    """Three builds; a step that the find does not need is left out, and a derelict's work costs half as much again."""
    shop = replace(SHOP, labour_rate=labour_rate)
    builds = {
        "get it running": (RUNNING,),
        "driver": (RUNNING, DRIVER, PAINT),
        "show": (ENGINE, RUNNING, SHOW, SHOW_PAINT),
    }
    dearer = 1.5 if find.vehicle.attributes["condition"] == "derelict" else 1.0
    return [
        BuildPlan(
            name,
            find.vehicle,
            tuple(_scaled(step, dearer, find) for step in steps),
            shop,
            Purchase(asked=find.asked, fees=150, transport=400),
            SALE,
            Goal(0.0, sure_percent=None),
        )
        for name, steps in builds.items()
    ]


def _scaled(step: Step, factor: float, find: Find) -> Step:
    """The step for this find: nothing to do and to pay where the vehicle stands as high already."""
    [(name, level)] = step.sets.items()
    held = str(find.vehicle.attributes[name])
    ladder = list(FACTORS[name])
    done = held == level if name == "drivetrain" else ladder.index(held) >= ladder.index(str(level))
    size = 0.0 if done else factor
    return Step(
        step.id,
        cost=_times(step.cost, size),
        hours=_times(step.hours, size),
        after=step.after,
        sets={} if done else step.sets,
    )


def _times(figures: ThreePoint, factor: float) -> ThreePoint:
    return ThreePoint(factor * figures.low, factor * figures.likely, factor * figures.high)
