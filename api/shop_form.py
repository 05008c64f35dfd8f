"""The shop's settings as the fields of a form, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from api.plan_form import NumberField, at, data_of, put_numbers
from api.problems import Refusal
from api.step_form import StepFields, number, number_text, step_fields, step_rows, typed_steps
from valuation.text.toml import toml_text

GROUPS: tuple[tuple[str, tuple[NumberField, ...]], ...] = (
    (
        "The work",
        (
            NumberField("shop.labour_rate", "Labour, money per hour", "of your own people", money=True),
            NumberField("shop.crew", "People who can work on one vehicle"),
            NumberField("shop.hours_per_week", "Hours a week of one person", "given to one vehicle"),
            NumberField("shop.bays", "Bays", "a build takes one"),
        ),
    ),
    (
        "What time costs",
        (
            NumberField("shop.holding_per_week", "Holding, money per week", "of one vehicle: storage", money=True),
            NumberField("shop.overhead_per_week", "The whole shop, money per week", "rent, heating", money=True),
            NumberField("shop.interest_percent", "Interest, percent a year", "what money costs until the sale"),
        ),
    ),
    (
        "Over the plan",
        (
            NumberField("overrun.typical", "The usual build ends at", "times its likely figures: 1.1 is a tenth over"),
            NumberField("overrun.one_in_ten", "One in ten ends at", "times its likely figures, or more"),
        ),
    ),
    (
        "Buying",
        (
            NumberField("purchase.fees", "Fees to buy", "title, inspection", money=True),
            NumberField("purchase.transport", "Bringing it home", money=True),
        ),
    ),
    (
        "Selling",
        (
            NumberField("sale.offers_per_month", "Serious offers a month", "0.5 is one in two months"),
            NumberField("sale.fee_percent", "Seller's fee, percent", "of what the buyer pays"),
            NumberField("sale.fees", "Other costs of selling", "advertising", money=True),
        ),
    ),
    (
        "The goal",
        (
            NumberField("goal.margin_percent", "Profit wanted, percent", "of all money in"),
            NumberField("goal.sure_percent", "How sure, percent", "75 is three cases in four; blank: on average"),
        ),
    ),
)
"""Number fields of the shop's page, by what they are about."""
NUMBERS = tuple(one for _, fields in GROUPS for one in fields)
PAPER = ("paper.name", "paper.contact")
"""Texts that stand on paper."""
JOBS = "overrun.past_jobs"
"""Field of the past jobs."""


@dataclass(frozen=True)
class ShopFields:
    """The shop's settings as the form shows them.

    Attributes
    ----------
    numbers, paper : dict of str to str
        By path in the file.
    jobs : str
        Past jobs, one a line: planned, actual.
    text : str
        The whole file.
    steps : list of StepFields
        The book.
    """

    numbers: Mapping[str, str]
    paper: Mapping[str, str]
    jobs: str
    text: str
    steps: Sequence[StepFields]


def shop_fields(text: str) -> ShopFields:
    """The form's fields of the settings."""
    data = data_of(text)
    jobs = at(data, JOBS) or []
    return ShopFields(
        numbers={one.path: number_text(at(data, one.path)) for one in NUMBERS},
        paper={path: str(at(data, path) or "") for path in PAPER},
        jobs="\n".join("; ".join(map(number_text, job)) for job in jobs),
        text=text,
        steps=[step_fields(row) for row in data.get("steps", [])],
    )


def typed_shop(form: Mapping[str, str]) -> ShopFields:
    """The form's fields as they were typed."""
    return ShopFields(
        numbers={one.path: form.get(one.path, "").strip() for one in NUMBERS},
        paper={path: form.get(path, "").strip() for path in PAPER},
        jobs=form.get(JOBS, "").strip(),
        text=form.get("text", ""),
        steps=typed_steps(form),
    )


def shop_text(form: Mapping[str, str], currency: str) -> str:
    """The settings that a form says; what the form does not show is kept from the text that it began with.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    currency : str
        Of the money.

    Raises
    ------
    PlanError, Refusal
        If a field holds no figures, or the text that it began with is damaged.
    """
    if form.get("as_text"):
        return form.get("text", "")
    data, fields = data_of(form.get("text", "")), typed_shop(form)
    put_numbers(data, NUMBERS, form, currency)
    for path, text in fields.paper.items():
        group, key = path.split(".")
        data.setdefault(group, {}).pop(key, None)
        if text:
            data[group][key] = text
    jobs = _jobs(fields.jobs, currency)
    data.setdefault("overrun", {}).pop("past_jobs", None)
    if jobs:
        data["overrun"]["past_jobs"] = jobs
    data["steps"] = step_rows(fields.steps, currency)
    return toml_text({key: value for key, value in data.items() if value not in ({}, [])})


def _jobs(text: str, currency: str) -> list[list[float]]:
    jobs = []
    for line in filter(str.strip, text.splitlines()):
        parts = [part.strip() for part in line.replace(";", " ").split() if part.strip()]
        if len(parts) != 2:
            detail = (
                f"Cannot use '{line.strip()[:40]}' as a past job: found {len(parts)} figures. Write one job a line, "
                "what was planned and what it came to: 9000; 11200."
            )
            raise Refusal(422, "service.request", detail, where=JOBS)
        jobs.append([number(part, "a past job", JOBS, currency) for part in parts])
    return jobs
