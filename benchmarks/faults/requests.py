"""``python -m benchmarks.faults.requests``: made-up requests meet no error of the service.

Schemathesis draws them from the service's own OpenAPI, for every route alike; an answer must be one that the document
speaks of, of the kind and shape that it says.
"""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Sequence

from benchmarks.faults.findings import Finding, part
from benchmarks.faults.service import Service, serving

CASES = 3000


def measure(cases: int = CASES) -> Sequence[Finding]:
    """Ask a service of its own."""
    with serving(work_seconds="20") as service:
        service.fitted()
        return requests(service, cases)


def requests(service: Service, cases: int, *, seed: int = 9, only: str = "") -> Sequence[Finding]:
    """Ask a service at least so many times, over all routes or those whose path holds a word."""
    import schemathesis
    from requests import Session
    from schemathesis.checks import not_a_server_error
    from schemathesis.core.failures import FailureGroup
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        response_schema_conformance,
        status_code_conformance,
    )

    checks = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
    document = service.ask("GET", "/api/v1/openapi.json").json()
    schema = schemathesis.openapi.from_dict(document)
    routes = [(path, way) for path, ways in document["paths"].items() for way in ways if only in path]
    asked, statuses, faults = 0, Counter[int](), Counter[str]()
    with Session() as session:
        for path, way in routes:
            for case in _drawn(schema[path][way.upper()].as_strategy(), -(-cases // len(routes)), seed):
                asked += 1
                answer = case.call(base_url=f"http://127.0.0.1:{service.port}", timeout=120, session=session)
                statuses[answer.status_code] += 1
                try:
                    case.validate_response(answer, checks=checks)
                except FailureGroup as group:
                    named = [f"{way.upper()} {path}: {one.title} ({answer.status_code})" for one in group.exceptions]
                    faults.update(named)
    seen = ", ".join(f"{status}: {count:,}" for status, count in sorted(statuses.items()))
    named = "; ".join(f"{fault}, {count} times" for fault, count in faults.most_common(10))
    errors = sum(count for status, count in statuses.items() if status >= 500 and status != 503)
    return [
        Finding(
            "made-up requests get answers that the service's document speaks of",
            f"{asked:,} requests to {len(routes)} routes ({seen}); {errors} errors of the service, "
            f"{faults.total()} answers off the document{': ' if named else ''}{named}",
            asked >= cases and errors == 0 and not faults,
        )
    ]


def _drawn(strategy: object, count: int, seed: int) -> list:
    """So many examples of a strategy, the same ones each time."""
    from hypothesis import HealthCheck, Phase, given, settings
    from hypothesis import seed as seeded

    drawn: list = []

    @seeded(seed)
    @settings(
        max_examples=count,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(strategy)
    def draw(case: object) -> None:
        drawn.append(case)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        draw()
    # A strategy with few different examples runs out of them; they are then asked again.
    return [drawn[place % len(drawn)] for place in range(count)]


if __name__ == "__main__":
    part(measure)
