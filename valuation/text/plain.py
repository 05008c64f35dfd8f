"""From typed answers to the plain data that JSON holds: one writer for the whole house."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Callable, Mapping
from functools import cache
from typing import Annotated, Any


class _NullWhereOpen:
    """Tells pydantic, where the service uses it, that JSON has null in place of an infinite number."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> dict[str, Any]:
        return {"type": "nullable", "schema": handler(source)}


class ReadOnlyMapping:
    """Tells pydantic, where the service uses it, that a mapping that may not be written to is sent as any other."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> dict[str, Any]:
        return {**handler(source), "serialization": {"type": "function-plain", "function": dict}}


OpenSide = Annotated[float, _NullWhereOpen()]
"""An end of an interval: infinite where that side is open, which JSON shows as null."""


def plain(value: Any) -> Any:
    """A typed answer as JSON can hold it.

    Parameters
    ----------
    value : Any
        Dataclasses, mappings, lists, tuples, text, numbers, dates and ``None``, inside each other.

    Returns
    -------
    Any
        Dataclasses and mappings as objects, tuples as lists, dates as ISO text, and ``None`` where a number is infinite
        or not a number (an interval with an open end), since JSON has no word for it.

    Examples
    --------
    >>> plain({"low": 1.5, "high": float("inf"), "on": dt.date(2026, 10, 31)})
    {'low': 1.5, 'high': None, 'on': '2026-10-31'}
    """
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    if isinstance(value, dt.date):
        return value.isoformat()
    kind: Any = type(value)
    return {name: plain(getattr(value, name)) for name in _fields(kind)}


@cache
def _fields(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind))
