"""A build plan as the fields of a form, and back."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from api.problems import Refusal
from valuation.errors import PlanError
from valuation.schema import Schema
from valuation.text.dates import read_day
from valuation.text.money import read_amount
from valuation.text.numbers import DOUBT, read_number
from valuation.text.reading import Reading
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.ledger import EstimateRecord

BLANK_STEPS = 3
"""Empty lines below the steps of a plan, for new ones; a kept plan shows as many again."""
NUMBERS = (
    ("purchase.asked", "What the owner asks", "leave blank when not known"),
    ("purchase.fees", "Fees to buy", "title, inspection"),
    ("bought.price", "Paid for it", "once it is yours"),
    ("purchase.transport", "Bringing it home", ""),
    ("shop.labour_rate", "Labour, money per hour", "of your own people"),
    ("shop.crew", "People who can work on it", ""),
    ("shop.hours_per_week", "Hours a week of one person", "given to this vehicle"),
    ("shop.holding_per_week", "Holding, money per week", "storage, insurance"),
    ("event.entry_cost", "Entry cost of the event", ""),
    ("sale.fee_percent", "Seller's fee, percent", "of what the buyer pays"),
    ("sale.offers_per_month", "Serious offers a month", "0.5 is one in two months"),
    ("goal.margin_percent", "Profit wanted, percent", "of the outlay"),
    ("goal.sure_percent", "How sure, percent", "blank: on average"),
)
"""Number fields: path in the file, title, hint."""
MONEY = frozenset(path for path, *_ in NUMBERS if path.startswith("purchase."))
MONEY |= {"shop.labour_rate", "shop.holding_per_week", "event.entry_cost", "bought.price"}


@dataclass(frozen=True)
class StepFields:
    """One step as the form shows it; all texts.

    Attributes
    ----------
    id, what, cost, hours, weeks, after, done : str
        Amounts as ``low, likely, high``; ids of steps before, parted by commas; of a step that is done the day, what it
        cost and the hours it took.
    sets : list of str
        ``attribute=level``, at most three.
    """

    id: str = ""
    what: str = ""
    cost: str = ""
    hours: str = ""
    weeks: str = ""
    after: str = ""
    done: str = ""
    sets: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class PlanFields:
    """A plan as the form shows it.

    Attributes
    ----------
    number : int
        Of the plan's record that is being changed; 0 for a new one.
    name, currency, event, event_date, bought_on, text : str
        ``text`` is the whole file.
    numbers : dict of str to str
        By path in the file.
    steps : list of StepFields
    """

    number: int
    name: str
    currency: str
    event: str
    event_date: str
    bought_on: str
    text: str
    numbers: dict[str, str]
    steps: list[StepFields]


def fields_of(number: int, text: str) -> PlanFields:
    """The form's fields of a plan file.

    Parameters
    ----------
    number : int
        Of the plan in the ledger.
    text : str
        The plan file.
    """
    data = _data(text)
    event = data.get("event", {})
    done = {
        str(row.get("step")): ", ".join(
            [str(row.get("on")), *(_number_text(row.get(key)) for key in ("cost", "hours"))]
        )
        for row in data.get("done", [])
    }
    steps = [
        StepFields(
            id=str(step.get("id", "")),
            what=str(step.get("what", "")),
            cost=_triple_text(step.get("cost")),
            hours=_triple_text(step.get("hours")),
            weeks=_triple_text(step.get("parts_weeks")),
            after=", ".join(step.get("after", [])),
            done=done.get(str(step.get("id", "")), ""),
            sets=[f"{name}={_level(value)}" for name, value in step.get("sets", {}).items()],
        )
        for step in data.get("steps", [])
    ]
    numbers = {path: _number_text(_at(data, path)) for path, _, _ in NUMBERS}
    return PlanFields(
        number=number,
        name=str(data.get("name", "")),
        currency=str(data.get("currency", "")),
        event=str(event.get("name", "")),
        event_date=str(event.get("date", "")),
        bought_on=str(data.get("bought", {}).get("on", "")),
        text=text,
        numbers=numbers,
        steps=[*steps, *[StepFields() for _ in range(BLANK_STEPS)]],
    )


def new_plan_text(estimate: EstimateRecord) -> str:
    """A plan without steps for the vehicle of an estimate, to start from."""
    import json

    return toml_text(
        {"name": "new plan", "currency": estimate.currency or None, "vehicle": json.loads(estimate.vehicle)}
    )


def text_from_form(form: Mapping[str, str], schema: Schema) -> str:
    """The plan file that a form says; what the form does not show is kept from the file it began with.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    schema : Schema

    Raises
    ------
    PlanError, Refusal
        If a field holds no figures, or the file it began with is damaged.
    """
    data = _data(form.get("text", ""))
    if form.get("as_text"):
        return form.get("text", "")
    data["name"] = form.get("name", "").strip() or data.get("name", "plan")
    currency = str(data.get("currency", ""))
    for path, title, _ in NUMBERS:
        group, key = path.split(".")
        text = form.get(path, "").strip()
        if text:
            data.setdefault(group, {})[key] = _number(text, title, path, currency if path in MONEY else None)
        else:
            data.get(group, {}).pop(key, None)
    if form.get("event", "").strip() and form.get("event_date", "").strip():
        data.setdefault("event", {}).update(name=form["event"].strip(), date=_date(form["event_date"].strip()))
    else:
        data.pop("event", None)
    if "bought_on" in form and form["bought_on"].strip():
        data.setdefault("bought", {})["on"] = _date(form["bought_on"].strip(), "bought_on")
    elif "bought_on" in form:
        data.get("bought", {}).pop("on", None)
    data["steps"] = _steps(form, data.get("steps", []), currency)
    if any(name.endswith(".done") for name in form):
        data["done"] = _done(form, data["steps"], currency)
    ordered = {key: value for key, value in data.items() if value not in ({}, [])}
    return toml_text(ordered)


def settable(schema: Schema) -> list[tuple[str, list[tuple[str, str]]]]:
    """What a step can set: for each attribute its title and its ``attribute=level`` choices with their names."""
    found = []
    for one in schema.attributes:
        levels = ["yes", "no"] if one.role == "flag" else list(one.level_names)
        if levels:
            found.append((one.title, [(f"{one.name}={level}", f"{one.title}: {level}") for level in levels]))
    return found


def field_of(form: Mapping[str, str], text: str, where: str) -> str:
    """The field of the form for a place in the plan file that it said, such as ``step 'paint'.cost``.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    text : str
        The plan file.
    where : str
        The place, as the refusal names it.
    """
    if form.get("as_text"):
        return "text"
    found = re.match(r"step '(?P<id>[^']+)'\.?(?P<key>\w*)", where)
    if found is None:
        return where
    places = dict(zip([step["id"] for step in _data(text)["steps"]], _filled(form), strict=False))
    part = {"cost": "cost", "hours": "hours", "parts_weeks": "weeks", "after": "after", "sets": "sets0"}
    return f"step.{places.get(found['id'], 0)}.{part.get(found['key'], 'what')}"


def _filled(form: Mapping[str, str]) -> list[int]:
    """Places of the steps that are not blank, in order."""
    places = sorted({int(name.split(".")[1]) for name in form if re.fullmatch(r"step\.\d{1,3}\.what", name)})
    return [place for place in places if form[f"step.{place}.what"].strip()]


def _steps(form: Mapping[str, str], before: list[dict[str, Any]], currency: str) -> list[dict[str, Any]]:
    known = {str(step.get("id", "")): step for step in before}
    steps: list[dict[str, Any]] = []
    for place in _filled(form):
        get = {part: form.get(f"step.{place}.{part}", "").strip() for part in ("id", "what", "cost", "hours", "weeks")}
        taken = {step["id"] for step in steps}
        step = dict(known.get(get["id"], {"id": _new_id(get["what"], taken)}))
        step["what"] = get["what"]
        for key, part in (("cost", "cost"), ("hours", "hours"), ("parts_weeks", "weeks")):
            step.pop(key, None)
            if get[part]:
                money = currency if key == "cost" else None
                step[key] = _triple(get[part], get["what"], key, f"step.{place}.{part}", money)
        after = [name.strip() for name in form.get(f"step.{place}.after", "").split(",") if name.strip()]
        step["after"] = after or None
        sets = {}
        for which in range(3):
            name, _, level = form.get(f"step.{place}.sets{which}", "").partition("=")
            if name and not level:
                raise Refusal(
                    422, "service.request", f"Cannot use '{name[:60]}' for what '{get['what']}' makes of the vehicle. "
                    "Write an attribute and its level, such as paint=fresh.", where=f"step.{place}.sets{which}",
                )  # fmt: skip
            if level:
                sets[name.strip()] = {"yes": True, "no": False}.get(level.strip(), level.strip())
        step["sets"] = sets or None
        steps.append({key: value for key, value in step.items() if value is not None})
    return steps


def _done(form: Mapping[str, str], steps: Sequence[Mapping[str, Any]], currency: str) -> list[dict[str, Any]]:
    """The steps that are done, each with its day, cost and hours."""
    rows = []
    for place, step in zip(_filled(form), steps, strict=True):
        text, where = form.get(f"step.{place}.done", "").strip(), f"step.{place}.done"
        if not text:
            continue
        parts = _parts(text)
        if len(parts) != 3:
            raise Refusal(
                422, "service.request", f"Cannot use '{text[:60]}' for when '{step['what']}' was done. Write the day, "
                "what it cost and the hours it took, such as 2027-01-15, 4600, 101.", where=where,
            )  # fmt: skip
        cost, hours = _number(parts[1], "what it cost", where, currency), _number(parts[2], "hours", where)
        rows.append({"step": step["id"], "on": _date(parts[0], where), "cost": cost, "hours": hours})
    return rows


def _data(text: str) -> dict[str, Any]:
    try:
        return read_toml(text)
    except ValueError as error:
        message = f"Cannot read the plan: it {error}. Mend that line; text stands in quotes."
        raise PlanError(message, where="text") from error


def _at(data: Mapping[str, Any], path: str) -> Any:
    group, key = path.split(".")
    return data.get(group, {}).get(key)


def _level(value: object) -> str:
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def _number_text(value: object) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _triple_text(value: object) -> str:
    if value is None:
        return ""
    return ", ".join(_number_text(one) for one in value) if isinstance(value, list) else _number_text(value)


def _number(text: str, title: str, where: str, currency: str | None = None) -> float:
    """A figure as a person writes it; money, in that currency, where one is given (empty: any)."""
    try:
        value = read_number(text, DOUBT if "." in text else "") if currency is None else read_amount(text, currency)
    except ValueError as error:
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{text[:40]}' for '{title}': it {error}. Write it as 12.5.",
            where=where,
        ) from error
    return int(value) if value.is_integer() else value


def _triple(text: str, step: str, what: str, where: str, currency: str | None = None) -> list[float] | float:
    figures = [_number(part, f"{what} of {step}", where, currency) for part in _parts(text.strip())]
    if len(figures) == 1:
        return figures[0]
    if len(figures) != 3:
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{text[:60]}' for {what} of '{step}': found {len(figures)} figures. Write low, likely, high "
            "such as 1500, 2000, 3200, or one figure when it is certain.",
            where=where,
        )
    return figures


def _parts(text: str) -> list[str]:
    """Figures parted by a semicolon, a stroke or a space; commas part them too where there are two and nothing else."""
    parts = [part for part in re.split(r"[;/]|,?\s+", text) if part]
    return text.split(",") if len(parts) == 1 and text.count(",") == 2 else parts


def _date(text: str, where: str = "event_date") -> dt.date:
    try:
        return read_day(text, Reading())
    except ValueError as error:
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{text[:40]}' as a date: it {error}. Write it as 2026-05-31.",
            where=where,
        ) from error


def _new_id(what: str, taken: set[str]) -> str:
    base = re.sub(r"[^a-z0-9]+", "-", what.casefold()).strip("-")[:24] or "step"
    name, at = base, 2
    while name in taken:
        name, at = f"{base}-{at}", at + 1
    return name
