"""Headless Chromium before a real service: its own process, a free loopback port, a ledger of its own."""

import os
import shutil
from contextlib import contextmanager

import pytest

from docs.pages import TABLE, at_rest, desk, fill, fill_words
from valuation.files import locked

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}


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
    with desk(tmp_path) as address:
        yield address


@pytest.fixture(scope="session")
def filled(tmp_path_factory, demo_folder):
    """Address of a service with the demo and more in its ledger, and what the addresses of its pages hold."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copytree(demo_folder, folder, dirs_exist_ok=True)
    with desk(folder) as address:
        yield address, fill_words(address)


@pytest.fixture(scope="session")
def demo_desk(filled):
    """Address of that service."""
    return filled[0]


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
            with desk(begun) as address:
                fill(address)
            begun.rename(filled)
    return filled


@pytest.fixture
def opened(chromium):
    """A function that opens a window; what its console complains of fails the test."""
    with _windows(chromium) as open_window:
        yield open_window


@pytest.fixture(scope="module")
def window(chromium, filled):
    """One window for many pages of the filled desk, as its owner sees them after the first visit."""
    address, _ = filled
    with _windows(chromium) as open_window:
        one = open_window(address)
        one.context.add_cookies([{"name": "cautions", "value": "seen", "url": address}])
        # Each page is loaded whole, as if it were the first that is looked at.
        fetching = one.context.new_cdp_session(one)
        fetching.send("Network.enable")
        fetching.send("Network.setCacheDisabled", {"cacheDisabled": True})
        yield one


@contextmanager
def _windows(chromium):
    contexts, complaints = [], []

    def open_window(address, view=DESK, **settings):
        context = chromium.new_context(viewport=view, base_url=address, **settings)
        context.set_default_timeout(90_000)
        contexts.append(context)
        window = context.new_page()
        # That an answer had a status such as 422 is no complaint of the page itself.
        window.on("console", lambda one: _keep(complaints, one, window.url))
        window.on("pageerror", lambda one: complaints.append(f"{one} at {window.url}"))
        return window

    yield open_window
    for context in contexts:
        context.close()
    assert not complaints


def _keep(complaints, message, url):
    refused = ("the server responded with a status of", "Response Status Error Code 422")
    given_up = ("htmx:sendAbort", "htmx:afterRequest")  # by a page that was left before its answer came
    if message.type == "error" and not any(one in message.text for one in refused + given_up):
        complaints.append(f"{message.text} at {url}")


@pytest.fixture
def fits():
    """A function that holds that nothing of a page stands out over the window's edge."""

    def look(window):
        at_rest(window)
        assert window.evaluate("document.documentElement.scrollWidth") <= window.viewport_size["width"], window.url

    return look


@pytest.fixture
def table_of_a_shop():
    """The text of a shop's own table."""
    return TABLE
