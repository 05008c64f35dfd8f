"""Plain data that JSON can hold: an open end is null."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def finite(value: Any) -> Any:
    """The same plain data, with null where a number is infinite or none, since JSON has no word for it.

    Examples
    --------
    >>> finite({"low": 1.5, "high": float("inf")})
    {'low': 1.5, 'high': None}
    """
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [finite(one) for one in value]
    return value
