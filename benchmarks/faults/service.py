"""A service of one's own to be unkind to: ``valuation serve`` in its own process, over a ledger that is thrown away."""

from __future__ import annotations

import http.client
import json
import os
import resource
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

MIB = 2**20
VEHICLE = {
    "family": "Penhurrow Haywain", "body": "pickup", "condition": "driver", "drivetrain": "rebuilt-original",
    "paint": "fresh", "awards": "local", "documentation": "full",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Answer:
    """What the service answered.

    Attributes
    ----------
    status : int
    headers : dict of str to str
        Names in small letters.
    body : bytes
    """

    status: int
    headers: dict[str, str]
    body: bytes

    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)

    @property
    def is_honest_refusal(self) -> bool:
        """Whether it says that there is too much to do just now, and when to come again."""
        return self.status in (429, 503) and "retry-after" in self.headers


@dataclass(frozen=True, slots=True)
class Service:
    """A running service.

    Attributes
    ----------
    port : int
    process : Popen
    ledger : Path
        Its database.
    """

    port: int
    process: subprocess.Popen[bytes]
    ledger: Path

    def ask(self, method: str, path: str, body: Any = None, *, timeout: float = 120, **headers: str) -> Answer:
        """One request on a connection of its own; a body that is not bytes is sent as JSON."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            return send(connection, method, path, body, **headers)
        finally:
            connection.close()

    def resident(self) -> int:
        """Bytes of memory that the service and the processes that it started hold."""
        return sum(_resident(pid) for pid in family(self.process.pid))

    def stop(self, seconds: float = 20) -> bool:
        """Tell it to stop; whether it did so by itself in time, else it is ended."""
        self.process.terminate()
        try:
            self.process.wait(seconds)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            return False
        return True

    def fitted(self) -> None:
        """Bring the demo and wait until its table is fitted."""
        assert self.ask("POST", "/demo").status == 303
        first = self.ask("POST", "/api/v1/estimates?wait=300", {"vehicle": vehicle(1952)}, timeout=310)
        assert first.status == 201, first.body


def send(connection: http.client.HTTPConnection, method: str, path: str, body: Any = None, **headers: str) -> Answer:
    """One request on a connection that stays open; a body that is not bytes is sent as JSON."""
    headers = {name.replace("_", "-"): value for name, value in headers.items()}
    if body is not None and not isinstance(body, bytes):
        body, headers = json.dumps(body).encode(), {"content-type": "application/json", **headers}
    connection.request(method, path, body, headers)
    answer = connection.getresponse()
    return Answer(answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read())


def vehicle(year: int, mileage: int = 71_000) -> dict[str, Any]:
    """A vehicle that the demo's table can value."""
    return {"name": f"pickup of {year}", "attributes": {**VEHICLE, "model_year": year, "mileage": mileage}}


def upload(data: bytes, file: str, **fields: str) -> tuple[bytes, str]:
    """A form with one file as a browser sends it: the body, and its content type."""
    edge = "faults-benchmark-edge"
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{text}\r\n'
        for field, text in fields.items()
    ]
    parts.append(
        f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="{file}"\r\n'
        "Content-Type: application/octet-stream\r\n\r\n"
    )
    return "".join(parts).encode() + data + f"\r\n--{edge}--\r\n".encode(), f"multipart/form-data; boundary={edge}"


@contextmanager
def serving(files: int | None = None, **settings: str) -> Iterator[Service]:
    """A service on a free loopback port, which may open so many files at once.

    Settings are those of the environment, without their prefix.
    """

    def limited() -> None:
        if files is not None:
            resource.setrlimit(resource.RLIMIT_NOFILE, (files, files))

    with TemporaryDirectory() as folder, socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        ledger = Path(folder) / "ledger.sqlite"
        given = {f"VALUATION_{name.upper()}": value for name, value in settings.items()}
        words = ["-m", "valuation", "serve", "--ledger", str(ledger), "--port", str(port)]
        with (Path(folder) / "log").open("wb") as log:
            running = subprocess.Popen(
                [sys.executable, *words],
                env={**os.environ, "OMP_NUM_THREADS": "1", **given},
                stdout=log,
                stderr=log,
                preexec_fn=limited,
            )
        service = Service(port, running, ledger)
        try:
            _wait(service, Path(folder) / "log")
            yield service
        finally:
            service.stop()


def _wait(service: Service, log: Path) -> None:
    until = time.monotonic() + 60
    while True:
        try:
            service.ask("GET", "/healthz", timeout=30)
            return
        except OSError:
            if service.process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(f"the service did not start: {log.read_text(errors='replace')[-2000:]}") from None
            time.sleep(0.05)


def family(pid: int) -> list[int]:
    """A process and all that it started, by their numbers; empty once it has ended."""
    found, waiting = [], [pid]
    while waiting:
        one = waiting.pop()
        try:
            for tasks in Path(f"/proc/{one}/task").iterdir():
                waiting += [int(child) for child in (tasks / "children").read_text().split()]
        except OSError:
            continue
        found.append(one)
    return found


def _resident(pid: int) -> int:
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, IndexError):
        return 0


class Watch:
    """Watches a service's memory while a block runs, and ends the service before it takes the machine along."""

    def __init__(self, service: Service, most: int) -> None:
        self.service, self.most = service, most
        self.before = self.peak = service.resident()
        self.ended = False
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Watch:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    @property
    def grown(self) -> int:
        """Bytes by which memory rose above where it stood, at its highest."""
        return max(self.peak - self.before, 0)

    def _look(self) -> None:
        while not self._over.wait(0.05):
            self.peak = max(self.peak, self.service.resident())
            if self.peak > self.most:
                self.ended = True
                for pid in family(self.service.process.pid):
                    os.kill(pid, signal.SIGKILL)
                return
