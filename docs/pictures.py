"""Pictures of the desk on the demo, and of the terminal: ``python docs/pictures.py [FOLDER]``.

Without a folder the pictures that README.md shows are made again (``docs/pictures``). With one, every page goes there
in full length, wide and narrow, by day and by night, to be looked through before a release. Needs Chromium and poppler.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
from playwright.sync_api import sync_playwright

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ROOT = Path(__file__).parents[1]
FIND = "Barn find: Haywain"
DESK, PHONE = (1280, 900), (390, 844)
PAGES = {
    "start": "/", "bring": "/comparables/bring", "comparables": "/comparables/1", "rows": "/comparables/1?show=all",
    "vehicle-form": "/vehicles/new", "vehicle": "/vehicles/5/worth", "story": "/vehicles/1",
    "photos": "/vehicles/1/photos", "barn": "/barn", "shop": "/shop", "plans": "/vehicles/1/plans",
    "pay": "/vehicles/1/pay", "work": "/vehicles/2/work", "price": "/vehicles/5/price",
    "track-record": "/track-record", "help": "/help",
}  # fmt: skip
SHOWN = {
    "desk-shop": ("/", (900, 800), ".stage-list"),
    "desk-vehicle": ("/vehicles/5/worth", (900, 900), ".answer"),
    "desk-build": ("/vehicles/1/pay", (900, 1100), ".most"),
    "desk-price-phone": ("/vehicles/5/price", (390, 1250), ".facts.asked"),
}
"""README's pictures of the desk: the page, the window, and what must be in sight."""
OWN_TABLE = ROOT / "tests" / "tables" / "files" / "yard-notebook.xlsx"
TEN_MINUTES = {
    "terminal-start": "valuation start mine --from sales.xlsx",
    "terminal-check": "valuation check mine/comparables.xlsx",
    "terminal-estimate": "valuation estimate family='Garrow Wren' year=1951 condition=tidy "
    "--comparables mine/comparables.xlsx",
}
"""README's pictures of the terminal: an owner's own table, command by command, as far as the first estimate."""
TERMINAL = """<!doctype html><meta charset="utf-8"><style>
body { margin: 0; background: #fbf7ee; } pre { margin: 0; padding: 18px 22px; color: #2b2620; display: inline-block;
font: 15px/1.4 "DejaVu Sans Mono", monospace; } b { color: #8a3b12; }</style><pre><b>$ %s</b>

%s</pre>"""


def main() -> None:
    """Make them all, and say where they lie."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory() as scratch, desk(Path(scratch)) as address, sync_playwright() as driver:
        fill(address)
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"])
        if folder:
            every_page(browser, address, folder)
        else:
            for_the_readme(browser, address, ROOT / "docs" / "pictures")
        browser.close()
    print(f"The pictures are in {folder or 'docs/pictures'}.")


@contextmanager
def desk(folder: Path) -> Iterator[str]:
    """Address of a desk in a process of its own, with an empty ledger."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = {**os.environ, "VALUATION_LEDGER": str(folder / "ledger.sqlite"), "VALUATION_PORT": str(port)}
    running = subprocess.Popen([sys.executable, "-m", "api"], cwd=ROOT, env=settings)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(300):
            try:
                httpx.get(f"{address}/healthz", timeout=30)
                break
            except httpx.TransportError:
                time.sleep(0.3)
        yield address
    finally:
        running.terminate()
        running.wait(20)


def fill(address: str) -> None:
    """The demo with an estimate, a comparison of paths, bands and an offer."""
    vehicle = {
        "name": "Haywain pickup", "a.family": "Penhurrow Haywain", "a.model_year": "1952", "a.condition": "driver",
        "a.paint": "fresh",
    }  # fmt: skip
    with httpx.Client(base_url=address, timeout=300) as client:
        post(client, "/demo", {})
        post(client, "/vehicles", vehicle)
        plans = client.get("/build", params={"subject": FIND}).headers["location"]
        post(client, plans.replace("/plans", "/pay"), {"price": "9500", "margin": "15", "sure": "70"})
        post(client, "/vehicles/5/price", {"offers_per_month": "2", "weeks_to_sell": "6", "put_in": "30500"})
        post(client, "/vehicles/5/offers", {"amount": "41000", "who": "Ruth Amsel"})


