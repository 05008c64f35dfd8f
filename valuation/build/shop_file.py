"""The shop's own file, ``shop.toml``: what holds for every plan, and a book of the steps that it usually does."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from valuation.errors import PlanError, shown
from valuation.text.files import read_text_file
from valuation.text.spelling import did_you_mean
from valuation.text.toml import read_toml

SHOP_FILE = "shop.toml"
SETTINGS = ("shop", "overrun", "purchase", "sale", "goal")
"""Tables of a plan that the shop's file may hold as well; a line of the plan goes before."""

SHOP_TEMPLATE = """\
# What holds for every build plan. A plan beside this file, or one folder below it, states only its own, and a line
# in the plan goes before one here. Money is plain numbers in the currency of your table of sales.

[shop]
labour_rate = 45                  # money per hour of your own people
crew = 2                          # people who can work on one vehicle at once
hours_per_week = 20               # hours that one of them gives to it in a week
bays = 3                          # bays in the shop; a build takes one
holding_per_week = 30             # storage, insurance
overhead_per_week = 450           # of the whole shop; a build bears one bay's share
interest_percent = 8              # what money costs, percent a year (common practice, no source)

[overrun]                         # of whole builds over their likely figures
typical = 1.1                     # the usual build ends 10 % over (common practice, no source)
one_in_ten = 1.35                 # one in ten ends 35 % over or more (common practice, no source)
# past_jobs = [[9000, 11200], [15000, 14800]]   # likely figures as planned, and what your own jobs came to

# The book: steps that the shop usually does. A plan takes one with  use = "brakes"  and changes what differs.
[[steps]]
id = "brakes"
what = "Brakes, steering, wiring, tyres"
cost = [1500, 2000, 3200]         # low, likely, high: parts and outside work
hours = [50, 70, 110]             # of your own people, all together
parts_weeks = [1, 2, 5]
sets = { condition = "runner" }

[[steps]]
id = "paint"
what = "Strip, prime, paint"
cost = [1800, 2600, 4300]
hours = [60, 90, 150]
sets = { paint = "fresh" }
"""


def shop_near(plan: Path) -> Mapping[str, Any] | None:
    """The shop's file beside a plan or one folder above it; None where there is none."""
    for folder in (plan.parent, plan.parent.parent):
        if (folder / SHOP_FILE).is_file():
            return read_shop(folder / SHOP_FILE)
    return None


def read_shop(file: Path) -> Mapping[str, Any]:
    """The shop's file as plain data.

    Raises
    ------
    PlanError
        The file cannot be read, or holds a setting that a shop does not have.
    """
    try:
        text = read_text_file(file)
    except ValueError as problem:
        raise PlanError(f"Cannot use the shop's file {file.name}: it {problem}. Mend that line.") from None
    return shop_from_text(text, f"the shop's file {file.name}")


def shop_from_text(text: str, called: str) -> dict[str, Any]:
    """The shop's settings as plain data.

    Parameters
    ----------
    text : str
        TOML.
    called : str
        What it is called in a message.

    Raises
    ------
    PlanError
        The text cannot be read, or holds a setting that a shop does not have.
    """
    try:
        data = read_toml(text)
    except ValueError as problem:
        raise PlanError(f"Cannot use {called}: it {problem}. Mend that line.", where="text") from None
    known = (*SETTINGS, "paper", "steps")
    for key, value in data.items():
        if key not in known:
            raise PlanError(
                f"Cannot use {called}: {key} is not known. Known here: {', '.join(known[:-1])} and steps."
                f"{did_you_mean(key, known)}",
                where="text",
            )
        if not isinstance(value, list if key == "steps" else dict):
            raise PlanError(f"Cannot use {called}: {key} is {shown(value)}. Start it with [{key}].", where="text")
    return data


def with_shop(plan: Mapping[str, Any], shop: Mapping[str, Any], file: str) -> dict[str, Any]:
    """A plan with what it leaves to the shop's file: settings line by line, and steps that it takes from the book.

    Parameters
    ----------
    plan, shop : mapping
        As their files hold them.
    file : str
        The plan's name, for messages.

    Raises
    ------
    PlanError
        A step uses one that the book does not have.
    """
    whole = dict(plan)
    for name in SETTINGS:
        own = plan.get(name, {})
        if name in shop and isinstance(own, dict):
            whole[name] = {**shop[name], **own}
    rows = plan.get("steps")
    if isinstance(rows, list):
        book = {str(row.get("id")): row for row in shop.get("steps", []) if isinstance(row, dict)}
        whole["steps"] = [_from_book(row, book, file) for row in rows]
    return whole


def _from_book(row: Any, book: Mapping[str, Mapping[str, Any]], file: str) -> Any:
    if not isinstance(row, dict) or "use" not in row:
        return row
    name = str(row["use"])
    if name not in book:
        held = f"It holds: {', '.join(book)}.{did_you_mean(name, list(book))}" if book else "It holds none."
        raise PlanError(
            f"Cannot use the plan {file}: a step uses '{name}', which the book of usual steps in {SHOP_FILE} does not "
            f"have. {held}"
        )
    return {**book[name], **{key: value for key, value in row.items() if key != "use"}}
