"""``python -m benchmarks.desk.run``: taps and seconds from a found truck to its limit, and from a file to an estimate.

The taps are made in Chromium at a telephone's size; what the hand takes is the keystroke-level model's, what the desk
takes is measured. Processor time of a page is a ratio to a bare page of the same run.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from benchmarks.desk.hand import Hand
from benchmarks.measure import stamp

ROOT = Path(__file__).parents[2]
RESULTS = ROOT / "benchmarks" / "results" / "desk.md"
NOTEBOOK = ROOT / "tests" / "tables" / "files" / "yard-notebook.xlsx"
PHONE = {"width": 390, "height": 844}
BARE = "/sign-in"
"""A page of one field: what every page costs before it shows anything."""
PAGES = {"in the barn": "/barn", "the shop": "/"}
ROUNDS, EACH = 5, 20
TICKS = os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Run everything and write the table."""
    rows = []
    with tempfile.TemporaryDirectory() as folder, browser() as chromium:
        with desk(Path(folder) / "found.sqlite") as (client, number):
            client.post("/demo")
            client.get("/api/v1/barn", params={"wait": 300}).raise_for_status()
            hand, waited = found_truck(chromium, str(client.base_url))
            rows.append(told("from a found truck to the most to pay, in the barn", hand, waited, "8 taps, 30 s"))
            for name, page in PAGES.items():
                ratio, ours, bare = cost(client, number, page)
                figure = f"{ratio:.1f} ({1000 * ours:.1f} against {1000 * bare:.1f} ms of processor time)"
                rows.append((f"{name}, over a bare page", figure, ""))
        with desk(Path(folder) / "own.sqlite") as (client, _):
            hand, waited = own_file(chromium, str(client.base_url))
            rows.append(told("from the owner's file to the first estimate", hand, waited, ""))
    lines = [f"| {' | '.join(row)} |" for row in (("what", "measured", "aim"), ("---",) * 3, *rows)]
    text = (
        f"# The desk in an owner's hand\n\n{WHAT}\n\n" + "\n".join(lines) + f"\n\n{stamp(['fastapi', 'playwright'])}\n"
    )
    RESULTS.write_text(text, encoding="utf-8")
    print(text)


WHAT = """\
Taps are counted in Chromium by `python -m benchmarks.desk.run`, at 390 x 844 in the barn, at 1280 x 900 for the file;
an entry of a list is two taps. Seconds are the
hand's by the keystroke-level model (Card, Moran and Newell 1980: 1.1 s to reach a target, 0.2 s to press, 0.28 s a
character, 1.35 s for each decision) and the desk's own, measured. No person was timed."""


@contextmanager
def browser() -> Iterator[Any]:
    """Debian's Chromium, driven by Playwright."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"])


@contextmanager
def desk(ledger: Path) -> Iterator[tuple[httpx.Client, int]]:
    """A client of a desk in a process of its own, and the number of that process."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    more = {"VALUATION_LEDGER": str(ledger), "VALUATION_PORT": str(port), "OMP_NUM_THREADS": "1"}
    running = subprocess.Popen([sys.executable, "-m", "api"], env={**os.environ, **more}, cwd=ROOT)
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=300) as client:
            while True:
                try:
                    client.get("/help").raise_for_status()  # waits until everything is loaded
                    break
                except httpx.TransportError:
                    assert running.poll() is None, "the desk did not start"
                    time.sleep(0.1)
            yield client, running.pid
    finally:
        running.terminate()
        running.wait(20)


def found_truck(chromium: Any, address: str) -> tuple[Hand, float]:
    """From the first page to the most to pay for the truck that stands there, at the price that is asked."""
    window = chromium.new_context(viewport=PHONE, base_url=address).new_page()
    window.goto("/")
    hand, begun = Hand(window), time.perf_counter()
    hand.tap(window.get_by_role("link", name="In the barn").first)
    hand.choose(window.get_by_label("Line"), "Penhurrow Haywain")
    hand.type(window.get_by_role("spinbutton"), "1955")
    for name, level in (("condition", "project"), ("drivetrain", "original"), ("paint", "worn")):
        hand.tap(window.locator(f"input[name={name}][value={level}]"), think=True)
    hand.type(window.get_by_label("Asked"), "9500")
    said = window.locator("#why").inner_text()
    assert re.match(r".*Pay up to [\d,]+", said), said
    return hand, time.perf_counter() - begun


def own_file(chromium: Any, address: str) -> tuple[Hand, float]:
    """From an empty desk and a table as its owner keeps it to the estimate of a vehicle."""
    window = chromium.new_context(viewport={"width": 1280, "height": 900}, base_url=address).new_page()
    window.set_default_timeout(120_000)
    window.goto("/comparables/bring")
    hand, begun = Hand(window), time.perf_counter()
    hand.bring(window.get_by_label("A table of sales"), NOTEBOOK)
    hand.tap(window.get_by_role("button", name="Read the table"))
    suggestions = window.get_by_role("button", name=re.compile("^Take the "))
    mends = window.get_by_role("button", name=re.compile("^Make the "))
    window.get_by_role("heading", name=re.compile("^Bring ")).wait_for()
    for button in (suggestions, mends):
        if button.count():
            hand.tap(button, think=True)
            window.wait_for_load_state("networkidle")
    hand.tap(window.get_by_role("button", name="Use this table"), think=True)
    hand.tap(window.get_by_role("link", name="Value a vehicle from this table"))
    estimate(hand)
    return hand, time.perf_counter() - begun


def estimate(hand: Hand) -> None:
    """Line, year and condition of a vehicle, and its estimate."""
    window = hand.page
    hand.type(window.get_by_label(re.compile("^What you call it")), "Wren")
    for label in ("Make and model", "Model year"):
        field = window.get_by_label(re.compile(label)).first
        hand.type(field, {"Make and model": "Garrow Wren", "Model year": "1950"}[label])
    hand.choose(window.get_by_label("Condition", exact=True), "driver")
    hand.tap(window.get_by_role("button", name=re.compile("^Estimate and keep it|^Keep")).first)
    window.locator(".big, .answer").first.wait_for()


def told(what: str, hand: Hand, waited: float, aim: str) -> tuple[str, str, str]:
    """A row of the table."""
    whole = hand.seconds + waited
    figure = (
        f"{hand.taps} taps and {hand.keys} characters; {whole:.0f} s ({hand.seconds:.0f} of the hand, {waited:.1f} of "
        "the desk)"
    )
    return what, figure, aim


def cost(client: httpx.Client, number: int, page: str) -> tuple[float, float, float]:
    """Processor seconds of the service for a page over those for a bare one, in turns; the least of several rounds."""
    least = {page: float("inf"), BARE: float("inf")}
    for _ in range(ROUNDS):
        for each in least:
            before = spent(number)
            for _ in range(EACH):
                client.get(each, headers={"accept": "text/html"}).raise_for_status()
            least[each] = min(least[each], (spent(number) - before) / EACH)
    return least[page] / max(least[BARE], 1 / TICKS / EACH), least[page], least[BARE]


def spent(number: int) -> float:
    """Processor seconds that a process has used."""
    fields = Path(f"/proc/{number}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


if __name__ == "__main__":
    main()
