"""Word on the error stream when something takes more than a second."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

_PATIENCE = 1.0
"""Seconds before a command says what it does: a shorter wait needs no word."""


class Progress:
    """How far a piece of work is; the work tells, a thread shows."""

    def __init__(self, what: str) -> None:
        self.what = what
        self.done = 0
        self.total = 0

    def tell(self, done: int, total: int) -> None:
        """Say that ``done`` of ``total`` are finished; ``total`` 0 when the end is not known.

        Parameters
        ----------
        done : int
        total : int
            0 when the end is not known.
        """
        self.done, self.total = done, total

    @property
    def text(self) -> str:
        """One line for the error stream."""
        if self.total:
            return f"{self.what}: {self.done:,} of {self.total:,}"
        return f"{self.what}: {self.done:,}" if self.done else f"{self.what} ..."


@contextmanager
def progress(what: str) -> Iterator[Progress]:
    """Show ``what`` on the error stream once the work inside has taken a second, and go on showing how far it is."""
    state = Progress(what)
    finished = threading.Event()
    began = time.monotonic()

    def show() -> None:
        if finished.wait(_PATIENCE):
            return
        if not sys.stderr.isatty():
            print(state.text, file=sys.stderr, flush=True)
            finished.wait()
            return
        while not finished.wait(0.5):
            print(f"\r{state.text}  ({time.monotonic() - began:.0f} s)\x1b[K", end="", file=sys.stderr, flush=True)
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)

    watcher = threading.Thread(target=show, daemon=True)
    watcher.start()
    try:
        yield state
    finally:
        finished.set()
        watcher.join()
