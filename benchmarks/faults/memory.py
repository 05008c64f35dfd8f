"""``python -m benchmarks.faults.memory``: thousands of estimates over JSON leave the service's memory where it was.

Every vehicle is another one and every second estimate is written down, so that nothing is answered out of what was
kept. The slope is that of resident memory after the first fifth, in which buffers still fill.
"""

from __future__ import annotations

import http.client
from collections.abc import Sequence

import numpy as np

from benchmarks.faults.findings import Finding, part
from benchmarks.faults.service import MIB, Service, send, serving, vehicle

ESTIMATES = 5000
SAMPLES = 50
MOST_PER_THOUSAND = 1.0
"""MiB by which memory may grow over a thousand estimates."""


def measure(estimates: int = ESTIMATES) -> Sequence[Finding]:
    """Ask a service of its own."""
    with serving() as service:
        service.fitted()
        return memory(service, estimates)


def memory(service: Service, estimates: int, most_per_thousand: float = MOST_PER_THOUSAND) -> Sequence[Finding]:
    """Ask a service that holds a fitted table 1."""
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=120)
    every = max(estimates // SAMPLES, 1)
    asked_at, held = [], []
    for count in range(estimates):
        asked = {"vehicle": vehicle(1938 + count % 30, 20_000 + count), "table": 1, "record": count % 2 == 0}
        answer = send(connection, "POST", "/api/v1/estimates", asked)
        assert answer.status == 201, answer.body
        if count % every == 0:
            asked_at.append(count)
            held.append(service.resident() / MIB)
    connection.close()
    settled = len(held) // 5
    slope, _ = np.polyfit(asked_at[settled:], held[settled:], 1)
    figure = (
        f"{estimates:,} estimates, half of them written down: {held[settled]:.0f} MiB after a fifth, {held[-1]:.0f} "
        f"MiB at the end, slope {1000 * slope:+.2f} MiB a thousand"
    )
    return [Finding("memory stays where it was", figure, bool(1000 * slope <= most_per_thousand))]


if __name__ == "__main__":
    part(measure)
