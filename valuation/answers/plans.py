"""The build plans of a vehicle in the ledger: which stand, what each is as a whole, and what it says in words."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from valuation.answers.given import PlanData
from valuation.answers.vehicle_file import plan_key
from valuation.build.figures import listed
from valuation.build.plan import BuildPlan
from valuation.build.plan_file import plan_from_dict
from valuation.build.progress import TABLES
from valuation.build.shop_file import SHOP_FILE, read_shop, shop_from_text, with_shop
from valuation.errors import LedgerError
from valuation.schema import Schema
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.ledger import Ledger, PlanRecord, VehicleRecord

ANOTHER = "another way"
"""What the copy of a plan is called after its name."""


@dataclass(frozen=True)
class KeptPlans:
    """The plans of one vehicle, each by its newest record.

    Attributes
    ----------
    standing, archived : tuple of PlanRecord
        In the order in which they were first written.
    """

    standing: tuple[PlanRecord, ...]
    archived: tuple[PlanRecord, ...]

    def find(self, number: int) -> PlanRecord | None:
        """The plan of which that is a record, the newest or an older one.

        Parameters
        ----------
        number : int
        """
        for plan in (*self.standing, *self.archived):
            if number in (plan.id, *(older.id for older in plan.history)):
                return plan
        return None

    def named(self, name: str) -> PlanRecord | None:
        """The plan of that name, put away or not."""
        return next((plan for plan in (*self.standing, *self.archived) if plan.name == name), None)


def kept_plans(ledger: Ledger, subject: str) -> KeptPlans:
    """The plans of a vehicle.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    """
    shown = ledger.shown("plan")
    plans = sorted({plan.name: plan for plan in ledger.plans(subject)}.values(), key=lambda plan: plan.first)
    keys = {plan.name: plan_key(subject, plan.name) for plan in plans}
    away = {name for name, key in keys.items() if key in shown and shown[key].archived}
    return KeptPlans(
        tuple(plan for plan in plans if plan.name not in away), tuple(plan for plan in plans if plan.name in away)
    )


def shop_settings(ledger: Ledger, folder: Path) -> Mapping[str, Any]:
    """What holds for every plan of the shop: the ledger's settings, else ``shop.toml`` in a folder, else nothing.

    Parameters
    ----------
    ledger : Ledger
    folder : Path
        Where the shop's own files lie.

    Raises
    ------
    PlanError
        The settings cannot be used.
    """
    kept = ledger.shop()
    if kept is not None:
        return shop_from_text(kept.text, "the shop's settings")
    if (folder / SHOP_FILE).is_file():
        return read_shop(folder / SHOP_FILE)
    return {}


def of_vehicle(plan: Mapping[str, Any], vehicle: VehicleRecord | None) -> dict[str, Any]:
    """A plan with what the ledger knows of its vehicle: as found, what was asked, and the purchase.

    Parameters
    ----------
    plan : mapping
        As its file holds it.
    vehicle : VehicleRecord or None
    """
    whole = dict(plan)
    if vehicle is None:
        return whole
    if found := json.loads(vehicle.found):
        whole["vehicle"] = found
    purchase = plan.get("purchase", {})
    if vehicle.asked is not None and isinstance(purchase, Mapping):
        whole["purchase"] = {**purchase, "asked": vehicle.asked}
    if vehicle.bought_on is not None:
        whole["bought"] = {"on": vehicle.bought_on, "price": vehicle.bought_for or 0.0}
    return whole


def whole_plans(
    plans: Sequence[PlanData], shop: Mapping[str, Any], vehicle: VehicleRecord | None = None
) -> list[PlanData]:
    """Plans with what the vehicle's record and the shop tell, so that what is kept of them stands alone.

    Parameters
    ----------
    plans : sequence of str or mapping
        Each as the text of its TOML file, or as data laid out as that file is.
    shop : mapping
        As ``shop_settings`` gives it.
    vehicle : VehicleRecord or None

    Raises
    ------
    PlanError
        The book of the shop has no step that a plan takes from it.
    """
    whole: list[PlanData] = []
    for i, plan in enumerate(plans, 1):
        try:
            data = read_toml(plan) if isinstance(plan, str) else plan
        except ValueError:
            whole.append(plan)  # the reader of plans says what is wrong
            continue
        merged = with_shop(of_vehicle(data, vehicle), shop, f"number {i}")
        whole.append(toml_text(merged) if isinstance(plan, str) else merged)
    return whole


@dataclass(frozen=True)
class PlanReader:
    """What a plan of the ledger is read and kept with.

    Attributes
    ----------
    ledger : Ledger
    vehicle : VehicleRecord
    schema : Schema
        Of the table that prices it.
    shop : mapping
        As ``shop_settings`` gives it.
    """

    ledger: Ledger
    vehicle: VehicleRecord
    schema: Schema
    shop: Mapping[str, Any]

    @property
    def plans(self) -> KeptPlans:
        """The vehicle's plans."""
        return kept_plans(self.ledger, self.vehicle.subject)

    def read(self, text: str) -> BuildPlan:
        """A plan as it counts: with what its vehicle's record and the shop tell.

        Raises
        ------
        PlanError
            The plan contradicts itself or the schema.
        """
        data = of_vehicle(read_toml(text), self.vehicle)
        name = str(data.get("name", "plan"))
        return plan_from_dict(with_shop(data, self.shop, name), self.schema, name, steps_needed=False)

    def whole(self, texts: Sequence[str]) -> list[PlanData]:
        """Texts of plans with all that the vehicle's record and the shop tell."""
        return whole_plans(texts, self.shop, self.vehicle)


