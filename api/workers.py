"""Worker processes: long work runs outside the service's own process, where it can be ended at any point.

A process can be ended whatever it is at; a thread cannot. What a worker is given and gives back are values (bytes,
texts, plain data, the library's frozen objects), pickled over a pipe between this program's own processes; no other
program writes to that pipe.
"""

from __future__ import annotations

import multiprocessing
import pickle
import signal
import traceback
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from valuation.threads import one_thread

Report = Callable[[str, float], None]
"""Called with what a task is at and the share done."""
PRELOADED = [
    "api.tasks",
    "valuation.regression",
    "valuation.evidence.effects",
    "valuation.evidence.gaps",
    "valuation.evidence.influence",
    "valuation.answers.build",
    "valuation.answers.bands",
]
"""Loaded once, before workers are forked off, so that the one that replaces an ended worker is there at once."""
LOOK_SECONDS = 0.05
"""How often it is asked whether the work under way is to be stopped."""
END_SECONDS = 2.0
"""How long a process may take to end when asked, before it is killed."""


_telling: Connection | None = None
"""In a worker: the pipe to the service."""


def tell(step: str, share: float) -> None:
    """Say, inside a task, what it is at and the share done.

    Parameters
    ----------
    step : str
    share : float
    """
    if _telling is not None:
        _telling.send(("at", (step, share)))


class WorkerLostError(Exception):
    """The process ended without an answer: killed from outside, or out of memory."""


class Worker:
    """One process that does one task at a time: started by its first task, then kept.

    Used by one thread at a time. A process that was ended or died is replaced when the next task comes.
    """

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None

    def run(self, task: Callable[[], Any], report: Report, check: Callable[[], None]) -> Any:
        """What a task returns; its exceptions are raised here.

        Parameters
        ----------
        task : callable
            Of what can be pickled: a function at the top of a module with its arguments.
        report : callable
            Called with what the task is at and the share done.
        check : callable
            Called often; what it raises ends the process and is raised here.

        Raises
        ------
        WorkerLostError
            If the process ends without an answer.
        """
        pipe = self._sent(pickle.dumps(task))
        try:
            kind, content = _answer(pipe, report, check)
        except (EOFError, OSError) as lost:
            self.end()
            raise WorkerLostError from lost
        except BaseException:
            self.end()
            raise
        if kind == "failed":
            raise content
        return content

    def end(self) -> None:
        """End the process, whatever it is at."""
        process, self._process = self._process, None
        pipe, self._pipe = self._pipe, None
        if pipe is not None:
            pipe.close()
        if process is not None:
            process.terminate()
            process.join(END_SECONDS)
            if process.is_alive():
                process.kill()
                process.join()
            process.close()

    def _sent(self, message: bytes) -> Connection:
        """The pipe, once the message is in it; a process that died while idle is replaced."""
        if self._pipe is not None and self._process is not None and self._process.is_alive():
            try:
                self._pipe.send_bytes(message)
                return self._pipe
            except OSError:
                pass
        self.end()
        pipe = self._start()
        pipe.send_bytes(message)
        return pipe

    def _start(self) -> Connection:
        one_thread()
        context: Any
        if "forkserver" in multiprocessing.get_all_start_methods():
            context = multiprocessing.get_context("forkserver")
            context.set_forkserver_preload(PRELOADED)
        else:
            context = multiprocessing.get_context("spawn")
        ours: Connection
        ours, theirs = context.Pipe()
        process: BaseProcess = context.Process(target=_serve, args=(theirs,), name="valuation work", daemon=True)
        process.start()
        theirs.close()
        self._process, self._pipe = process, ours
        return ours


def _answer(pipe: Connection, report: Report, check: Callable[[], None]) -> tuple[str, Any]:
    """The last message of a task; what it is at is reported until then."""
    while True:
        check()
        if pipe.poll(LOOK_SECONDS):
            kind, content = pipe.recv()
            if kind != "at":
                return kind, content
            report(*content)


def _serve(pipe: Connection) -> None:
    """Do tasks until the service lets go of the pipe; runs in the worker."""
    global _telling
    _telling = pipe
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the service, and the service ends its workers
    while True:
        try:
            message = pipe.recv_bytes()
        except (EOFError, OSError):
            return
        try:
            answer = pickle.dumps(("done", pickle.loads(message)()))
        except Exception as error:
            error.add_note(traceback.format_exc())
            answer = pickle.dumps(("failed", error))
        pipe.send_bytes(answer)
