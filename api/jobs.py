"""Long work: each piece a job with progress, a limit of time, and a way to stop it."""

from __future__ import annotations

import ctypes
import datetime as dt
import logging
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

from api.problems import Refusal, as_problem

State = Literal["waiting", "running", "done", "failed", "stopped"]
KEPT = 200
"""Finished jobs that are remembered."""
log = logging.getLogger("valuation.api")


class Stopped(BaseException):
    """Raised inside a job's thread when it is to stop; no library code may catch it by accident."""


@dataclass
class Job:
    """One piece of long work.

    Attributes
    ----------
    id, what : str
        Its number for addresses, and what is being done, in words.
    state : {"waiting", "running", "done", "failed", "stopped"}
    step : str
        What it is at now.
    share : float
        How much is done, from 0 to 1.
    result : Any
        What the work gave back; only when done.
    problem : dict or None
        Problem details; only when failed or stopped.
    then : str
        Page to go to when it is done.
    """

    id: str
    what: str
    then: str = ""
    state: State = "waiting"
    step: str = "waiting for its turn"
    share: float = 0.0
    result: Any = None
    problem: dict[str, Any] | None = None
    error: BaseException | None = None
    begun: dt.datetime = field(default_factory=lambda: dt.datetime.now().astimezone())
    finished: threading.Event = field(default_factory=threading.Event)
    _thread: int | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _why: Refusal | None = None
    _stoppable: bool = False

    def report(self, step: str, share: float) -> None:
        """Say what the work is at; also the place where a stop takes hold at the latest."""
        if self._why is not None:
            raise Stopped
        self.step, self.share = step, share

    @contextmanager
    def stoppable(self) -> Iterator[None]:
        """The part of the work that may be broken off anywhere; writing to the ledger stays outside."""
        with self._lock:
            if self._why is not None:
                raise Stopped
            self._stoppable = True
        try:
            yield
        finally:
            with self._lock:
                self._stoppable = False

    def stop(self, why: Refusal) -> None:
        """Break the work off; work that is at writing ends first."""
        with self._lock:
            if self.finished.is_set() or self._why is not None:
                return
            self._why = why
            if self._stoppable and self._thread is not None:
                ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(self._thread), ctypes.py_object(Stopped))

    def run(self, work: Callable[[Job], Any], seconds: float) -> None:
        """Do the work in this thread, for at most so many seconds."""
        limit = Refusal(
            503,
            "service.timeout",
            f"Cannot finish '{self.what}': it took longer than {seconds:g} seconds. Use a smaller table or fewer "
            "steps, or raise VALUATION_WORK_SECONDS.",
        )
        clock = threading.Timer(seconds, self.stop, [limit])
        clock.daemon = True
        try:
            with self._lock:
                self._thread = threading.get_ident()
            if self._why is not None:
                raise Stopped
            self.state = "running"
            clock.start()
            self.result = work(self)
            self.state, self.share, self.step = "done", 1.0, "done"
        except Stopped:
            self.error = self._why or Refusal(409, "service.stopped", "The work was stopped.")
            self.state, self.problem, self.step = "stopped", as_problem(self.error), "stopped"
        except Exception as error:
            if as_problem(error)["status"] == 500:
                log.exception("unexpected error in '%s'", self.what)
            self.error, self.state, self.problem, self.step = error, "failed", as_problem(error), "failed"
        finally:
            clock.cancel()
            self.finished.set()


class JobBoard:
    """The service's jobs: a few at a time, the newest remembered."""

    def __init__(self, workers: int, seconds: float) -> None:
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="work")
        self._seconds = seconds
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = threading.Lock()

    def start(self, what: str, work: Callable[[Job], Any], then: str = "") -> Job:
        """Begin a piece of work."""
        job = Job(id=secrets.token_urlsafe(9), what=what, then=then)
        with self._lock:
            self._jobs[job.id] = job
            for old in [key for key, one in self._jobs.items() if one.finished.is_set()][:-KEPT]:
                del self._jobs[old]
        self._pool.submit(job.run, work, self._seconds)
        return job

    def find(self, number: str) -> Job | None:
        """The job of that number, if it is still remembered."""
        return self._jobs.get(number)

    def all(self) -> list[Job]:
        """Jobs remembered, newest first."""
        with self._lock:
            return list(reversed(self._jobs.values()))

    def close(self, seconds: float = 5.0) -> None:
        """Stop everything and let go of the threads."""
        for job in self.all():
            job.stop(Refusal(503, "service.closing", "The service is closing. Start it again and repeat the work."))
        self._pool.shutdown(wait=False, cancel_futures=True)
        until = time.monotonic() + seconds
        for job in self.all():
            if job.state == "running":
                job.finished.wait(max(until - time.monotonic(), 0.0))