def post(client: httpx.Client, path: str, form: dict[str, str]) -> None:
    """Send a form and wait until the page that it leads to has its answer."""
    answer = client.post(path, data=form, follow_redirects=True)
    while "data-reload" in answer.text:
        time.sleep(0.5)
        answer = client.get(str(answer.url), follow_redirects=True)
    if answer.status_code != 200:
        raise SystemExit(f"{path} was refused: {re.sub(r'<[^>]+>', ' ', answer.text)}")


def opened(browser: Browser, address: str, view: tuple[int, int], **settings: str) -> Page:
    """A window of that size."""
    width, height = view
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=address, **settings)  # type: ignore[arg-type]
    return context.new_page()


def every_page(browser: Browser, address: str, folder: Path) -> None:
    """Each page in full length, wide and narrow, by day and by night."""
    folder.mkdir(parents=True, exist_ok=True)
    for view in (DESK, PHONE):
        for scheme in ("light", "dark"):
            window = opened(browser, address, view, color_scheme=scheme)
            for name, path in PAGES.items():
                window.goto(path)
                window.screenshot(path=folder / f"{name}-{view[0]}-{scheme}.png", full_page=True)


def for_the_readme(browser: Browser, address: str, folder: Path) -> None:
    """The pictures that README.md shows."""
    for name, (path, view, sight) in SHOWN.items():
        window = opened(browser, address, view)
        window.goto(path)
        window.locator(sight).first.wait_for()
        window.screenshot(path=folder / f"{name}.png")
    in_the_barn(browser, address, folder)
    with tempfile.TemporaryDirectory() as scratch:
        of_the_terminal(browser, Path(scratch), folder)
        sheet = Path(scratch) / "buyer.pdf"
        valuation = [sys.executable, "-m", "valuation", "sheet", "buyer", "data/vehicles/haywain-pickup.toml"]
        subprocess.run([*valuation, "--comparables", "data/comparables.csv", "--out", str(sheet)], cwd=ROOT, check=True)
        subprocess.run(
            ["pdftoppm", "-png", "-r", "90", "-singlefile", str(sheet), str(folder / "buyer-sheet")], check=True
        )


def in_the_barn(browser: Browser, address: str, folder: Path) -> None:
    """The screen for the telephone with its fields tapped."""
    window = opened(browser, address, PHONE)
    window.goto("/barn")
    window.locator("#answer").wait_for()
    window.locator("select").first.select_option(label="Penhurrow Haywain")
    window.locator("input[name*=year]").first.fill("1955")
    for level in ("project", "original", "worn"):
        window.locator("label", has_text=level).first.click()
    window.locator("input[name=asked]").fill("9500")
    window.locator("#answer", has_text="Worth about").wait_for()
    window.screenshot(path=folder / "desk-barn-phone.png")


def of_the_terminal(browser: Browser, scratch: Path, folder: Path) -> None:
    """What the commands from an owner's own table to the first estimate print, run one after another."""
    shutil.copy(OWN_TABLE, scratch / f"sales{OWN_TABLE.suffix}")
    settings = {**os.environ, "COLUMNS": "92", "PYTHONPATH": str(ROOT)}
    window = opened(browser, "", (900, 300))
    for name, command in TEN_MINUTES.items():
        words = [sys.executable, "-m", *shlex.split(command)]
        said = subprocess.run(words, cwd=scratch, env=settings, capture_output=True, text=True, check=False)
        window.set_content(TERMINAL % (escape(command), escape(said.stdout.strip("\n"))))
        window.locator("pre").screenshot(path=folder / f"{name}.png")


if __name__ == "__main__":
    main()
