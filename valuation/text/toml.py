"""TOML: one reader and one writer for schemas, plans, vehicles and offer logs."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from valuation.text.json import MAX_DEPTH, is_too_deep, too_deep

MAX_CHARACTERS = 1_000_000
"""Characters that a TOML text may have; a schema of 500 attributes has a tenth of that."""

# A key of thousands of parts takes the standard library half a minute: its time grows with the square of their number.
_LONG_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){%d}""" % MAX_DEPTH  # noqa: UP031
)


def read_toml(text: str) -> dict[str, Any]:
    """What a TOML text holds.

    Raises
    ------
    ValueError
        If it is not well-formed; the message says where.

    Examples
    --------
    >>> read_toml("crew = 2")
    {'crew': 2}
    """
    if len(text) > MAX_CHARACTERS:
        raise ValueError(f"has {len(text):,} characters; at most {MAX_CHARACTERS:,} are accepted")
    if _LONG_KEY.search(text):
        raise ValueError(too_deep())
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise ValueError(f"is not well-formed TOML: {problem}") from None
    except RecursionError:
        raise ValueError(too_deep()) from None
    except ValueError as problem:  # such as a whole number of more digits than Python reads
        raise ValueError(f"holds a value that cannot be read ({problem})") from None
    if is_too_deep(data):
        raise ValueError(too_deep())
    return data


def toml_text(data: Mapping[str, Any]) -> str:
    """TOML text that :func:`read_toml` reads back as the same data.

    Parameters
    ----------
    data : mapping
        Texts, numbers, flags, dates, lists, and tables of these. ``None`` is left out. A table gets its heading down to
        the second level; what lies deeper (what a step sets, the levels of a scale) stays on its line.

    Raises
    ------
    ValueError
        If an entry is of another kind; the message names it.

    Examples
    --------
    >>> print(toml_text({"name": "quick", "shop": {"crew": 2}, "steps": [{"id": "paint", "cost": [1, 2, 3]}]}), end="")
    name = "quick"
    <BLANKLINE>
    [shop]
    crew = 2
    <BLANKLINE>
    [[steps]]
    id = "paint"
    cost = [1, 2, 3]
    """
    lines = _lines(data)
    return "\n".join(lines[1:] if lines[:1] == [""] else lines) + "\n"


def _lines(data: Mapping[str, Any], path: tuple[str, ...] = ()) -> list[str]:
    """The lines of one table: its own entries first, since whatever follows a heading belongs to that heading."""
    own: list[str] = []
    below: list[str] = []
    for name, value in data.items():
        inner = (*path, _key(name))
        heading = ".".join(inner)
        if value is None:
            continue
        if len(path) < 2 and isinstance(value, Mapping):
            rows = _lines(value, inner)
            below += rows if rows[:1] == [""] else ["", f"[{heading}]", *rows]  # tables alone need no heading of theirs
        elif not path and _is_tables(value):
            for one in value:
                below += ["", f"[[{heading}]]", *_lines(one, (*inner, ""))]
        elif _is_tables(value):
            own += [f"{_key(name)} = [", *(f"    {_value(name, one)}," for one in value), "]"]
        else:
            own.append(f"{_key(name)} = {_value(name, value)}")
    return [*own, *below]


def _is_tables(value: object) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _key(key: str) -> str:
    plain = bool(key) and all(character.isascii() and (character.isalnum() or character in "-_") for character in key)
    return key if plain else _text(key)


def _text(text: str) -> str:
    # A TOML basic string has the escapes of a JSON string; DEL alone must be escaped in addition.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(key: str, value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, int | float):
        text = repr(value)
        return text.removesuffix(".0") if text != "-0.0" else text
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, Mapping):
        entries = ", ".join(f"{_key(k)} = {_value(k, v)}" for k, v in value.items() if v is not None)
        return f"{{ {entries} }}" if entries else "{}"
    if isinstance(value, Sequence):
        return "[" + ", ".join(_value(key, one) for one in value) + "]"
    raise ValueError(f"holds {value!r} under '{key}'; text, numbers, dates, lists and tables of these can be written")
