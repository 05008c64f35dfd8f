"""What buttons do to the cards of a plan, and the steps that can be taken from the shop's book and earlier plans."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from api.step_form import NEW, StepFields, blank_step, moved, step_fields
from valuation.answers.vehicle_file import standing_plans
from valuation.text.toml import read_toml

if TYPE_CHECKING:
    from valuation.ledger import Ledger, PlanRecord

MOST_PLANS = 12
"""Earlier plans whose steps are offered: the newest; more would bury the one that is looked for."""
_ON_CARD = re.compile(r"(up|down|out|choice)\.(\d{1,3})")
_TAKEN = re.compile(r"(book|plan)\.(\d{1,10})\.(\d{1,3})")


@dataclass(frozen=True)
class Taken:
    """A step that can be taken with one button.

    Attributes
    ----------
    act : str
        What its button sends.
    step : StepFields
    """

    act: str
    step: StepFields


@dataclass(frozen=True)
class Source:
    """Where steps can be taken from.

    Attributes
    ----------
    title : str
    steps : tuple of Taken
    """

    title: str
    steps: tuple[Taken, ...]


def sources(ledger: Ledger, shop: Mapping[str, Any], number: int = 0) -> list[Source]:
    """The shop's book, then the newest plans of any vehicle.

    Parameters
    ----------
    ledger : Ledger
    shop : mapping
        Its settings.
    number : int
        Of the plan that the steps would be taken into; its own are not offered.
    """
    book = _source("The shop's book", "book.0", shop.get("steps", []))
    standing = standing_plans(ledger.plans(), ledger.shown("plan"))
    plans = sorted((plan for plan in standing if plan.id != number), key=lambda plan: -plan.id)
    found = [_source(f"{plan.name}, {plan.subject}", f"plan.{plan.id}", _rows(plan)) for plan in plans[:MOST_PLANS]]
    return [one for one in (book, *found) if one.steps]


def _source(title: str, act: str, rows: Sequence[Mapping[str, Any]]) -> Source:
    return Source(title, tuple(Taken(f"{act}.{i}", step_fields(row)) for i, row in enumerate(rows)))


def _rows(plan: PlanRecord) -> list[dict[str, Any]]:
    try:
        return [row for row in read_toml(plan.text).get("steps", []) if "use" not in row]
    except ValueError:
        return []


def acted(steps: Sequence[StepFields], act: str, ledger: Ledger, shop: Mapping[str, Any]) -> list[StepFields]:
    """The cards after a button was pressed; as they are where it does nothing to them.

    Parameters
    ----------
    steps : sequence of StepFields
    act : str
        What the button sent.
    ledger : Ledger
    shop : mapping
        The shop's settings.
    """
    if act == "add":
        return [*steps, blank_step(steps)]
    if (found := _TAKEN.fullmatch(act)) is not None:
        rows = shop.get("steps", []) if found[1] == "book" else _rows(ledger.plan(int(found[2])))
        return [*steps, _as_new(rows[int(found[3])], steps)] if int(found[3]) < len(rows) else list(steps)
    if (found := _ON_CARD.fullmatch(act)) is not None and int(found[2]) < len(steps):
        what, place = found[1], int(found[2])
        if what == "out":
            gone = steps[place].id
            return [replace(one, after=tuple(x for x in one.after if x != gone)) for one in steps if one.id != gone]
        if what == "choice":
            return [replace(one, open=True, focus=True) if i == place else one for i, one in enumerate(steps)]
        return moved(steps, place, -1 if what == "up" else 1)
    return list(steps)


def _as_new(row: Mapping[str, Any], steps: Sequence[StepFields]) -> StepFields:
    """A step of elsewhere as a new card: what it comes after there is told of the cards here that have those ids."""
    card, blank, here = (
        step_fields({key: value for key, value in row.items() if key != "after_if_done"}),
        blank_step(steps),
        {step.id for step in steps},
    )
    name = card.id if card.id and card.id not in here and not card.id.startswith(NEW) else blank.id
    return replace(card, id=name, after=tuple(one for one in card.after if one in here), focus=True)


def book_of(shop: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """The steps of the shop's book by their ids."""
    return {str(row.get("id")): row for row in shop.get("steps", []) if isinstance(row, Mapping)}
