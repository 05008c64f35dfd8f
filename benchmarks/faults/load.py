"""``python -m benchmarks.faults.load``: many clients at once lose no update and meet no error of the service.

Each client asks again as soon as it is answered: estimates written down and not, offers, realised sales, pages, and now
and then a new version of a table. Everything that the service acknowledged must stand in the ledger, as it was sent and
once.
"""

from __future__ import annotations

import http.client
import random
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from benchmarks.faults.findings import Finding, part
from benchmarks.faults.service import Answer, Service, send, serving, upload, vehicle

CLIENTS = 32
SECONDS = 120.0
PAGES = ("/", "/vehicles/new", "/comparables/1?show=faults", "/api/v1/comparables", "/help", "/healthz")
TABLE = "family,model_year,price,outcome,date\n" + "".join(
    f"Penhurrow Haywain,{1940 + place},{9000 + 100 * place},sold,2025-0{1 + place % 9}-11\n" for place in range(20)
)


@dataclass(slots=True)
class Log:
    """What one client sent and was answered.

    Attributes
    ----------
    seconds : list of float
        How long each answer took.
    statuses : Counter
        Answers by status; an honest refusal for want of room counts as "later".
    written : dict of (str, int) to str
        Acknowledged records, by kind and number, and the mark that each was sent with.
    broken : int
        Requests that no answer came to.
    estimate : int
        The client's newest estimate, and how much it came to.
    median : float
    """

    seconds: list[float] = field(default_factory=list)
    statuses: Counter[str] = field(default_factory=Counter)
    written: dict[tuple[str, int], str] = field(default_factory=dict)
    broken: int = 0
    estimate: int = 0
    median: float = 0.0


def measure(clients: int = CLIENTS, seconds: float = SECONDS) -> Sequence[Finding]:
    """Load a service of its own."""
    with serving() as service:
        service.fitted()
        return load(service, clients, seconds)


def load(service: Service, clients: int, seconds: float) -> Sequence[Finding]:
    """Load a service that holds a fitted table 1 and an estimate 1."""
    until = time.monotonic() + seconds
    with ThreadPoolExecutor(clients) as pool:
        logs = list(pool.map(lambda number: _client(service, number, until), range(clients)))
    return [_speed(logs, seconds), _errors(logs), *_kept(service, logs)]


def _client(service: Service, number: int, until: float) -> Log:
    rng, log = random.Random(number), Log()
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=120)
    count = 0
    while time.monotonic() < until:
        count += 1
        begun = time.monotonic()
        try:
            answer = _one(connection, rng.random(), number * 100_000 + count, log)
        except (OSError, http.client.HTTPException):
            connection.close()
            log.broken += 1
            continue
        log.seconds.append(time.monotonic() - begun)
        log.statuses["later" if answer.is_honest_refusal else str(answer.status)] += 1
    connection.close()
    return log


def _one(connection: http.client.HTTPConnection, chance: float, unique: int, log: Log) -> Answer:
    """One request, drawn by ``chance``; what is written carries the client's own mark."""
    mark = f"sent as {unique}"
    if chance < 0.45 or not log.estimate:
        asked = {
            "vehicle": vehicle(1940 + unique % 30, 20_000 + unique % 99_991) | {"name": mark},
            "table": 1,
            "record": chance < 0.3,
        }
        answer = send(connection, "POST", "/api/v1/estimates", asked)
        if answer.status == 201 and asked["record"]:
            log.estimate, log.median = answer.json()["id"], answer.json()["median"]
            log.written["estimate", log.estimate] = mark
    elif chance < 0.65:
        asked = {"estimate": log.estimate, "amount": round(0.9 * log.median, 2), "who": mark}
        answer = send(connection, "POST", "/api/v1/offers", asked)
        if answer.status == 201:
            log.written["offer", answer.json()["id"]] = mark
    elif chance < 0.75:
        asked = {
            "estimate": log.estimate,
            "price": round(log.median, 2),
            "sold_on": str(date.today()),
            "remark": mark,
            "confirm": True,
        }  # several clients sell one vehicle on one day, which is asked about
        answer = send(connection, "POST", "/api/v1/sales", asked)
        if answer.status == 201:
            log.written["sale", answer.json()["id"]] = mark
    elif chance < 0.77:
        body, kind = upload(f"{TABLE}{mark},,,,\n".encode(), "shared.csv", name="shared", currency="USD")
        answer = send(connection, "POST", "/api/v1/comparables", body, content_type=kind)
        if answer.status == 201:
            log.written["table", answer.json()["table"]["id"]] = mark
    else:
        answer = send(connection, "GET", PAGES[unique % len(PAGES)], accept="text/html, application/json")
    return answer


def _speed(logs: list[Log], seconds: float) -> Finding:
    times = np.concatenate([log.seconds for log in logs])
    middle, late = np.quantile(times, [0.5, 0.99])
    figure = (
        f"{len(logs)} clients for {seconds:g} s: {len(times):,} answers, p50 {1000 * middle:.0f} ms, "
        f"p99 {1000 * late:.0f} ms, longest {1000 * times.max():.0f} ms"
    )
    return Finding("answers keep coming", figure, bool(late < 30))


def _errors(logs: list[Log]) -> Finding:
    statuses: Counter[str] = sum((log.statuses for log in logs), Counter())
    broken = sum(log.broken for log in logs)
    failed = statuses.total() - sum(statuses[good] for good in ("200", "201", "later"))
    seen = ", ".join(f"{status}: {count:,}" for status, count in sorted(statuses.items()))
    figure = (
        f"{failed} errors or refusals, {broken} requests without an answer; {statuses['later']} told to come later "
        f"({seen})"
    )
    return Finding("every request is answered as on a quiet day", figure, failed == 0 and broken == 0)


def _kept(service: Service, logs: list[Log]) -> Sequence[Finding]:
    """What the ledger holds against what was acknowledged, read by another program."""
    from valuation.ledger import Ledger

    with Ledger.open(str(service.ledger)) as ledger:
        held = {("estimate", one.id): one.subject for one in ledger.estimates()}
        held |= {("offer", one.id): one.who for one in ledger.offers()}
        held |= {("sale", one.id): one.remark for one in ledger.sales()}
        tables = [table for table in ledger.tables() if table.name == "shared"]
        for table in tables:
            last = ledger.content(table.source).decode().splitlines()[-1]
            held["table", table.id] = last.partition(",")[0]
    acknowledged = [(key, mark) for log in logs for key, mark in log.written.items()]
    lost = [key for key, mark in acknowledged if held.get(key) != mark]
    twice = len(acknowledged) - len({key for key, _ in acknowledged})
    versions = sorted(table.version for table in tables)
    counts = Counter(kind for (kind, _), _ in acknowledged)
    said = ", ".join(f"{count:,} {kind}s" for kind, count in sorted(counts.items()))
    return [
        Finding(
            "what was acknowledged stands in the ledger as it was sent",
            f"{len(lost)} lost or altered, {twice} numbered twice, of {len(acknowledged):,} ({said})",
            bool(acknowledged) and not lost and not twice,
        ),
        Finding(
            "versions of one table are numbered one after the other",
            f"{len(versions)} versions",
            versions == list(range(1, len(versions) + 1)),
        ),
    ]


if __name__ == "__main__":
    part(measure)
