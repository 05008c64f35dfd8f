"""The build plan in the service's schema: every number with the bounds that the reader of plans holds it to."""

from __future__ import annotations

from typing import Any

from valuation.build.bounds import BOUNDS, MONEY, MOST_JOBS, MOST_MONEY, MOST_STEPS, Bound
from valuation.text.dates import EARLIEST, LATEST

TEXT: dict[str, Any] = {"type": "string", "minLength": 1}
DAY: dict[str, Any] = {"type": "string", "format": "date", "description": f"From {EARLIEST} to {LATEST}."}
NAMES: dict[str, Any] = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
THREE_POINTS = {"cost", "hours", "parts_weeks", "weeks_to_sell"}


def plan_schema() -> dict[str, Any]:
    """JSON schema of a build plan, laid out as its TOML file is."""
    step = _table(
        "steps",
        id=TEXT,
        use={**TEXT, "description": "A step of the book in the shop's file, of which this says only what differs."},
        what=TEXT,
        order_parts={"enum": ["at start", "when ready"]},
        after=NAMES,
        after_if_done=NAMES,
        sets={"type": "object", "description": "Attributes of the vehicle afterwards."},
    )
    hours = number_schema(BOUNDS["steps"]["hours"])
    came_to = {"on": DAY, "cost": number_schema(MONEY), "hours": hours}
    progress = {
        "done": _object({"step": TEXT, **came_to}, ["step", *came_to]),
        "begun": _object({"step": TEXT, **came_to}, ["step", "on"]),
        "left_out": _object({"step": TEXT}, ["step"]),
        "extra": _object({"what": TEXT, **came_to}, ["what", *came_to]),
    }
    jobs = {"type": "array", "items": {"type": "number", "exclusiveMinimum": 0, "maximum": MOST_MONEY}}
    pairs = {"type": "array", "items": {**jobs, "minItems": 2, "maxItems": 2}, "maxItems": MOST_JOBS}
    multiple = {"type": "number", "exclusiveMinimum": 0, "description": "times outlay, instead of margin_percent"}
    chances = {"type": "object", "additionalProperties": {"type": "number", "minimum": 0, "maximum": 1}}
    return _object(
        {
            "name": TEXT,
            "currency": TEXT,
            "start": DAY,
            "vehicle": {"type": "object", "description": "Attributes of the vehicle as found."},
            "purchase": _table("purchase"),
            "shop": _table("shop"),
            "overrun": _table("overrun", spread={"enum": ["triangular", "pert"]}, past_jobs=pairs),
            "steps": {"type": "array", "items": step, "maxItems": MOST_STEPS},
            "event": _table(
                "event",
                required=["date"],
                name=TEXT,
                date=DAY,
                chances={"type": "object", "additionalProperties": chances},
                condition_attribute=TEXT,
                award_attribute=TEXT,
            ),
            "sale": _table("sale", venue=TEXT, deadline=DAY),
            "goal": _table("goal", multiple_of_outlay=multiple),
            "bought": _object({"on": DAY, "price": number_schema(MONEY)}, ["on", "price"]),
            **{name: {"type": "array", "items": row, "maxItems": MOST_STEPS} for name, row in progress.items()},
            "wish": _table("wish", required=["attribute", "level"], attribute=TEXT, level=TEXT),
        },
        ["vehicle"],
    )


def number_schema(bound: Bound) -> dict[str, Any]:
    """JSON schema of one number."""
    return {
        "type": "integer" if bound.whole else "number",
        "exclusiveMinimum" if bound.above else "minimum": bound.low,
        "exclusiveMaximum" if bound.below else "maximum": bound.high,
        "description": bound.unit,
    }


def _table(table: str, required: list[str] | None = None, **others: dict[str, Any]) -> dict[str, Any]:
    numbers = {name: _figure(name, bound) for name, bound in BOUNDS[table].items()}
    return _object({**others, **numbers}, required or [])


def _figure(name: str, bound: Bound) -> dict[str, Any]:
    one = number_schema(bound)
    if name not in THREE_POINTS:
        return one
    three = {"type": "array", "items": one, "minItems": 3, "maxItems": 3, "description": "low, likely and high"}
    return {"anyOf": [one, three], "description": bound.unit}


def _object(properties: dict[str, Any], required: list[str]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}
