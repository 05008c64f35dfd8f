"""A build plan to start from, with every key explained."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from valuation.errors import PlanError
from valuation.files import write_file
from valuation.schema.schema import Schema
from valuation.schema.values import CellFault, read_value
from valuation.text.toml import toml_text

PLAN_TEMPLATE = """\
# A build plan. Everything after a # is a remark. Money is plain numbers in the currency of your table of sales.
# Wherever three figures stand in brackets they are low, likely and high; one plain number means certain.

name = "Driver build"             # how the path is called beside others
currency = "USD"                  # must be the table's; leave it out if the table names none
# start = 2027-01-11              # first day; left out: the day of the estimate

[vehicle]                         # as found; attributes and words of your schema
family = "Penhurrow Haywain"      # invented; write your own
model_year = 1954
body = "pickup"
condition = "project"
drivetrain = "missing"
paint = "bare"
awards = "none"

[purchase]
asked = 4500                      # what the owner asks; leave it out when not known
fee_percent = 0                   # buyer's fee, percent of the price
fee_minimum = 0                   # and the least that it comes to
fees = 150                        # fixed: title, inspection
tax_percent = 0                   # tax on the price that you cannot reclaim
transport = 400                   # bringing it home

[shop]                            # lines that hold for all plans stand once in shop.toml beside this file, or above it
labour_rate = 45                  # money per hour of your own people
crew = 2                          # people who can work on it at once
hours_per_week = 20               # hours that one of them gives to it in a week
bays = 3                          # bays in the shop; the build takes one
holding_per_week = 30             # storage, insurance
overhead_per_week = 450           # of the whole shop; the build bears one bay's share
interest_percent = 8              # what money costs, percent a year (common practice, no source)

[overrun]                         # shared by all steps, so that bad luck comes together
typical = 1.1                     # the usual build ends 10 % over its likely figures (common practice, no source)
one_in_ten = 1.35                 # one in ten ends 35 % over or more (common practice, no source)
spread = "triangular"             # shape between low, likely and high: "triangular" or "pert"
# past_jobs = [[9000, 11200], [15000, 14800]]   # likely figures as planned, and what your own jobs came to

[[steps]]
id = "drivetrain"
what = "Rebuilt engine and gearbox of the right type"
cost = [3200, 4100, 6800]         # parts and outside work
hours = [60, 85, 140]             # of your own people, all together
parts_weeks = [2, 4, 9]           # until the parts are there
order_parts = "at start"          # or "when ready": ordered once the steps before are done
people = 1                        # who work on it at once; 0 for work done elsewhere
sets = { drivetrain = "rebuilt-original" }

[[steps]]
id = "body"
what = "Rust, panels, gaps"
cost = [1400, 2100, 4200]
hours = [90, 140, 260]
sets = { condition = "runner" }

[[steps]]
id = "paint"
what = "Strip, prime, paint"
cost = [1800, 2600, 4300]
hours = [60, 90, 150]
after = ["body"]                  # must be done before, and this cannot be done without it
sets = { paint = "fresh" }

[[steps]]
id = "finish"
what = "Brakes, wiring, seat, shake-down"
cost = [1500, 2200, 3600]
hours = [70, 100, 170]
after = ["drivetrain", "body"]
after_if_done = ["paint"]         # comes after it if it is done at all
sets = { condition = "driver" }

# Steps of the shop's book (shop.toml) are taken with  use = "brakes"  and change what differs.

# [bought]                        # once it is yours: the plan then starts from today
# on = 2027-01-11
# price = 4300
# [[done]]                        # one for each step that is done, with what it came to
# step = "drivetrain"
# on = 2027-03-02
# cost = 4600
# hours = 101
# [[begun]]                       # one for each step that is begun: step and on, with the cost and hours it took so far
# [[left_out]]                    # one for each step that will not be done after all: step
# [[extra]]                       # one for each cost that no step planned: what, on, cost and hours

[event]                           # leave the table out if no show is meant
name = "Spring meet"
date = 2027-05-29                 # the build must be finished by then
entry_cost = 250

[event.chances.driver]            # chance of each award at this condition, from 0 to 1; what is left is none
local = 0.25

[event.chances.show]
local = 0.35
regional = 0.15

