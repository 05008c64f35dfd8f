"""Plain data and back: a frozen dataclass as JSON can hold it, and the same dataclass again from that."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import math
import types
import typing
from typing import Any, TypeVar

from valuation.errors import SheetError

T = TypeVar("T")

LATER = {"later": True}
"""Marks a field, with a default, that records of an earlier program lack; at its default it is not written, so that
those records, and their fingerprints, stay what they were."""


def to_plain(value: Any) -> Any:
    """Dataclasses as objects, tuples as lists, dates as ISO text, an open end as ``"inf"`` or ``"-inf"``."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            one.name: to_plain(getattr(value, one.name))
            for one in dataclasses.fields(value)
            if not ("later" in one.metadata and getattr(value, one.name) == one.default)
        }
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value.isoformat() if isinstance(value, dt.date) else value


def from_plain(kind: type[T], data: Any) -> T:
    """The dataclass that :func:`to_plain` wrote.

    Parameters
    ----------
    kind : type of T
        The dataclass.
    data : Any
        As a record holds it.

    Raises
    ------
    SheetError
        If the data is not of that shape; names the place.
    """
    try:
        made: T = _read(kind, data, kind.__name__)
    except (TypeError, ValueError, KeyError) as problem:
        raise SheetError(
            f"Cannot make the sheet again: its record is damaged or of another kind ({problem}). Make a new sheet."
        ) from problem
    return made


def fingerprint(data: Any) -> str:
    """SHA-256 of the canonical JSON of plain data: sorted names, no spaces, plain ASCII."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _read(kind: Any, data: Any, place: str) -> Any:
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if kind is Any or origin in (typing.Literal, dict):
        return data
    if origin in (types.UnionType, typing.Union):
        return None if data is None else _read(next(one for one in inner if one is not type(None)), data, place)
    if origin is tuple:
        return _read_list(inner, data, place)
    if dataclasses.is_dataclass(kind):
        return _read_fields(kind, data, place)
    return _read_value(kind, data, place)


def _read_list(inner: tuple[Any, ...], data: Any, place: str) -> tuple[Any, ...]:
    if not isinstance(data, list):
        raise TypeError(f"{place} is not a list")
    kinds = [inner[0]] * len(data) if inner[-1] is Ellipsis else list(inner)
    return tuple(_read(one, item, place) for one, item in zip(kinds, data, strict=True))


def _read_fields(kind: Any, data: Any, place: str) -> Any:
    hints = typing.get_type_hints(kind)
    known = {field.name: "later" in field.metadata for field in dataclasses.fields(kind)}
    if not isinstance(data, dict) or not {name for name in known if not known[name]} <= set(data) <= set(known):
        raise TypeError(f"{place} has other fields")
    return kind(**{name: _read(hints[name], data[name], f"{place}.{name}") for name in data})


def _read_value(kind: Any, data: Any, place: str) -> Any:
    if kind is dt.date:
        return dt.date.fromisoformat(data)
    if kind is float and data in ("inf", "-inf"):
        return float(data)
    if kind is float and isinstance(data, int) and not isinstance(data, bool):
        return data  # stays as it was written, so that the fingerprint does too
    if not isinstance(data, kind):
        raise TypeError(f"{place} is {data!r}")
    return data
