"""Make the demo's table of sales from stated true effects: `python data/make_demo.py [FOLDER]`.

Reads `true_effects.toml` and `vehicles/*.toml` beside this file and writes, into FOLDER or beside this file,

- `comparables.csv`: the table, with the mess of a real one;
- `planted_faults.csv`: what was spoilt on purpose, row by row, and what the cell ought to say;
- `true_prices.toml`: the true median price of each vehicle in `vehicles/`, for comparison with the estimates.

Needs Python alone. Every random draw comes from `random.Random.random`, whose stream Python keeps for ever, so the same
figures give the same bytes on every machine.
"""

from __future__ import annotations

import csv
import math
import sys
import tomllib
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from random import Random
from statistics import NormalDist
from typing import Any

HERE = Path(__file__).resolve().parent
SALE_COLUMNS = ["sale", "date", "price", "outcome", "currency", "venue", "premium", "source", "arms_length", "vehicle"]
VEHICLE_COLUMNS = [
    "family", "model_year", "body", "condition", "drivetrain", "paint", "awards",
    "original_finish", "mileage", "documentation",
]  # fmt: skip
Row = dict[str, Any]


class Dice:
    """Random draws, all made from one stream of uniform numbers."""

    def __init__(self, seed: int) -> None:
        self._random = Random(seed)

    def uniform(self) -> float:
        """Draw from the open interval 0 to 1."""
        return min(max(self._random.random(), 1e-12), 1 - 1e-12)

    def chance(self, percent: float) -> bool:
        """Whether an event of that chance happens."""
        return self.uniform() * 100 < percent

    def whole(self, low: int, high: int) -> int:
        """Draw a whole number, both ends included."""
        return low + int(self.uniform() * (high - low + 1))

    def choose(self, weights: Mapping[str, float]) -> str:
        """One of the names, as often as its weight says."""
        left = self.uniform() * sum(weights.values())
        for name, weight in weights.items():
            left -= weight
            if left < 0:
                return name
        return list(weights)[-1]

    def pick(self, rows: Sequence[Row], count: int) -> list[Row]:
        """Take that many different rows, in the order in which they were drawn."""
        left = list(rows)
        return [left.pop(self.whole(0, len(left) - 1)) for _ in range(count)]

    def normal(self) -> float:
        """Draw from the standard normal distribution."""
        return NormalDist().inv_cdf(self.uniform())

    def heavy(self) -> float:
        """Draw from Student's t with four degrees of freedom, by its closed quantile function."""
        p = self.uniform()
        root = math.sqrt(4 * p * (1 - p))
        size = 2 * math.sqrt(max(math.cos(math.acos(root) / 3) / root - 1, 0.0))
        return size if p > 0.5 else -size


def log_percent(percent: float) -> float:
    """Logarithm of the factor that a change in percent multiplies the price by."""
    return math.log1p(percent / 100)


def log_median_price(truth: Row, vehicle: Row, day: date) -> float:
    """Logarithm of the true median buyer-pays price of a vehicle on a day."""
    total: float = math.log(truth["base"][vehicle["family"]])
    for name, steps in truth["steps"].items():
        total += climb(steps, vehicle[name]) - climb(steps, truth["reference"][name])
    for name, percents in truth["against"].items():
        total += log_percent(percents[vehicle[name]])
    for name, percent in truth["flag"].items():
        total += log_percent(percent) if vehicle[name] == "yes" else 0.0
    for name, line in truth["line"].items():
        total += log_percent(line["percent"]) * (vehicle[name] - truth["reference"][name]) / line["per"]
    return total + year_curve(truth["curve"]["model_year"], vehicle["model_year"]) - rise_after(truth, day)


def climb(steps: Mapping[str, float], level: str) -> float:
    """Sum of the steps from the lowest level, which the list leaves out, up to this one."""
    names = list(steps)
    reached = names[: names.index(level) + 1] if level in steps else []
    return sum(log_percent(steps[name]) for name in reached)


def year_curve(curve: Row, year: float) -> float:
    """Height of the model-year curve, by straight lines between its knots and flat beyond them."""
    years, heights = curve["years"], [log_percent(percent) for percent in curve["percent"]]
    year = min(max(year, years[0]), years[-1])
    after = next(i for i, knot in enumerate(years) if knot >= year) or 1
    share = (year - years[after - 1]) / (years[after] - years[after - 1])
    height: float = heights[after - 1] + share * (heights[after] - heights[after - 1])
    return height


