"""Steps of a plan, or of the shop's book, as cards of a form, and back."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from api.problems import Refusal
from valuation.schema import Schema
from valuation.text.json import read_json
from valuation.text.money import read_amount
from valuation.text.numbers import DOUBT, read_number

FIGURES = (("cost", "cost", "parts"), ("hours", "hours", "hours"), ("weeks", "parts_weeks", "weeks for parts"))
"""Figures of a card, low, likely and high each: field, key in the file, and what they are called."""
ENDS = ("_low", "", "_high")
"""What the field of each of the three figures ends in: the likely one alone may be told."""
SHOWN = frozenset({"id", "what", "after", "sets", *(key for _, key, _ in FIGURES)})
"""Keys of a step that its card shows; what else a step says is kept as it is."""
PARTS = ("what", *(f"{name}{end}" for name, _, _ in FIGURES for end in ENDS), "more")
"""Fields of a card beside its id, what it makes and what it comes after."""
NEW = "+"
"""What the id of a card begins with that is not kept yet; it is called by its title once it is."""
_CARD = re.compile(r"step\.(\d{1,3})\.what")
_AFTER = re.compile(r"step\.(\d{1,3})\.after\.(.+)", re.DOTALL)
_SETS = re.compile(r"step\.(\d{1,3})\.sets(\d{1,2})")


@dataclass(frozen=True)
class StepFields:
    """One step as its card shows it; all texts.

    Attributes
    ----------
    id : str
    texts : dict of str to str
        By the names of ``PARTS``.
    after : tuple of str
        Ids of the steps that must be done before.
    sets : tuple of str
        ``attribute=level``, what it makes of the vehicle.
    open, focus : bool
        Whether the card stands open, and whether it is the one that was just touched.
    """

    id: str
    texts: Mapping[str, str] = field(default_factory=dict)
    after: tuple[str, ...] = ()
    sets: tuple[str, ...] = ()
    open: bool = False
    focus: bool = False

    @property
    def what(self) -> str:
        """Its title."""
        return self.texts.get("what", "") or ("" if self.id.startswith(NEW) else self.id)

    @property
    def is_told(self) -> bool:
        """Whether anything is typed on the card."""
        return bool(any(self.texts.values()) or self.sets or not self.id.startswith(NEW))

    @property
    def figures(self) -> list[tuple[str, str, str, str]]:
        """What the closed card says of its figures: what they are of, low, likely and high, those that are told."""
        told = [(called, *(self.texts.get(f"{name}{end}", "") for end in ENDS)) for name, _, called in FIGURES]
        return [(called, low, likely, high) for called, low, likely, high in told if likely]


def step_fields(row: Mapping[str, Any]) -> StepFields:
    """The card of a step as its file says it."""
    texts = {"what": str(row.get("what", ""))}
    for name, key, _ in FIGURES:
        value = row.get(key)
        figures = value if isinstance(value, list) else [None, value, None]
        if len(figures) == 3 and len({*figures}) == 1:
            figures = [None, figures[1], None]  # certain: one figure says it
        for end, figure in zip(ENDS, figures, strict=False):
            texts[f"{name}{end}"] = number_text(figure)
    more = {key: value for key, value in row.items() if key not in SHOWN}
    texts["more"] = json.dumps(more, default=str, sort_keys=True) if more else ""
    after = row.get("after", [])
    return StepFields(
        id=str(row.get("id", "")),
        texts=texts,
        after=(after,) if isinstance(after, str) else tuple(map(str, after)),
        sets=tuple(f"{name}={_level(value)}" for name, value in row.get("sets", {}).items()),
    )


def typed_steps(form: Mapping[str, str]) -> list[StepFields]:
    """The cards of a form as they were typed, in order."""
    places = sorted({int(found[1]) for name in form if (found := _CARD.fullmatch(name))})
    after: dict[int, list[str]] = {}
    sets: dict[int, list[tuple[int, str]]] = {}
    for name, text in form.items():
        if text and (found := _AFTER.fullmatch(name)):
            after.setdefault(int(found[1]), []).append(found[2])
        elif text.strip() and (found := _SETS.fullmatch(name)):
            sets.setdefault(int(found[1]), []).append((int(found[2]), text.strip()))
    return [
        StepFields(
            id=form.get(f"step.{place}.id", "").strip() or f"{NEW}{place}",
            texts={part: form.get(f"step.{place}.{part}", "").strip() for part in PARTS},
            after=tuple(after.get(place, ())),
            sets=tuple(text for _, text in sorted(sets.get(place, ()))),
        )
        for place in places
    ]


def blank_step(steps: Sequence[StepFields]) -> StepFields:
    """A card for a new step beside others."""
    taken, number = {step.id for step in steps}, len(steps) + 1
    while f"{NEW}{number}" in taken:
        number += 1
    return StepFields(f"{NEW}{number}", open=True, focus=True)


def step_rows(steps: Sequence[StepFields], currency: str, places: Sequence[int] | None = None) -> list[dict[str, Any]]:
    """The steps as a file says them; cards without anything typed are passed over, new ones get an id by their title.

    Parameters
    ----------
    steps : sequence of StepFields
    currency : str
        Of the plan; empty when it names none.
    places : sequence of int or None
        Number of each card in its form, for refusals; in order unless told.

    Raises
    ------
    Refusal
        A figure cannot be read, or a card has no title; the field is named.
    """
    told = [(step, i) for step, i in zip(steps, places or range(len(steps)), strict=True) if step.is_told]
    taken = {step.id for step, _ in told}
    names: dict[str, str] = {}
    for step, place in told:
        if not step.texts.get("what", "") and step.id.startswith(NEW):
            detail = "Cannot keep a step without a title: say in a few words what is done, or take the card out."
            raise Refusal(422, "service.request", detail, where=f"step.{place}.what")
        names[step.id] = _new_id(step.what, taken) if step.id.startswith(NEW) else step.id
        taken.add(names[step.id])
    return [_row(step, place, names, currency) for step, place in told]


def _row(step: StepFields, place: int, names: Mapping[str, str], currency: str) -> dict[str, Any]:
    row: dict[str, Any] = {"id": names[step.id]}
    if step.texts.get("what"):
        row["what"] = step.texts["what"]
    for name, key, called in FIGURES:
        low, likely, high = (step.texts.get(f"{name}{end}", "") for end in ENDS)
        if not (low or likely or high):
            continue
        ends = dict(zip(ENDS, (low, likely, high), strict=True))
        blank = next((end for end, text in ends.items() if not text), None)
        if blank is not None and (low or high):
            missing = {"_low": "low", "": "likely", "_high": "high"}[blank]
            detail = (
                f"Cannot use {called} of '{step.what}': the {missing} figure is blank. Give low, likely and high, or "
                "the likely one alone where it is certain."
            )
            raise Refusal(422, "service.request", detail, where=f"step.{place}.{name}{blank}")
        money = currency if name == "cost" else None
        figures = [
            number(text, f"{called} of {step.what}", f"step.{place}.{name}{end}", money)
            for end, text in ends.items()
            if text
        ]
        row[key] = figures[0] if len(figures) == 1 else figures
    after = [names[one] for one in step.after if one in names and one != step.id]
    if after:
        row["after"] = after
    if sets := _sets(step, place):
        row["sets"] = sets
    return row | _more(step, place)


def _sets(step: StepFields, place: int) -> dict[str, Any]:
    sets: dict[str, Any] = {}
    for which, text in enumerate(step.sets):
        name, _, level = (part.strip() for part in text.partition("="))
        where = f"step.{place}.sets{which}"
        if not level:
            detail = (
                f"Cannot use '{text[:60]}' for what '{step.what}' makes of the vehicle. Choose one of the list: an "
                "attribute and its level."
            )
            raise Refusal(422, "service.request", detail, where=where)
        if name in sets and sets[name] != level:
            detail = (
                f"Cannot make '{name}' two things in one step: '{step.what}' has {sets[name]} and {level}. Keep one, "
                "or make two steps."
            )
            raise Refusal(422, "service.request", detail, where=where)
        sets[name] = {"yes": True, "no": False}.get(level, level)
    return sets


def _more(step: StepFields, place: int) -> dict[str, Any]:
    """What the step says beside its card."""
    text = step.texts.get("more", "")
    try:
        more = read_json(text) if text else {}
    except ValueError:
        more = None
    if not isinstance(more, dict):
        detail = (
            f"Cannot keep '{step.what}': what stands beside its card is damaged. Reload the page and type it again."
        )
        raise Refusal(422, "service.request", detail, where=f"step.{place}.what")
    return {key: value for key, value in more.items() if key not in SHOWN}


Choices = list[tuple[str, list[tuple[str, str]]]]
"""For each attribute its title and its ``attribute=level`` choices with names."""


def settable(schema: Schema, steps: Sequence[StepFields] = ()) -> Choices:
    """What a step can make of the vehicle.

    Parameters
    ----------
    schema : Schema
    steps : sequence of StepFields
        What these set joins the choices, so that nothing is lost of a plan that was written by hand.
    """
    found: dict[str, tuple[str, list[tuple[str, str]]]] = {}
    for one in schema.attributes:
        levels = ["yes", "no"] if one.role == "flag" else list(one.level_names)
        if levels:
            found[one.name] = one.title, [(f"{one.name}={level}", f"{one.title}: {level}") for level in levels]
    for text in dict.fromkeys(text for step in steps for text in step.sets):
        name, _, level = text.partition("=")
        title, choices = found.setdefault(name, (name, []))
        if all(value != text for value, _ in choices):
            choices.append((text, f"{title}: {level}"))
    return list(found.values())


def moved(steps: Sequence[StepFields], place: int, by: int) -> list[StepFields]:
    """The cards with one moved up or down; as they are where it is at the end already.

    Parameters
    ----------
    steps : sequence of StepFields
    place : int
        Of the card, from 0.
    by : int
        -1 up, 1 down.
    """
    cards = [replace(step, focus=i == place) for i, step in enumerate(steps)]
    if 0 <= place + by < len(cards):
        cards.insert(place + by, cards.pop(place))
    return cards


def number(text: str, title: str, where: str, currency: str | None = None) -> float:
    """A figure as a person writes it; money, in that currency, where one is given (empty: any).

    Parameters
    ----------
    text, title : str
        As typed, and what it is called.
    where : str
        Its field.
    currency : str or None

    Raises
    ------
    Refusal
        It is no such figure.
    """
    try:
        value = read_number(text, DOUBT if "." in text else "") if currency is None else read_amount(text, currency)
    except ValueError as error:
        detail = f"Cannot use '{text[:40]}' for '{title}': it {error}. Write it as 12.5."
        raise Refusal(422, "service.request", detail, where=where) from error
    return int(value) if value.is_integer() else value


def number_text(value: object) -> str:
    """A figure of a file as a field shows it."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)


def _level(value: object) -> str:
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def _new_id(what: str, taken: set[str]) -> str:
    base = re.sub(r"[^a-z0-9]+", "-", what.casefold()).strip("-")[:24].strip("-") or "step"
    name, at = base, 2
    while name in taken:
        name, at = f"{base}-{at}", at + 1
    return name
