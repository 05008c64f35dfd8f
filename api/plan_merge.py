"""Two hands at one plan: a form that started from an older version, put into the newest field by field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from api.plan_form import NUMBERS, PlanFields

PARTS = ("id", "what", "cost", "hours", "weeks", "after", "done", "sets0", "sets1", "sets2")


TEXTS = ("name", "event", "event_date", "bought_on")


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

    Steps are told apart by their ids, so that one put in or taken out moves none of the others.

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
    else:
        mine, before, after = _typed(form), _held(base), _held(newest)
    whole: dict[str, str] = {}
    both: list[str] = []
    for key in dict.fromkeys([*after, *mine]):
        old, theirs, own = (_plain(one.get(key, "")) for one in (before, after, mine))
        if own == old:
            whole[key] = theirs
        else:
            whole[key] = own
            if theirs not in (old, own):
                both.append(key)
    names = _names(whole)
    out = {names[key]: text for key, text in whole.items()}
    for key, name in names.items():
        step = _step_of(key)
        if step is not None and name.endswith(".what"):
            out[name.removesuffix("what") + "id"] = "" if step.startswith("new ") else step
    kept = ("subject", "table", *(["as_text"] if form.get("as_text") else []))
    out |= {name: form[name] for name in kept if name in form} | {"number": str(newest.number)}
    out.setdefault("text", newest.text)
    apart = [
        Apart(names[key], _label(key), *(_plain(one.get(key, "")) for one in (before, after, mine))) for key in both
    ]
    return out, apart


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def _held(fields: PlanFields) -> dict[str, str]:
    """A plan as fields by key; those of a step under its id."""
    held = {name: getattr(fields, name) for name in TEXTS} | fields.numbers
    for step in fields.steps:
        if step.id:
            texts = {
                "what": step.what,
                "cost": step.cost,
                "hours": step.hours,
                "weeks": step.weeks,
                "after": step.after,
                "done": step.done,
            }
            texts |= {f"sets{i}": text for i, text in enumerate(step.sets)}
            held |= {f"step|{step.id}|{part}": text for part, text in texts.items()}
    return held


def _typed(form: Mapping[str, str]) -> dict[str, str]:
    """The same of what was typed; a step that is new has no id yet."""
    known = (*TEXTS, *(path for path, _, _ in NUMBERS))
    held = {name: form[name] for name in known if name in form}
    for name, text in form.items():
        kind, _, rest = name.partition(".")
        place, _, part = rest.partition(".")
        if kind == "step" and place.isdigit() and part in PARTS[1:]:
            number = form.get(f"step.{place}.id", "").strip() or f"new {place}"
            held[f"step|{number}|{part}"] = text
    return held


def _step_of(key: str) -> str | None:
    return key.split("|")[1] if key.startswith("step|") else None


def _names(keys: Mapping[str, str]) -> dict[str, str]:
    """The form's name of each key."""
    steps = list(dict.fromkeys(step for key in keys if (step := _step_of(key)) is not None))
    return {
        key: key if (step := _step_of(key)) is None else f"step.{steps.index(step)}.{key.split('|')[2]}" for key in keys
    }


def _label(key: str) -> str:
    titles = {path: title for path, title, _ in NUMBERS} | {
        "text": "the plan as text",
        "event_date": "day of the event",
        "bought_on": "day of the purchase",
    }
    step = _step_of(key)
    return titles.get(key, key) if step is None else f"step {step}, {key.split('|')[2].rstrip('012')}"
