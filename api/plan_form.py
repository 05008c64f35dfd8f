"""A build plan as the fields of a form, and back."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from api.deps import record_number
from api.problems import Refusal
from api.step_form import FIGURES, PARTS, StepFields, number, number_text, step_fields, step_rows, typed_steps
from valuation.errors import PlanError, ValuationError
from valuation.text.dates import read_day
from valuation.text.reading import Reading
from valuation.text.toml import read_toml, toml_text


@dataclass(frozen=True)
class NumberField:
    """A number of a plan or of the shop.

    Attributes
    ----------
    path : str
        Table and key in the file.
    title, hint : str
    money : bool
        Whether it is read as money.
    usual : str
        What holds where it is blank: the shop's own.
    """

    path: str
    title: str
    hint: str = ""
    money: bool = False
    usual: str = ""


SHOP = (
    NumberField("shop.labour_rate", "Labour, money per hour", "of your own people", money=True),
    NumberField("shop.crew", "People who can work on one vehicle"),
    NumberField("shop.hours_per_week", "Hours a week of one person", "given to one vehicle"),
    NumberField("shop.holding_per_week", "Holding, money per week", "storage, insurance", money=True),
)
"""What the shop usually says and a plan may say otherwise."""
GROUPS: tuple[tuple[str, tuple[NumberField, ...]], ...] = (
    ("The show", (NumberField("event.entry_cost", "Entry", money=True),)),
    (
        "The sale",
        (
            NumberField("sale.fee_percent", "Seller's fee, percent", "of what the buyer pays"),
            NumberField("sale.offers_per_month", "Serious offers a month", "0.5 is one in two months"),
        ),
    ),
    (
        "The goal",
        (
            NumberField("goal.margin_percent", "Profit wanted, percent", "of all money in"),
            NumberField("goal.sure_percent", "How sure, percent", "75 is three cases in four"),
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
        "Getting it home",
        (
            NumberField("purchase.fees", "Fees to buy", "title, inspection", money=True),
            NumberField("purchase.transport", "Transport", money=True),
        ),
    ),
    ("Only for this plan", SHOP),
)
"""Number fields of a plan's form beside its cards, by what they are about."""
NUMBERS = tuple(one for _, fields in GROUPS for one in fields)
UNNAMED = "plan"
"""What a plan is called in messages while it has no name."""
AFTER = "Comes after"
"""What the card calls the steps that a step waits for."""
_LIST = re.compile(r"^it is (?:\[[^\]]*\]|[-\d.e+]+); ")
"""Three figures as a file lists them, before what is wrong with them."""
TEXTS = ("name", "event", "event_date")


@dataclass(frozen=True)
class PlanFields:
    """A plan as the form shows it.

    Attributes
    ----------
    number : int
        Of the plan's record that is being changed; 0 for a new one.
    name, event, event_date, text : str
        ``text`` is the whole file.
    numbers : dict of str to str
        By path in the file.
    steps : list of StepFields
    """

    number: int
    name: str
    event: str
    event_date: str
    text: str
    numbers: Mapping[str, str]
    steps: Sequence[StepFields]


def fields_of(number: int, text: str, book: Mapping[str, Mapping[str, Any]] | None = None) -> PlanFields:
    """The form's fields of a plan file.

    Parameters
    ----------
    number : int
        Of the plan in the ledger.
    text : str
        The plan file.
    book : mapping, optional
        Steps of the shop's book by id, for those that the plan takes from it by ``use``.
    """
    data = data_of(text)
    event = data.get("event", {})
    return PlanFields(
        number=number,
        name=str(data.get("name", "")),
        event=str(event.get("name", "")),
        event_date=str(event.get("date", "")),
        text=text,
        numbers={one.path: number_text(at(data, one.path)) for one in NUMBERS},
        steps=[step_fields(_whole(row, book or {})) for row in data.get("steps", [])],
    )


def typed_plan(form: Mapping[str, str]) -> PlanFields:
    """The form's fields as they were typed."""
    got = {name: form.get(name, "").strip() for name in TEXTS}
    return PlanFields(
        number=record_number(form.get("number", "")) or 0,
        text=form.get("text", ""),
        numbers={one.path: form[one.path].strip() for one in NUMBERS if one.path in form},
        steps=typed_steps(form),
        **got,
    )


def form_of(fields: PlanFields) -> dict[str, str]:
    """The form that shows these fields, as a browser would send it."""
    form = {"number": str(fields.number), "text": fields.text, **{name: getattr(fields, name) for name in TEXTS}}
    form |= fields.numbers
    for i, step in enumerate(fields.steps):
        form |= {f"step.{i}.id": step.id, **{f"step.{i}.{part}": step.texts.get(part, "") for part in PARTS}}
        form |= {f"step.{i}.sets{j}": text for j, text in enumerate(step.sets)}
        form |= {f"step.{i}.after.{one}": "1" for one in step.after}
    return form


