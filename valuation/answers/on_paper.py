"""What the ledger holds of a vehicle for its paper: the answers that its pages show, so that both say the same."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from valuation.answers.given import read_plans
from valuation.answers.kept import kept_build
from valuation.build.terms import Goal

if TYPE_CHECKING:
    from valuation.build.plan import BuildPlan
    from valuation.ledger import DealRecord, Ledger
    from valuation.schema import Schema


@dataclass(frozen=True)
class DealKept:
    """The newest comparison of paths for a vehicle, with what it was asked for.

    Attributes
    ----------
    plans : list of BuildPlan
    as_of : date
    price : float or None
    goal : Goal or None
    found : mapping
        ``BuildAnswer`` as plain data, as the page shows it.
    """

    plans: list[BuildPlan]
    as_of: dt.date
    price: float | None
    goal: Goal | None
    found: Mapping[str, Any]


def newest_build(ledger: Ledger, subject: str) -> DealRecord | None:
    """The record of the newest comparison of paths for a vehicle.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    """
    return next((deal for deal in reversed(ledger.deals(subject)) if deal.kind == "build"), None)


def deal_kept(ledger: Ledger, deal: DealRecord, schema: Schema) -> DealKept:
    """A comparison of paths with what it was asked for.

    Parameters
    ----------
    ledger : Ledger
    deal : DealRecord
        Of the kind "build".
    schema : Schema
        Of its table.
    """
    kept = kept_build(ledger, deal)
    told = kept.inputs.get("goal")
    return DealKept(
        plans=read_plans(kept.inputs["plans"], schema, steps_needed=False),
        as_of=dt.date.fromisoformat(kept.inputs["as_of"]),
        price=kept.inputs["price"],
        goal=None if told is None else Goal(told["margin_percent"], told["profit"], told["sure_percent"]),
        found=kept.found,
    )