def rise_after(truth: Row, day: date) -> float:
    """How much prices rose between a day and the as-of date."""
    starts = [date.fromisoformat(text) for text in truth["drift"]["since"]]
    ends = [*starts[1:], date.fromisoformat(truth["as_of"])]
    total = 0.0
    for start, end, percent in zip(starts, ends, truth["drift"]["percent_per_year"], strict=True):
        days = (end - max(start, day)).days
        total += log_percent(percent) * max(days, 0) / 365.25
    return total


def draw_vehicle(truth: Row, family: str, dice: Dice) -> Row:
    """One vehicle of a family; its grades hang together as they do in life."""
    often, line = truth["often"], truth["families"][family]
    conditions, paints = ["derelict", *truth["steps"]["condition"]], ["bare", *truth["steps"]["paint"]]
    condition = dice.choose(often["condition"])
    shift = {"below": -1, "same": 0, "above": 1}[dice.choose(often["paint_against_condition"])]
    paint = paints[min(max(conditions.index(condition) + shift, 0), len(paints) - 1)]
    untouched = paint in ("worn", "presentable") and dice.chance(often["original_finish"])
    first, last = line["years"]
    return {
        "family": family,
        "model_year": round((dice.whole(first, last) + dice.whole(first, last)) / 2),
        "body": dice.choose(line["bodies"]),
        "condition": condition,
        "drivetrain": dice.choose(often["drivetrain"][condition]),
        "paint": paint,
        "awards": dice.choose(often["awards"][condition]),
        "original_finish": "yes" if untouched else "no",
        "mileage": 100 * round(math.exp(math.log(58000) + 0.45 * dice.normal()) / 100),
        "documentation": dice.choose(often["documentation"]),
        "hidden": truth["unexplained"]["hidden_quality"] * dice.normal(),
    }


def draw_vehicles(truth: Row, dice: Dice) -> list[Row]:
    """Every vehicle with the day on which it came up; a few come up twice."""
    last = date.fromisoformat(truth["as_of"])
    first = date.fromisoformat(truth["drift"]["since"][0])
    rows: list[Row] = []
    for family, line in truth["families"].items():
        for number in range(line["sales"]):
            row = draw_vehicle(truth, family, dice)
            row["day"] = last - timedelta(days=dice.whole(2, (last - first).days))
            row["vehicle"] = f"{''.join(word[0] for word in family.split())}-{100 + 7 * number + dice.whole(0, 6)}"
            rows.append(row)
    early = [row for row in rows if row["day"] < last - timedelta(days=900)]
    late = [row for row in rows if row["day"] > last - timedelta(days=500)]
    for old in dice.pick(early, truth["mess"]["resales"]):
        new = dice.pick([row for row in late if row["family"] == old["family"]], 1)[0]
        late.remove(new)
        new.update({name: value for name, value in old.items() if name != "day"})
    return sorted(rows, key=lambda row: (row["day"], row["vehicle"]))


def rounded(price: float) -> int:
    """A price as people say it: the step grows with the sum."""
    step = 50 if price < 5_000 else 100 if price < 10_000 else 250 if price < 50_000 else 500
    return step * round(price / step)


def sell(truth: Row, rows: list[Row], dice: Dice) -> None:
    """Give each row its venue, its outcome and the price that the table records."""
    venues = truth["venues"]
    for row in rows:
        row["venue"] = dice.choose({name: venue["often"] for name, venue in venues.items()})
    for kind, outcome in UNSOLD.items():
        there = [row for row in rows if venues[row["venue"]]["kind"] == kind]
        for row in dice.pick(there, round(len(rows) * truth["mess"][outcome] / 100)):
            row["outcome"] = outcome
    for number, row in enumerate(rows, start=1):
        venue, outcome = venues[row["venue"]], row.setdefault("outcome", "sold")
        luck = truth["unexplained"]["luck"] * dice.heavy()
        gap = log_percent(truth["one_sided"]["least"] + truth["one_sided"]["spread"] * abs(dice.normal()))
        worth = log_median_price(truth, row, row["day"]) + row["hidden"] + luck
        worth += {"sold": 0.0, "bid_not_met": -gap, "asking": gap}[outcome]
        row.update(
            sale=f"{row['day'].year}-{number:03d}",
            date=row["day"].isoformat(),
            price=rounded((math.exp(worth) - venue["fee"]) / (1 + venue["premium"] / 100)),
            currency=truth["currency"],
            premium="",
            source=source_text(row, venue["kind"], number),
            arms_length="yes",
        )


UNSOLD = {"auction": "bid_not_met", "private": "asking"}
"""What an unsold row is called in each kind of venue."""


