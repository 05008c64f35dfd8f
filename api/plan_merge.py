"""Two hands at one plan: a form that started from an older version, put into the newest field by field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from api.plan_form import NUMBERS, TEXTS, PlanFields, typed_plan
from api.step_form import PARTS, StepFields

_APART = "\x1f"
"""Between the parts of a key: a mark that no text holds."""


@dataclass(frozen=True)
class Apart:
    """A field that both changed.

    Attributes
    ----------
    name, label : str
        Field of the merged form, and its words.
    old, theirs, mine : str
        What the form began with, what the newest version holds, and what was typed.
    """

    name: str
    label: str
    old: str
    theirs: str
    mine: str


def merged(form: Mapping[str, str], base: PlanFields, newest: PlanFields) -> tuple[dict[str, str], list[Apart]]:
    """The form with what the other hand changed meanwhile, and the fields that both changed to something else.

    Steps are told apart by their ids, so that one put in, taken out or moved touches none of the others. One that one
    hand took out and the other changed stays.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    base : PlanFields
        What the page showed.
    newest : PlanFields
        What is there now.
    """
    if form.get("as_text"):
        mine, before, after = {"text": form.get("text", "")}, {"text": base.text}, {"text": newest.text}
        order = []
    else:
        typed = typed_plan(form)
        mine, before, after = _held(typed), _held(base), _held(newest)
        ids = [[step.id for step in fields.steps] for fields in (typed, base, newest)]
        _keep_what_changed(ids[0], ids[2], mine, before, after)
        order = _order(*ids)
    whole: dict[str, str] = {}
    both: list[str] = []
    for key in dict.fromkeys([*after, *mine]):
        old, theirs = (_plain(one.get(key, "")) for one in (before, after))
        own = _plain(mine.get(key, "" if _step_of(key) else old))
        if own == old:
            whole[key] = theirs
        else:
            whole[key] = own
            if theirs not in (old, own):
                both.append(key)
    places = {step: i for i, step in enumerate(order)}
    out = {_name(key, places): text for key, text in whole.items() if text or _step_of(key) is None}
    out |= {f"step.{i}.id": step for step, i in places.items()}
    out |= {f"step.{i}.what": out.get(f"step.{i}.what", "") for i in places.values()}
    kept = ("subject", "table", *(["as_text"] if form.get("as_text") else []))
    out |= {name: form[name] for name in kept if name in form} | {"number": str(newest.number)}
    out.setdefault("text", newest.text)
    titles = {step.id: step.what for fields in (base, newest) for step in fields.steps}
    apart = [
        Apart(_name(key, places), _label(key, titles), *(_plain(one.get(key, "")) for one in (before, after, mine)))
        for key in both
    ]
    return out, apart


def _keep_what_changed(
    my_ids: list[str], their_ids: list[str], mine: dict[str, str], before: dict[str, str], after: dict[str, str]
) -> None:
    """Put back a step that one hand took out and the other changed."""

    def own(held: Mapping[str, str], step: str) -> dict[str, str]:
        return {key: text for key, text in held.items() if _step_of(key) == step}

    for ids, held, other in ((my_ids, mine, after), (their_ids, after, mine)):
        for step in dict.fromkeys(filter(None, map(_step_of, before))):
            old, changed = own(before, step), own(other, step)
            if step not in ids and changed and changed != old:
                held |= old
                ids.append(step)


def _order(mine: list[str], base: list[str], newest: list[str]) -> list[str]:
    """The order of the steps: mine where I changed it and the other hand did not, else that of the newest version.

    A step that one of the two took out is out, unless the other one put it in.
    """
    there = [step for step in newest if step in mine or step not in base]
    new = [step for step in mine if step not in base and step not in newest]
    both = set(mine) & set(base) & set(newest)

    def common(order: list[str]) -> list[str]:
        return [step for step in order if step in both]

    if common(mine) == common(base) or common(newest) != common(base):
        return [*there, *new]
    own = [step for step in mine if step in there or step in new]
    return [*own, *(step for step in there if step not in own)]


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def _held(fields: PlanFields) -> dict[str, str]:
    """A plan as fields by key; those of a step under its id."""
    held = {name: str(getattr(fields, name)) for name in TEXTS} | dict(fields.numbers)
    for step in fields.steps:
        held |= {f"step{_APART}{step.id}{_APART}{part}": text for part, text in _parts(step).items()}
    return held


def _parts(step: StepFields) -> dict[str, str]:
    parts = {part: step.texts.get(part, "") for part in PARTS}
    parts |= {f"sets{i}": text for i, text in enumerate(step.sets)}
    return parts | {f"after.{before}": "1" for before in step.after}


def _step_of(key: str) -> str | None:
    kind, *rest = key.split(_APART)
    return rest[0] if kind == "step" and rest else None


def _name(key: str, places: Mapping[str, int]) -> str:
    """The form's name of a key."""
    step = _step_of(key)
    return key if step is None else f"step.{places.get(step, 0)}.{key.split(_APART)[2]}"


def _label(key: str, titles: Mapping[str, str]) -> str:
    called = {one.path: one.title for one in NUMBERS}
    called |= {"text": "the plan as text", "event": "the show", "event_date": "day of the show"}
    step = _step_of(key)
    if step is None:
        return called.get(key, key)
    part = key.split(_APART)[2]
    if part.startswith("after."):
        before = part.removeprefix("after.")
        return f"{titles.get(step) or step}: comes after {titles.get(before) or before}"
    said = {"what": "its title", "cost": "parts", "weeks": "weeks for parts", "more": "what stands beside its card"}
    name, _, end = part.rstrip("0123456789").partition("_")
    name = "makes it" if name == "sets" else said.get(name, name)
    return f"{titles.get(step) or step}: {name}" + (f", {end}" if end else "")
