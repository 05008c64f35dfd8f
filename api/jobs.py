"""Long work: each piece a job with progress, a limit of time, a way to stop it, and a place in a bounded queue."""

from __future__ import annotations

import asyncio
import datetime as dt
import logging
import queue
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any, Literal, ParamSpec, TypeVar

from fastapi.routing import APIRoute
from pydantic import BaseModel, TypeAdapter
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from api.problems import Refusal, as_problem
from api.workers import Worker, WorkerLostError
from valuation.text.plain import plain

P = ParamSpec("P")
T = TypeVar("T")
State = Literal["waiting", "running", "done", "failed", "stopped"]
KEPT = 200
"""Finished jobs that are remembered."""
RETRY_SECONDS = 5
"""What a client is told to wait when the queue is full; most work is done in less."""
log = logging.getLogger("valuation.api")


class Stopped(BaseException):
    """Raised inside a job that is to stop; no library code may catch it by accident."""


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
    finished : Event
        Set at its end, however it ended.
    """

    id: str
    what: str
    then: str = ""
    state: State = "waiting"
    step: str = "waiting for its turn"
    share: float = 0.0
    result: Any = None
    problem: dict[str, Any] | None = None
    error: Exception | None = None
    begun: dt.datetime = field(default_factory=lambda: dt.datetime.now().astimezone())
    finished: threading.Event = field(default_factory=threading.Event)
    _ended: Future[None] = field(default_factory=Future)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _worker: Worker | None = None
    _until: float = 0.0
    _limit: Refusal | None = None
    _why: Refusal | None = None

    def report(self, step: str, share: float) -> None:
        """Say what the work is at.

        Parameters
        ----------
        step : str
            What it is at, as people read it.
        share : float
            How much is done, from 0 to 1.
        """
        self._check()
        self.step, self.share = step, share

    def compute(self, task: Callable[P, T], *arguments: P.args, **named: P.kwargs) -> T:
        """What a task gives back that is done by a worker process; the part of the work that can be broken off.

        Everything else that a job does, such as writing to the ledger, is done in the service and ends first.

        Parameters
        ----------
        task : callable
            A function of ``api.tasks``.
        *arguments : Any
            Its arguments.
        **named : kwargs
        """
        assert self._worker is not None, "only work under way computes"
        try:
            result: T = self._worker.run(partial(task, *arguments, **named), self.report, self._check)
        except WorkerLostError as error:
            raise Refusal(
                503,
                "service.worker_lost",
                f"Cannot finish '{self.what}': the process that worked on it ended without an answer; the computer may "
                "be short of memory. Nothing of it was written. Try again, or with a smaller table.",
                {"Retry-After": str(RETRY_SECONDS)},
            ) from error
        return result

    def stop(self, why: Refusal) -> None:
        """Break the work off: at once while it waits or computes; work that is at writing ends first."""
        with self._lock:
            if self._why is not None or self.finished.is_set():
                return
            self._why = why
            if self.state == "waiting":
                self._end("stopped", why)

    async def ended(self, seconds: float) -> bool:
        """Whether it ended within so many seconds; no thread is kept for the wait."""
        await asyncio.wait([asyncio.wrap_future(self._ended)], timeout=seconds)
        return self.finished.is_set()

    def run(self, work: Callable[[Job], Any], worker: Worker, seconds: float) -> None:
        """Do the work in this thread and its tasks in the worker, for at most so many seconds.

        Parameters
        ----------
        work : callable
        worker : Worker
        seconds : float
            How long it may take.
        """
        self._worker, self._until = worker, time.monotonic() + seconds
        self._limit = Refusal(
            503,
            "service.timeout",
            f"Cannot finish '{self.what}': it took longer than {seconds:g} seconds. Use a smaller table or fewer "
            "steps, or raise VALUATION_WORK_SECONDS.",
        )
        with self._lock:
            if self.finished.is_set():
                return
            self.state, self.step = "running", "at work"
        try:
            self.result = work(self)
            self._end("done")
        except Stopped:
            self._end("stopped", self._why)
        except Exception as error:
            if as_problem(error)["status"] == 500:
                log.exception("unexpected error in '%s'", self.what)
            self._end("failed", error)
        finally:
            self._worker = None

    def _end(self, state: State, error: Exception | None = None) -> None:
        self.error, self.problem = error, None if error is None else as_problem(error)
        self.state = self.step = state
        self.share = 1.0 if error is None else self.share
        self.finished.set()
        self._ended.set_result(None)

    def _check(self) -> None:
        if self._why is None and time.monotonic() > self._until:
            self._why = self._limit
        if self._why is not None:
            raise Stopped


class JobBoard:
    """The service's jobs: a few at a time, each with a worker process; so many may wait; the newest are remembered.

    Parameters
    ----------
    workers : int
        Jobs under way at once.
    seconds : float
        Longest that one may take.
    queue_length : int
        Jobs that may wait for their turn.
    """

    def __init__(self, workers: int, seconds: float, queue_length: int = 32) -> None:
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="work")
        self._idle: queue.LifoQueue[Worker] = queue.LifoQueue()  # the last used first: it is warm
        for _ in range(workers):
            self._idle.put(Worker())
        self._seconds, self._most = seconds, workers + queue_length
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = threading.Lock()

    def start(self, what: str, work: Callable[[Job], Any], then: str = "") -> Job:
        """Begin a piece of work.

        Parameters
        ----------
        what : str
            What is done, as people read it.
        work : callable
        then : str
            Address of the page that follows.

        Raises
        ------
        Refusal
            With status 503, when as many jobs wait as may.
        """
        job = Job(id=secrets.token_urlsafe(9), what=what, then=then)
        with self._lock:
            ended = [key for key, one in self._jobs.items() if one.finished.is_set()]
            if len(self._jobs) - len(ended) >= self._most:
                raise Refusal(
                    503,
                    "service.busy",
                    f"Cannot begin '{what}': {self._most} pieces of work are under way or waiting, as many as this "
                    "service takes. Nothing was written. Try again in a few seconds.",
                    {"Retry-After": str(RETRY_SECONDS)},
                )
            self._jobs[job.id] = job
            for old in ended[:-KEPT]:
                del self._jobs[old]
            self._pool.submit(self._run, job, work)
        return job

    def find(self, number: str) -> Job | None:
        """The job of that number, if it is still remembered."""
        return self._jobs.get(number)

    def under_way(self, what: str, then: str) -> Job | None:
        """The same piece of work, if it is waiting or running already.

        Parameters
        ----------
        what : str
            What is done, as people read it.
        then : str
            Address of the page that follows.
        """
        with self._lock:
            for job in self._jobs.values():
                if (job.what, job.then) == (what, then) and not job.finished.is_set():
                    return job
        return None

    def all(self) -> list[Job]:
        """Jobs remembered, newest first."""
        with self._lock:
            return list(reversed(self._jobs.values()))

    def close(self, seconds: float = 5.0) -> None:
        """Stop everything; let go of threads and processes."""
        for job in self.all():
            job.stop(Refusal(503, "service.closing", "The service is closing. Start it again and repeat the work."))
        self._pool.shutdown(wait=False)
        until = time.monotonic() + seconds
        for job in self.all():
            if job.state == "running":
                job.finished.wait(max(until - time.monotonic(), 0.0))
        while True:
            try:
                self._idle.get_nowait().end()
            except queue.Empty:
                return

    def _run(self, job: Job, work: Callable[[Job], Any]) -> None:
        worker = self._idle.get()
        try:
            job.run(work, worker, self._seconds)
        finally:
            self._idle.put(worker)


class Awaited(Response):
    """The answer of a piece of work, waited for without a thread.

    Parameters
    ----------
    job : Job
    seconds : float
        How long to wait.
    done : callable
        Makes the answer once the work is done; work that failed is answered by its refusal. What is not a response yet
        is checked against the route's ``response_model`` and sent as JSON.
    meanwhile : callable
        Makes the answer when it takes longer.
    """

    def __init__(
        self, job: Job, seconds: float, done: Callable[[Job], Any], meanwhile: Callable[[Job], Response]
    ) -> None:
        super().__init__()
        self.job, self.seconds, self.done, self.meanwhile = job, seconds, done, meanwhile

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wait, then answer."""
        ended = await self.job.ended(self.seconds)
        if ended and self.job.error is not None:
            raise self.job.error
        answer = await run_in_threadpool(self._answer, scope["route"], ended)
        await answer(scope, receive, send)

    def _answer(self, route: APIRoute, ended: bool) -> Response:
        made = self.done(self.job) if ended else self.meanwhile(self.job)
        return made if isinstance(made, Response) else checked(route.response_model, made, route.status_code or 200)


def checked(kind: Any, answer: Any, status: int) -> Response:
    """An answer as JSON, checked against the type that the service's schema shows for it.

    Parameters
    ----------
    kind, answer : Any
    status : int
    """
    adapter = _adapter(kind)
    text = adapter.dump_json(adapter.validate_python(answer if isinstance(answer, BaseModel) else plain(answer)))
    return Response(text, status, media_type="application/json")


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)
