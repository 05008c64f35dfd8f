"""The one list of sales behind every table here: an invented shop, invented makes, and what each vehicle fetched.

Drawn once by ``draw`` with ``random.Random.random`` alone, whose stream Python keeps, so that it is the same anywhere.
Prices are whole fifties, so that they can be written in thousands with two decimals and in whole hundreds by some.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from dataclasses import dataclass

FAMILIES = {"Garrow Wren": 21_000, "Garrow Plover": 15_500, "Ostrey Mule": 11_000}
"""Base price of each invented line, as a driver of 1952 with presentable paint."""

CONDITIONS = {"derelict": 0.22, "project": 0.38, "runner": 0.62, "driver": 1.0, "show": 1.75}
"""What each condition multiplies the base price by."""

PAINTS = {"bare": 0.86, "worn": 0.92, "presentable": 1.0, "fresh": 1.09, "show-finish": 1.18}
"""What each paint multiplies it by."""

BODIES = {"Garrow Wren": ("pickup", "panel"), "Garrow Plover": ("sedan", "wagon"), "Ostrey Mule": ("pickup",)}
"""The bodies that each line was made with."""

VENUES = ("Millbeck Hall", "Harbour Lane", "private")
"""Two invented auctions, and from one person to another."""


@dataclass(frozen=True)
class Sale:
    """One sale as it truly was; the price is the hammer price or the private one, in US dollars unless it says."""

    name: str
    date: dt.date
    price: int
    outcome: str
    venue: str
    premium: int
    family: str
    model_year: int
    body: str
    condition: str
    paint: str
    original_finish: bool
    mileage: int | None
    currency: str = "USD"


def draw(count: int = 36) -> list[Sale]:
    """The sales, oldest first."""
    luck = random.Random(1955).random

    def pick(words):
        return list(words)[int(luck() * len(words))]

    sales = []
    for number in range(count):
        date = dt.date(2022, 2, 1) + dt.timedelta(days=int(1700 * (number + luck() * 0.9) / count))
        family, condition, venue = pick(FAMILIES), pick(CONDITIONS), pick(VENUES)
        paint = pick(PAINTS)
        year = 1946 + int(luck() * 19)
        noise = sum(luck() - 0.5 for _ in range(6)) * 0.16
        worth = FAMILIES[family] * CONDITIONS[condition] * PAINTS[paint] * math.exp(noise - 0.012 * (year - 1952))
        outcome = "sold" if luck() < 0.78 else pick(("bid_not_met", "asking"))
        worth *= {"sold": 1.0, "bid_not_met": 0.93, "asking": 1.1}[outcome]
        sales.append(
            Sale(
                f"{date.year}-{number + 1:02}",
                date,
                round(worth / 50) * 50,
                outcome,
                "private" if outcome == "asking" else venue,
                {"Millbeck Hall": 10, "Harbour Lane": 5}.get(venue, 0) if outcome != "asking" else 0,
                family,
                year,
                pick(BODIES[family]),
                condition,
                paint,
                luck() < 0.3,
                round(20 + 110 * luck()) * 1000 if luck() < 0.7 else None,
            )
        )
    return sales