def text_from_form(form: Mapping[str, str], book: Mapping[str, Mapping[str, Any]] | None = None) -> str:
    """The plan file that a form says; what the form does not show is kept from the file it began with.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    book : mapping, optional
        Steps of the shop's book by id: a step that takes one by ``use`` states only what differs.

    Raises
    ------
    PlanError, Refusal
        If a field holds no figures, or the file it began with is damaged.
    """
    data = data_of(form.get("text", ""))
    if form.get("as_text"):
        return form.get("text", "")
    fields = typed_plan(form)
    data["name"] = fields.name or data.get("name") or UNNAMED
    put_numbers(data, NUMBERS, form, str(data.get("currency", "")))
    if fields.event and fields.event_date:
        data.setdefault("event", {}).update(name=fields.event, date=day_typed(fields.event_date, "event_date"))
    elif fields.event or data.get("event", {}).keys() - {"name", "date", "chances"}:
        missing, where = ("the day of the show", "event_date") if fields.event else ("a name", "event")
        detail = f"Cannot keep the show without {missing}. Fill it in, or clear the fields of the show."
        raise Refusal(422, "service.request", detail, where=where)
    else:
        data.pop("event", None)
    rows = step_rows(fields.steps, str(data.get("currency", "")))
    data["steps"] = [_own(row, book or {}) for row in rows]
    return toml_text({key: value for key, value in data.items() if value not in ({}, [])})


def put_numbers(data: dict[str, Any], fields: Sequence[NumberField], form: Mapping[str, str], currency: str) -> None:
    """Write number fields of a form into a file's data; a blank one is taken out.

    Parameters
    ----------
    data : dict
        Changed in place.
    fields : sequence of NumberField
    form : mapping of str to str
        Fields as they were typed, by name; those that it does not have stay.
    currency : str
        Of the money.

    Raises
    ------
    Refusal
        A field holds no such figure, or the goal is half a one.
    """
    for one in fields:
        if one.path not in form:
            continue
        group, key = one.path.split(".")
        text = form[one.path].strip()
        if text:
            data.setdefault(group, {})[key] = number(text, one.title, one.path, currency if one.money else None)
        else:
            data.get(group, {}).pop(key, None)
    if data.get("goal", {}).keys() == {"sure_percent"}:
        detail = "Cannot keep how sure a profit must be without the profit. Fill it in, or clear how sure."
        raise Refusal(422, "service.request", detail, where="goal.margin_percent")


def say_of_form(form: Mapping[str, str], error: ValuationError, fields: Sequence[NumberField] = NUMBERS) -> None:
    """Put a refusal of a file into the words of the form that says it: it names the field, not the entry.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    error : ValuationError
        Changed in place; ``where`` is a place in the file, such as ``step 'paint'.cost``.
    fields : sequence of NumberField
        The form's number fields.
    """
    if form.get("as_text"):
        error.where = "text"
        return
    table, _, key = error.where.rpartition(".")
    found = re.fullmatch(r"step '(.+)':?", table or error.where, re.DOTALL)
    if found is None:
        title = next((one.title for one in fields if one.path == error.where), "")
        error.args = (_said(str(error), f"[{table}]", key, title),)
        error.where = "event_date" if error.where == "event.date" else error.where
        return
    told = [(place, step) for place, step in enumerate(typed_steps(form)) if step.is_told]
    names = [row["id"] for row in step_rows([step for _, step in told], "")]
    place, step = told[names.index(found[1]) if found[1] in names else 0]
    part, called = {key: (name, called) for name, key, called in FIGURES}.get(key, ("what", ""))
    title = f"{called} of {step.what}" if called else ""
    error.args = (_said(str(error), f"step '{found[1]}':", key, title),)
    error.where = f"step.{place}.{'sets0' if key == 'sets' else part}"


def _said(text: str, table: str, key: str, title: str) -> str:
    """What is wrong with the entry of that title, without its place in the file; without a title, the text as it is."""
    for place in (f": {table} '{key}' ", f": {table} {key} "):
        _, here, why = text.partition(place)
        if here and title:
            return f"Cannot use '{title}': {_LIST.sub('', f'it {why}')}"
    return text.replace("'after'", f"'{AFTER}'")


def data_of(text: str) -> dict[str, Any]:
    """A plan's file as data; ``PlanError`` where it is damaged."""
    try:
        return read_toml(text)
    except ValueError as error:
        message = f"Cannot read the plan: it {error}. Mend that line; text stands in quotes."
        raise PlanError(message, where="text") from error


def at(data: Mapping[str, Any], path: str) -> Any:
    """The entry of a file at ``table.key``, or None.

    Parameters
    ----------
    data : mapping
    path : str
    """
    group, key = path.split(".")
    held = data.get(group, {})
    return held.get(key) if isinstance(held, Mapping) else None


def day_typed(text: str, where: str) -> dt.date:
    """A day as a person writes it.

    Parameters
    ----------
    text : str
    where : str
        Its field.

    Raises
    ------
    Refusal
        It is none.
    """
    try:
        return read_day(text, Reading())
    except ValueError as error:
        detail = f"Cannot use '{text[:40]}' as a date: it {error}. Write it as 2026-05-31."
        raise Refusal(422, "service.request", detail, where=where) from error


def _whole(row: Mapping[str, Any], book: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """A step with what it takes from the book."""
    return {**book.get(str(row.get("use", "")), {}), **row}


def _own(row: Mapping[str, Any], book: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """A step as the file states it: of one that is taken from the book only what differs."""
    taken = book.get(str(row.get("use", "")))
    if taken is None:
        return dict(row)
    if taken.keys() - row.keys():  # what the book says and this step does not cannot be stated beside it
        return {key: value for key, value in row.items() if key != "use"}
    return {key: value for key, value in row.items() if taken.get(key) != value}
