"""Headless Chromium before a real service: its own process, a free loopback port, a ledger of its own."""

import datetime as dt
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from valuation.files import locked

ROOT = Path(__file__).parents[2]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}


@contextmanager
def process(folder):
    """Address of a service in a process of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {**os.environ, "VALUATION_LEDGER": str(folder / "ledger.sqlite"), "VALUATION_PORT": str(port)}
    with (folder / "log.txt").open("w") as log:
        running = subprocess.Popen([sys.executable, "-m", "api"], cwd=ROOT, env=environment, stdout=log, stderr=log)
    address = f"http://127.0.0.1:{port}"
    try:
        until = time.monotonic() + 90
        while True:
            try:
                if httpx.get(f"{address}/healthz", timeout=30).status_code == 200:
                    break
            except httpx.TransportError:
                assert running.poll() is None, (folder / "log.txt").read_text()
                assert time.monotonic() < until, "the service did not start"
                time.sleep(0.2)
        yield address
    finally:
        running.terminate()
        running.wait(20)


@pytest.fixture(scope="module")
def chromium():
    """Debian's Chromium, driven by Playwright, whose event loop is gone before other tests run theirs."""
    if CHROMIUM is None:
        pytest.skip("there is no chromium on this computer")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def empty_desk(tmp_path):
    """Address of a service over an empty ledger."""
    with process(tmp_path) as address:
        yield address


@pytest.fixture(scope="session")
def demo_desk(tmp_path_factory, demo_folder):
    """Address of a service with the demo, one estimate, comparison of paths, price, offer and sale in its ledger."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copytree(demo_folder, folder, dirs_exist_ok=True)
    with process(folder) as address, httpx.Client(base_url=address, timeout=300) as client:
        until_done(client, client.get("/vehicles/5/price"))  # a desk that was just started fits the table first
        yield address


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory):
    """Where that ledger lies, filled once for all processes that share these tests."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    filled = shared / "filled-demo"
    with locked(filled, wait=300):
        if not filled.exists():
            begun = tmp_path_factory.mktemp("filling")
            with process(begun) as address, httpx.Client(base_url=address, timeout=300) as client:
                fill(client)
            begun.rename(filled)
    return filled


def fill(client):
    """Bring the demo, and do with its vehicles what an owner would."""
    client.post("/demo")
    form = {
        "name": "Haywain pickup", "a.family": "Penhurrow Haywain", "a.model_year": "1952", "a.condition": "driver",
        "a.paint": "fresh",
    }  # fmt: skip
    finish(client, client.post("/vehicles", data=form))
    plans = client.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"]
    asked = {"price": "9500", "margin": "15", "sure": "70"}
    finish(client, client.post(plans.replace("/plans", "/pay"), data=asked))
    finish(
        client,
        client.post("/vehicles/5/price", data={"offers_per_month": "2", "weeks_to_sell": "6", "put_in": "30000"}),
    )
    client.post("/vehicles/5/offers", data={"amount": "38000", "who": "Ada"})
    client.post("/vehicles/2/bought", data={"bought_for": "10500", "bought_on": dt.date.today().isoformat()})
    client.post("/vehicles/5/sale", data={"price": "39500", "kind": "private"})


def finish(client, answer):
    """Follow a piece of work to its end."""
    until_done(client, client.get(answer.headers["location"]))


def until_done(client, answer):
    """Ask for a page until it has its answer."""
    until = time.monotonic() + 200
    while answer.is_redirect or "data-reload" in answer.text:
        assert time.monotonic() < until, "the work did not end"
        time.sleep(0.3)
        answer = client.get(answer.headers.get("location", str(answer.url)))
    assert answer.status_code == 200, re.sub(r"<[^>]+>", " ", answer.text)


@pytest.fixture
def shots():
    """Folder of the screenshots."""
    folder = ROOT / "screenshots"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture
def opened(chromium):
    """A function that opens a window; what its console complains of fails the test."""
    contexts, complaints = [], []

    def open_window(address, view=DESK, **settings):
        context = chromium.new_context(viewport=view, base_url=address, **settings)
        context.set_default_timeout(90_000)
        contexts.append(context)
        window = context.new_page()
        # That an answer had a status such as 422 is no complaint of the page itself.
        window.on("console", lambda one: _keep(complaints, one))
        window.on("pageerror", lambda one: complaints.append(str(one)))
        return window

    yield open_window
    for context in contexts:
        context.close()
    assert not complaints


def _keep(complaints, message):
    refused = ("the server responded with a status of", "Response Status Error Code 422")
    if message.type == "error" and not any(one in message.text for one in refused):
        complaints.append(message.text)


@pytest.fixture
def looks_right():
    """A function that takes a screenshot and holds that nothing stands out over the window's edge."""

    def look(window, shots, name):
        window.wait_for_load_state("networkidle")
        width = window.viewport_size["width"]
        window.screenshot(path=str(shots / f"{name}-{width}.png"), full_page=True)
        assert window.evaluate("document.documentElement.scrollWidth") <= width, name

    return look


TABLE_OF_A_SHOP = "date,price,outcome,family,model_year,condition,paint\n" + "".join(
    f"202{3 + i % 3}-0{1 + i % 9}-1{i % 8},{round(9_000 * 1.04**i * (1.5 if i % 3 == 2 else 1) / 50) * 50},"
    f"{'asking' if i % 9 == 8 else 'sold'},Tarrowby Linnet,{1948 + i % 17},"
    f"{['project', 'runner', 'driver'][i % 3] if i != 5 else 'drvier'},{['worn', 'presentable', 'fresh'][i % 3]}\n"
    for i in range(26)
)
"""An invented shop's table with one misspelt grade in row 7."""


@pytest.fixture
def table_of_a_shop():
    """The text of a shop's own table."""
    return TABLE_OF_A_SHOP