def source_text(row: Row, kind: str, number: int) -> str:
    """Where the row was copied from; no two rows share it."""
    if kind == "auction":
        season = ("winter", "spring", "summer", "autumn")[row["day"].month % 12 // 3]
        return f"{row['venue']}, {season} sale {row['day'].year}, lot {100 + number}"
    return f"Advertisement {number:03d}" if row["outcome"] == "asking" else f"Bill of sale {number:03d}"


def soil(truth: Row, rows: list[Row], dice: Dice) -> list[Row]:
    """Make the table as untidy as a real one; returns the planted faults, each with what is true."""
    mess, planted = truth["mess"], []
    for row in rows:
        for column, percent in mess["blank"].items():
            # Nobody forgets to write down an award that there is: only `none` is left out.
            if dice.chance(percent) and (column != "awards" or row[column] == "none"):
                row[column] = ""
        if dice.chance(mess["other_date_style"]):
            day = row["day"]
            row["date"] = dice.choose({f"{day.month}/{day.day}/{day.year}": 1, day.strftime("%d %b %Y"): 1})
    foreign = mess["foreign"]
    private = [row for row in rows if row["venue"] == "private"]
    for row in dice.pick(private, foreign["rows"]):
        row.update(currency=foreign["currency"], price=rounded(row["price"] / foreign["rate"]))
    sold = [row for row in rows if row["outcome"] == "sold" and row["currency"] == truth["currency"]]
    tied = dice.pick([row for row in sold if row["venue"] == "private"], len(mess["not_at_arms_length"]))
    for row, (reason, percent) in zip(tied, mess["not_at_arms_length"].items(), strict=True):
        planted.append(fault(row, "arms_length", reason, "left out: the price says nothing about the market"))
        row.update(arms_length=reason, price=rounded(row["price"] * (1 + percent / 100)))
    plain = [row for row in sold if row not in tied]
    drivers = [row for row in plain if row["condition"] == "driver" and row["family"] == next(iter(truth["base"]))]
    slipped, misspelt = dice.pick(drivers, 2)
    planted.append(fault(slipped, "price", str(slipped["price"] * 10), str(slipped["price"])))
    slipped["price"] *= 10
    planted.append(fault(misspelt, "condition", "drvier", "driver"))
    misspelt["condition"] = "drvier"
    spared = [row for row in plain if row["venue"] != "private" and row is not slipped and row is not misspelt]
    for old, other_source in zip(dice.pick(spared, 2), ("", "Club bulletin, results page"), strict=True):
        copy = dict(old, sale=old["sale"] + "-b", source=other_source or old["source"])
        planted.append(fault(copy, "", "", f"left out: sale {old['sale']} again"))
        rows.append(copy)
    return planted


def fault(row: Row, column: str, found: str, true: str) -> Row:
    """One line of `planted_faults.csv`."""
    return {"sale": row["sale"], "column": column, "found": found, "true": true}


def write(folder: Path, rows: list[Row], planted: list[Row], medians: Mapping[str, int]) -> None:
    """Write the three files with the same line ends everywhere."""
    tables: list[tuple[str, Sequence[str], list[Row]]] = [
        ("comparables.csv", [*SALE_COLUMNS, *VEHICLE_COLUMNS], rows),
        ("planted_faults.csv", ("sale", "column", "found", "true"), planted),
    ]
    for name, columns, lines in tables:
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, extrasaction="ignore", lineterminator="\n")
            writer.writeheader()
            writer.writerows(lines)
    lines_of_prices = "".join(f"{name} = {price}\n" for name, price in medians.items())
    (folder / "true_prices.toml").write_text(PRICES_HEADER + lines_of_prices, encoding="utf-8", newline="\n")


PRICES_HEADER = """\
# Written by make_demo.py: the true median buyer-pays price, on the as-of date of true_effects.toml, of each vehicle in
# vehicles/. A single sale scatters around it by the hidden quality and the luck of the day.
"""


def main(folder: Path) -> None:
    """Make the three files in a folder."""
    truth = tomllib.loads((HERE / "true_effects.toml").read_text(encoding="utf-8"))
    dice = Dice(truth["seed"])
    rows = draw_vehicles(truth, dice)
    sell(truth, rows, dice)
    planted = soil(truth, rows, dice)
    rows.sort(key=lambda row: (row["day"], row["sale"]))
    medians = {}
    for path in sorted((HERE / "vehicles").glob("*.toml")):
        vehicle = tomllib.loads(path.read_text(encoding="utf-8"))["attributes"]
        vehicle["original_finish"] = "yes" if vehicle["original_finish"] else "no"
        log_price = log_median_price(truth, vehicle, date.fromisoformat(truth["as_of"]))
        medians[path.stem] = round(math.exp(log_price))
    write(folder, rows, planted, medians)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
