"""Things kept while they are among the newest, for all threads of a program."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, Generic, TypeVar, cast

K = TypeVar("K")
T = TypeVar("T")


class Shelf(Generic[K]):
    """Things made once and kept while they are among the newest; made by one thread at a time for each key.

    Parameters
    ----------
    size : int
        How many are kept.
    """

    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._making: dict[Hashable, threading.Lock] = {}
        self._lock = threading.Lock()

    def find(self, key: Hashable) -> K | None:
        """The thing under a key, if it is still kept."""
        return self._kept.get(key)

    def keep(self, key: Hashable, thing: K) -> None:
        """Keep a thing under a key; the oldest is forgotten when there are too many.

        Parameters
        ----------
        key : Hashable
        thing : Any
        """
        with self._lock:
            self._kept[key] = thing
            self._kept.move_to_end(key)
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)

    def forget(self, key: Hashable) -> None:
        """Let go of what is under a key, if anything is."""
        with self._lock:
            self._kept.pop(key, None)

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The thing under a key, made if it is not there.

        Parameters
        ----------
        key : Hashable
        make : callable
            Makes the thing.
        """
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return cast(T, self._kept[key])
            own = self._making.setdefault(key, threading.Lock())
        with own:
            if key in self._kept:
                return cast(T, self._kept[key])
            made = make()
            self.keep(key, cast(Any, made))
            with self._lock:
                self._making.pop(key, None)
            return made
