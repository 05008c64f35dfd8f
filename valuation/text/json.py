"""JSON: one reader, which refuses what no file of this house holds."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from typing import Any, NoReturn

MAX_DEPTH = 64
"""Lists and objects within each other; the deepest file of this house has nine."""

MAX_DIGITS = 300
"""Digits of a whole number; more could not become a number with a decimal point."""

_LONE_SURROGATE = re.compile(r"\\ud[89a-f]", re.IGNORECASE)


def read_json(text: str) -> Any:
    """What a JSON text holds; every number finite, every text one that can be written again.

    Raises
    ------
    ValueError
        If it is not well-formed, or holds what cannot be used (NaN, a number without end, a lone surrogate character,
        one name twice, lists nested too deep); the message says what and where.

    Examples
    --------
    >>> read_json('{"amount": 41000}')
    {'amount': 41000}
    """
    try:
        data = json.loads(
            text, parse_float=_finite, parse_int=_whole, parse_constant=_no_number, object_pairs_hook=_once
        )
    except json.JSONDecodeError as problem:
        raise ValueError(f"is not well-formed JSON: {problem}") from None
    except RecursionError:
        raise ValueError(too_deep()) from None
    if is_too_deep(data):
        raise ValueError(too_deep())
    if _LONE_SURROGATE.search(text):
        _refuse_lone_surrogates(data)
    return data


def is_too_deep(data: Any) -> bool:
    """Whether lists and tables lie within each other more deeply than ``MAX_DEPTH``."""
    level = [data] if isinstance(data, dict | list) else []
    for _ in range(MAX_DEPTH):
        inner = (value for one in level for value in (one.values() if isinstance(one, dict) else one))
        level = [value for value in inner if isinstance(value, dict | list)]
        if not level:
            return False
    return True


def too_deep() -> str:
    """Why such a text is refused."""
    return f"nests lists or tables more than {MAX_DEPTH} deep"


def _refuse_lone_surrogates(data: Any) -> None:
    try:
        json.dumps(data, ensure_ascii=False).encode()
    except UnicodeEncodeError as problem:
        half = problem.object[problem.start]
        raise ValueError(f"holds a lone surrogate character ({half!a}), which is not text") from None


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"holds the number {text[:40]}, which is too large")
    return number


def _whole(text: str) -> int:
    if len(text) > MAX_DIGITS:
        raise ValueError(f"holds a whole number of {len(text):,} digits; at most {MAX_DIGITS} are accepted")
    return int(text)


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"holds {text}, which is not a number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        [(twice, _)] = Counter(name for name, _ in pairs).most_common(1)
        raise ValueError(f"gives '{twice[:60]}' twice in one place")
    return found