[sale]
venue = "private"
fee_percent = 0                   # seller's fee, percent of what the buyer pays
fees = 120                        # fixed: advertising
transport = 0
tax_percent = 0                   # tax that you must pass on
offers_per_month = 2              # serious offers that usually come for such a vehicle
reach_percent = 100               # buyers whom this sale reaches, percent of the usual
weeks_to_sell = [2, 6, 16]        # from being for sale to being paid (common practice, no source)
# deadline = 2027-12-31           # day by which it must be sold
# last_resort = 21000             # what it still brings on that day; else an auction without reserve
offer_spread_percent = 10         # how far offers for one vehicle scatter (common practice, no source)
walk_away_percent = 30            # buyers who leave after a counter (common practice, no source)
settle_under_ask_percent = 15     # talks usually end so far under the ask (common practice, no source)
buyers_lost_percent = 25          # buyers whom an ask keeps away that is a tenth higher (common practice, no source)
auction_fee_percent = 6           # seller's fee at auction (this and the next four: common practice, no source)
auction_premium_percent = 10      # buyer's premium at auction
auction_bidders = 6               # bidders to expect there
trade_under_percent = 20          # the trade pays so far under the estimate
consignment_fee_percent = 12      # what a dealer keeps who sells it for you

[goal]
margin_percent = 20               # profit wanted, percent of the outlay; or multiple_of_outlay = 2; or profit = 5000
sure_percent = 75                 # with this probability; leave it out for "on average"

# [wish]                          # a buyer who would pay more for one attribute: moves target and ask only
# attribute = "colour"
# level = "dark green"
# premium_percent = 6
# sure_percent = 60
"""


_SETS = re.compile(r'sets = \{ (?P<name>\w+) = "(?P<word>[^"]*)" \}')
_VEHICLE = re.compile(r"(?<=\[vehicle\])([^\n]*)\n.*?\n(?=\n)", re.DOTALL)
_EVENT = re.compile(r"\[event\].*?(?=\[sale\])", re.DOTALL)
_FOUND = {"condition": "project", "drivetrain": "missing", "paint": "bare"}
_CURRENCY = re.compile(r'^currency = "USD"', re.MULTILINE)


def plan_for(schema: Schema, vehicle: Mapping[str, Any], currency: str) -> str:
    """The plan to start from in the words of a schema: what it does not know is a remark.

    The vehicle is in the state that the plan's steps begin from, where the schema has words for that.

    Parameters
    ----------
    schema : Schema
    vehicle : mapping of str to value
        Of the owner's table.
    currency : str
        Of the table; empty when it names none.
    """
    found = {name: word for name, word in _FOUND.items() if _knows(schema, name, word)}
    whole = toml_text({**vehicle, **found})
    text = _VEHICLE.sub(lambda match: f"{match[1]}\n{whole}", PLAN_TEMPLATE, count=1)
    money = toml_text({"currency": currency}).rstrip() if currency else '# currency = "USD"'
    text = _CURRENCY.sub(lambda _: money, text)
    known = [_knows(schema, "awards", word) for word in ("local", "regional")]
    if not all([*known, _knows(schema, "condition", "driver"), _knows(schema, "condition", "show")]):
        text = _EVENT.sub("", text)
    return known_sets(text, schema)


def known_sets(text: str, schema: Schema) -> str:
    """Steps as they stand in a template, with what a schema does not know of what they set as a remark.

    Parameters
    ----------
    text : str
        TOML.
    schema : Schema
    """
    return _SETS.sub(lambda match: match[0] if _knows(schema, match["name"], match["word"]) else f"# {match[0]}", text)


def _knows(schema: Schema, name: str, word: str) -> bool:
    if name not in schema.names:
        return False
    attribute = schema.attribute(name)
    return bool(attribute.levels) and not isinstance(read_value(attribute, word, schema.reading()), CellFault | None)


def write_plan_template(path: str | Path) -> Path:
    """Write a plan to start from.

    Raises
    ------
    PlanError
        The file is there already, or cannot be written.
    """
    file = Path(path)
    try:
        write_file(file, PLAN_TEMPLATE, new=True)
    except FileExistsError:
        raise PlanError(f"Cannot write {file.name}: it is there already. Choose another name.") from None
    except OSError as problem:
        raise PlanError(f"Cannot write {file.name}: {problem.strerror}. Choose another folder.") from None
    return file
