"""Slow clients: others are served, the patience with each ends, and the service stops when told."""

import contextlib
import socket
import threading
import time

import pytest
import uvicorn

from api import patience
from benchmarks.faults.service import serving
from benchmarks.faults.slow import slow, stops


def test_six_hundred_slow_clients_do_not_stop_others(service, all_held):
    """More than the service may open files."""
    all_held(slow(service, connections=600, seconds=4.0))


def test_the_service_stops_when_told_while_slow_clients_hold_on(all_held):
    with serving() as own:
        all_held(stops(own, 50))


async def app(scope, receive, send):
    """Reads the body, works for a second where asked to, and answers with as many bytes as asked for."""
    if scope["type"] != "http":
        return
    while (await receive()).get("more_body"):
        pass
    if scope["path"] == "/work":
        import asyncio

        await asyncio.sleep(1.0)
    size = 20_000_000 if scope["path"] == "/large" else 2
    headers = [(b"content-length", str(size).encode())]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": b"x" * size})


@pytest.fixture
def port(monkeypatch):
    """A server whose patience is over within half a second."""
    for name in ("HEAD_SECONDS", "BODY_SECONDS", "UNREAD_SECONDS"):
        monkeypatch.setattr(patience, name, 0.4)
    monkeypatch.setattr(patience, "_LOOK_SECONDS", 0.1)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        number = free.getsockname()[1]
    config = uvicorn.Config(app, port=number, log_level="error", http=patience.PatientProtocol, lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 30
    while not server.started:
        assert time.monotonic() < until
        time.sleep(0.01)
    yield number
    server.should_exit = True
    thread.join(15)


def test_who_sends_nothing_or_never_ends_is_let_go(port):
    for start in (b"", b"POST / HTTP/1.1\r\nHost: a\r\n", b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 9\r\n\r\n1"):
        with socket.create_connection(("127.0.0.1", port), timeout=20) as wire:
            wire.sendall(start)
            with contextlib.suppress(ConnectionResetError):
                assert wire.recv(100) == b""


def test_who_never_reads_is_let_go_and_who_reads_gets_all(port):
    for reads in (True, False):
        with socket.create_connection(("127.0.0.1", port), timeout=20) as wire:
            wire.sendall(b"GET /large HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
            if not reads:
                time.sleep(1.5)
            got = 0
            with contextlib.suppress(ConnectionResetError):
                while some := wire.recv(1_000_000):
                    got += len(some)
            assert (got > 20_000_000) == reads


def test_who_waits_for_work_is_not_let_go(port):
    with socket.create_connection(("127.0.0.1", port), timeout=20) as wire:
        wire.sendall(b"GET /work HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
        assert wire.recv(1000).startswith(b"HTTP/1.1 200")


def test_the_longest_waiting_makes_room(port, monkeypatch):
    """The newcomer is served, and so is one that the service is still working for."""
    monkeypatch.setattr(patience, "HEAD_SECONDS", 60.0)
    monkeypatch.setattr(patience, "MOST_CONNECTIONS", 3)

    def opened(sent=b""):
        wire = socket.create_connection(("127.0.0.1", port), timeout=20)
        wire.sendall(sent)
        time.sleep(0.05)
        return wire

    working = opened(b"GET /work HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
    idle = [opened() for _ in range(2)]
    newcomer = opened(b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
    assert newcomer.recv(1000).startswith(b"HTTP/1.1 200")
    with contextlib.suppress(ConnectionResetError):
        assert idle[0].recv(10) == b""
    assert working.recv(1000).startswith(b"HTTP/1.1 200")
    idle[1].sendall(b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
    assert idle[1].recv(1000).startswith(b"HTTP/1.1 200")
    for wire in (working, newcomer, *idle):
        wire.close()