def new_plan(vehicle: VehicleRecord, currency: str, name: str = "") -> str:
    """The text of a plan without steps for a vehicle.

    Parameters
    ----------
    vehicle : VehicleRecord
    currency : str
        Of the table; empty when it names none.
    name : str
    """
    start: dict[str, Any] = {"name": name, "currency": vehicle.currency or currency or None, "vehicle": {}}
    return toml_text(of_vehicle(start, vehicle))


def keep_plan(ledger: Ledger, vehicle: VehicleRecord, text: str, name: str, newest: PlanRecord | None) -> PlanRecord:
    """Write a plan, new or changed, with what its vehicle's record tells, so that its text stands alone as a file.

    Parameters
    ----------
    ledger : Ledger
    vehicle : VehicleRecord
    text : str
        Its TOML text.
    name : str
    newest : PlanRecord or None
        The record that it replaces.

    Raises
    ------
    LedgerError
        The vehicle has another plan of that name.
    """
    other = kept_plans(ledger, vehicle.subject).named(name)
    if other is not None and (newest is None or other.first != newest.first):
        raise LedgerError(
            f"Cannot keep a second plan '{name}' for {vehicle.subject}. Give it another name, or change that plan.",
            where="name",
        )
    data = read_toml(text)
    told = of_vehicle(data, vehicle)
    whole = text if told == data else toml_text(told)
    if newest is not None and (newest.name, newest.text) == (name, whole):
        return newest
    return ledger.add_plan(
        subject=vehicle.subject,
        name=name,
        text=whole,
        corrects=newest.id if newest else None,
        reason="changed" if newest else "",
    )


def copied(ledger: Ledger, plan: PlanRecord) -> PlanRecord:
    """A plan written once more under a name of its own, to be changed into another way.

    Parameters
    ----------
    ledger : Ledger
    plan : PlanRecord
    """
    taken = {one.name for one in ledger.plans(plan.subject)}
    name, at = f"{plan.name}, {ANOTHER}", 2
    while name in taken:
        name, at = f"{plan.name}, {ANOTHER} {at}", at + 1
    data = read_toml(plan.text)
    for work in TABLES:
        data.pop(work, None)
    return ledger.add_plan(subject=plan.subject, name=name, text=toml_text({**data, "name": name}))


def rest_in_words(plan: BuildPlan) -> str:
    """Show, sale, goal and overrun of a plan in a sentence each, on one line."""
    said = []
    if plan.event is not None:
        said.append(f"Show: {plan.event.name}, {plan.event.date:%-d %B %Y}")
    sale = plan.sale
    offers = f"{sale.offers_per_month:g} serious offers a month"
    said.append(f"Sale: {listed([offers, f'{sale.fee_percent:g} % fee'])}" if sale.fee_percent else f"Sale: {offers}")
    said.append(f"Goal: {plan.goal.words}")
    over = plan.shop.overrun
    said.append(f"the usual build ends {100 * (over.typical - 1):.0f} % over its likely figures")
    return ". ".join(f"{one[0].upper()}{one[1:]}" for one in said) + "."


def differing(before: Sequence[PlanData], now: Sequence[PlanData]) -> list[str]:
    """Names of the plans that were changed, added or put away since.

    Parameters
    ----------
    before, now : sequence of str or mapping
        Whole plans, as ``whole_plans`` gives them.
    """

    def by_name(plans: Sequence[PlanData]) -> dict[str, Mapping[str, Any]]:
        read = [read_toml(plan) if isinstance(plan, str) else plan for plan in plans]
        return {str(plan.get("name", "")): plan for plan in read}

    old, new = by_name(before), by_name(now)
    return [name for name in dict.fromkeys([*new, *old]) if new.get(name) != old.get(name)]
