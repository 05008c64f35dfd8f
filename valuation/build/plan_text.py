"""A build plan as the text of its file, from plain data laid out as the file is."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from typing import Any

from valuation.errors import PlanError


def plan_text(data: Mapping[str, Any]) -> str:
    """TOML text that ``parse_plan`` reads back as the same plan.

    Parameters
    ----------
    data : mapping
        As ``plan_from_dict`` takes it: texts, numbers, flags, dates, lists, and tables of these. ``None`` is left out.

    Raises
    ------
    PlanError
        If an entry is of another kind.

    Examples
    --------
    >>> print(plan_text({"name": "quick", "shop": {"crew": 2}, "steps": [{"id": "paint", "cost": [1, 2, 3]}]}), end="")
    name = "quick"
    <BLANKLINE>
    [shop]
    crew = 2
    <BLANKLINE>
    [[steps]]
    id = "paint"
    cost = [1, 2, 3]
    """
    lines: list[str] = []
    _table(lines, "", data)
    return "\n".join(lines) + "\n"


def _table(lines: list[str], path: str, data: Mapping[str, Any]) -> None:
    tables: list[tuple[str, Any]] = []
    for key, value in data.items():
        if value is None:
            continue
        if _is_table(value) or (_is_tables(value)):
            tables.append((key, value))
        else:
            lines.append(f"{_key(key)} = {_value(key, value)}")
    for key, value in tables:
        name = f"{path}{_key(key)}"
        if _is_table(value):
            if key == "sets":  # small, and easier to read beside its step
                inner = ", ".join(f"{_key(k)} = {_value(k, v)}" for k, v in value.items())
                lines.append(f"sets = {{ {inner} }}")
                continue
            lines += ["", f"[{name}]"]
            _table(lines, f"{name}.", value)
            continue
        for one in value:
            lines += ["", f"[[{name}]]"]
            _table(lines, f"{name}.", one)


def _is_table(value: object) -> bool:
    return isinstance(value, Mapping)


def _is_tables(value: object) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(_is_table(one) for one in value)


def _key(key: str) -> str:
    plain = bool(key) and all(sign.isascii() and (sign.isalnum() or sign in "-_") for sign in key)
    return key if plain else _text(key)


def _text(text: str) -> str:
    # A TOML basic string has the escapes of a JSON string; DEL alone must be escaped in addition.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(key: str, value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Sequence):
        return "[" + ", ".join(_value(key, one) for one in value) + "]"
    raise PlanError(
        f"Cannot write the plan: '{key}' is {value!r}, which a plan file cannot hold. Give text, numbers, dates, lists "
        "or tables of these."
    )
