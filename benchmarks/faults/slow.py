"""``python -m benchmarks.faults.slow``: clients that dribble, stall or never read do not keep others waiting.

Some hundred connections at once send the head of a request a character at a time, or the body, or say nothing at all,
or ask for pages and never read an answer. Meanwhile somebody works as usual, and is timed.
"""

from __future__ import annotations

import itertools
import resource
import socket
import threading
import time
from collections.abc import Sequence
from contextlib import suppress

import numpy as np

from benchmarks.faults.findings import Finding, part
from benchmarks.faults.service import Service, serving, vehicle

CONNECTIONS = 1500
SECONDS = 60.0
MOST_WAIT = 5.0
"""Seconds that the usual work may wait for an answer; generous, since the machine may be busy."""

HEAD = b"POST /api/v1/estimates HTTP/1.1\r\nHost: 127.0.0.1\r\n"
WAYS = {
    "dribbles its head": (HEAD, b"X-Slow: 1\r\n"),
    "dribbles its body": (HEAD + b"Content-Type: application/json\r\nContent-Length: 100000\r\n\r\n", b" "),
    "dribbles a form": (
        b"POST /comparables HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: multipart/form-data; boundary=b\r\n"
        b'Content-Length: 900000\r\n\r\n--b\r\nContent-Disposition: form-data; name="file"; filename="t.csv"\r\n\r\n',
        b"1,2\n",
    ),
    "says nothing": (b"", b""),
    "never reads": (b"GET /static/vendor/vega-6.4.0.min.js HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 20, b""),
}
"""How each kind begins, and what it sends every second from then on."""


def measure(connections: int = CONNECTIONS, seconds: float = SECONDS) -> Sequence[Finding]:
    """Bother a service of its own that may open 1,024 files, as is usual."""
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(2 * connections + 1024, hard), hard))
    with serving(files=1024) as service:
        service.fitted()
        return [*slow(service, connections, seconds), *stops(service, 100)]


def slow(service: Service, connections: int, seconds: float) -> Sequence[Finding]:
    """Bother a service that holds a fitted table 1."""
    calm, _ = _work(service, min(seconds, 3.0))
    over = threading.Event()
    wires = [_begin(service, start) for start, _ in itertools.islice(itertools.cycle(WAYS.values()), connections)]
    dribble = threading.Thread(target=_dribble, args=(wires, over))
    dribble.start()
    try:
        times, failed = _work(service, seconds)
    finally:
        over.set()
        dribble.join()
        for wire in wires:
            if wire is not None:
                wire.close()
    opened = sum(wire is not None for wire in wires)
    figure = (
        f"{opened:,} of {connections:,} slow connections for {seconds:g} s; others: {_told(times)} (before: "
        f"{_told(calm)}), {failed} without an answer"
    )
    held = failed == 0 and max(times, default=np.inf) <= MOST_WAIT
    return [Finding("slow clients do not stop others", figure, bool(held))]


def _told(times: list[float]) -> str:
    if not times:
        return "no answer"
    return f"{len(times):,} answers, p50 {1000 * np.median(times):.0f} ms, longest {1000 * max(times):.0f} ms"


def stops(service: Service, connections: int) -> Sequence[Finding]:
    """Tell a service to stop while slow clients hold on to it; it is gone afterwards."""
    wires = [_begin(service, start) for start, _ in itertools.islice(itertools.cycle(WAYS.values()), connections)]
    time.sleep(1.0)
    begun = time.monotonic()
    stopped = service.stop(30)
    figure = f"{connections} slow connections; ended {time.monotonic() - begun:.1f} s after it was told"
    for wire in wires:
        if wire is not None:
            wire.close()
    return [Finding("the service stops when told, slow clients or not", figure, stopped)]


def _begin(service: Service, start: bytes) -> socket.socket | None:
    with suppress(OSError):
        wire = socket.socket()
        wire.settimeout(2)
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        wire.connect(("127.0.0.1", service.port))
        with suppress(OSError):
            wire.sendall(start)
        return wire
    return None


def _dribble(wires: list[socket.socket | None], over: threading.Event) -> None:
    more = [sent for _, sent in itertools.islice(itertools.cycle(WAYS.values()), len(wires))]
    while not over.wait(1.0):
        for wire, sent in zip(wires, more, strict=True):
            if wire is not None and sent:
                with suppress(OSError):
                    wire.send(sent)


def _work(service: Service, seconds: float) -> tuple[list[float], int]:
    """Seconds of each answer to somebody who works as usual, and how many requests got none."""
    until, times, failed = time.monotonic() + seconds, [], 0
    asked = {"vehicle": vehicle(1951), "table": 1, "record": False}
    for turn in itertools.count():
        begun = time.monotonic()
        if begun > until:
            return times, failed
        try:
            if turn % 2:
                answer = service.ask("POST", "/api/v1/estimates", asked, timeout=2 * MOST_WAIT)
            else:
                answer = service.ask("GET", "/vehicles/new", timeout=2 * MOST_WAIT, accept="text/html")
            failed += answer.status not in (200, 201)
            times.append(time.monotonic() - begun)
        except OSError:
            failed += 1
        time.sleep(0.05)
    raise AssertionError("the count has no end")


if __name__ == "__main__":
    part(measure)
