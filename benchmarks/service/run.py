"""``python -m benchmarks.service.run``: figures of the service as ratios in one run.

An estimate by JSON (not written down, warm, another vehicle each time) against a bare FastAPI route that takes the same
question and returns an answer of the same size, at 1 and at 16 clients; the first page after a cold start beyond the
imports; the weight of every page.
"""

import http.client
import itertools
import json
import os
import re
import resource
import socket
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import contextmanager
from pathlib import Path
from statistics import median

ROUNDS = 5
REQUESTS = {1: 60, 16: 160}
VEHICLE = {
    "family": "Penhurrow Haywain", "body": "pickup", "condition": "driver", "drivetrain": "rebuilt-original",
    "paint": "fresh", "awards": "local", "mileage": 71000, "documentation": "full",
}  # fmt: skip
PAGES = ("/", "/comparables/1", "/vehicles/new", "/vehicles/3/worth", "/vehicles/1/plans", "/vehicles/3/price",
         "/track-record", "/help")  # fmt: skip
IMPORTS = (
    "import uvicorn, jinja2, sqlalchemy, alembic.command, api.app, api.routes, api.pages, valuation.ledger;"
    "from valuation.ledger import Ledger; from api.routes import all_routes; from api.pages import all_pages;"
    "all_routes(); all_pages()"
)


def main() -> None:
    """Run everything and print a table in Markdown."""
    with tempfile.TemporaryDirectory() as folder:
        rows = [
            (
                "first page after a cold start, beyond the imports",
                f"{cold_start(Path(folder)):.2f} s of processor time",
                "under 1 s",
            )
        ]
        with service(Path(folder)) as port:
            ask(port, "POST", "/demo")
            first = estimate(port, 1952, record=True)
            answer = Path(folder) / "answer.json"
            answer.write_bytes(first)
            with bare(answer) as other:
                for clients in REQUESTS:
                    ours, theirs = compare(port, other, clients)
                    told = f"{ours / theirs:.2f} ({1000 * ours:.1f} against {1000 * theirs:.1f} ms a request)"
                    rows.append((f"estimate by JSON over a bare route, {clients} clients", told, "at most 4"))
            pages = [weigh(port, page) for page in PAGES]
        heaviest_page, heaviest_view = max(html for html, _ in pages), max(whole for _, whole in pages)
        rows.append(("heaviest page, HTML", f"{heaviest_page / 1000:.0f} kB", "under 200 kB"))
        rows.append(("heaviest first view, all that it loads", f"{heaviest_view / 1e6:.2f} MB", "under 1.5 MB"))
    print(f"Size of the answer: {len(first):,} bytes; {os.cpu_count()} processors; Python {sys.version.split()[0]}.\n")
    print("| what | measured | aim |\n| --- | --- | --- |")
    for row in rows:
        print(f"| {' | '.join(row)} |")


def compare(port: int, other: int, clients: int) -> tuple[float, float]:
    """Median seconds for a request, of the service and of the bare route, in turns."""
    found: dict[int, list[float]] = {port: [], other: []}
    for each in (port, other):
        load(each, clients, 2 * clients + 6)
    for _ in range(ROUNDS):
        for each, times in found.items():
            times.append(load(each, clients, REQUESTS[clients]))
    return median(found[port]), median(found[other])


def load(port: int, clients: int, requests: int) -> float:
    """Seconds of wall time for a request when so many clients ask at once."""
    years = itertools.cycle(range(1938, 1971))

    def work(count: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        for _ in range(count):
            body = question(next(years))
            connection.request("POST", "/api/v1/estimates", body, {"content-type": "application/json"})
            answer = connection.getresponse()
            assert answer.status == 201, answer.read()
            answer.read()
        connection.close()

    threads = [threading.Thread(target=work, args=(requests // clients,)) for _ in range(clients)]
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return (time.perf_counter() - begun) / (requests // clients * clients)


def question(year: int, record: bool = False) -> str:
    """The body of a request."""
    vehicle = {"name": f"pickup of {year}", "attributes": {**VEHICLE, "model_year": year}}
    return json.dumps({"vehicle": vehicle, "record": record})


def estimate(port: int, year: int, record: bool) -> bytes:
    """One estimate, waiting for the fit."""
    return ask(port, "POST", "/api/v1/estimates?wait=300", question(year, record))


def ask(port: int, method: str, path: str, body: str | None = None) -> bytes:
    """The body of an answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    connection.request(method, path, body, {"content-type": "application/json", "accept": "text/html"})
    answer = connection.getresponse().read()
    connection.close()
    return answer


def weigh(port: int, page: str) -> tuple[int, int]:
    """Bytes of a page's HTML, and of it with all that it loads in a wide window."""
    html = ask(port, "GET", page)
    text = html.decode()
    parts = {*re.findall(r'<(?:script|img)[^>]* src="([^"]+)"', text), *re.findall(r'<link[^>]* href="([^"]+)"', text)}
    return len(html), len(html) + sum(len(ask(port, "GET", part)) for part in parts)


def cold_start(folder: Path) -> float:
    """Seconds of processor time from the start of the process to the first page, and to its end right after.

    Less those of the imports alone; median of three.
    """
    beyond = []
    for _ in range(3):
        begun = processor_time()
        subprocess.run([sys.executable, "-c", IMPORTS], check=True)
        imports = processor_time() - begun
        begun = processor_time()
        with service(folder, "cold.sqlite"):
            pass
        beyond.append(processor_time() - begun - imports)
        for file in folder.glob("cold.sqlite*"):
            file.unlink()
    return median(beyond)


def processor_time() -> float:
    """Seconds that the processes begun here and ended since have used."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def service(folder: Path, ledger: str = "ledger.sqlite"):
    """Port of the service in a process of its own, up and answering its first page."""
    return process(["-m", "api"], "/", VALUATION_LEDGER=str(folder / ledger))


def bare(answer: Path):
    """Port of the bare route in a process of its own."""
    code = (
        "import os, uvicorn; uvicorn.run('benchmarks.service.bare:create_bare', factory=True, log_level='warning', "
        "port=int(os.environ['VALUATION_PORT']))"
    )
    return process(["-c", code], "/healthz", BARE_ANSWER=str(answer))


@contextmanager
def process(words: list[str], first: str, **environment: str):
    """Port of a server that a Python process runs."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    running = subprocess.Popen(
        [sys.executable, *words], env={**os.environ, **environment, "VALUATION_PORT": str(port), "OMP_NUM_THREADS": "1"}
    )
    try:
        while True:
            try:
                ask(port, "GET", first)
                break
            except ConnectionError:
                assert running.poll() is None, "the server did not start"
                time.sleep(0.01)
        yield port
    finally:
        running.terminate()
        running.wait(20)


if __name__ == "__main__":
    main()
