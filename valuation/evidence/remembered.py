"""What is computed once for a fitted model and then serves every vehicle valued by it."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from typing import Any, TypeVar

Found = TypeVar("Found")

_KNOWN: dict[int, dict[str, Any]] = {}


def remembered(owner: Any, name: str, make: Callable[[], Found]) -> Found:
    """The result of ``make`` for ``owner``, made at the first call and kept as long as ``owner`` lives.

    Parameters
    ----------
    owner : object
        A fit or a model: never changed after it is made, so that what was found for it stays true.
    name : str
        What is asked for.
    make : callable
        Computes it.
    """
    key = id(owner)
    if key not in _KNOWN:
        _KNOWN[key] = {}
        weakref.finalize(owner, _KNOWN.pop, key, None)
    shelf = _KNOWN[key]
    if name not in shelf:
        shelf[name] = make()
    answer: Found = shelf[name]
    return answer
