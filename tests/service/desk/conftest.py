"""The service as its users meet it: listening on a loopback port, over a ledger of its own."""

import re
import socket
import threading
import time
from contextlib import contextmanager
from html import unescape
from html.parser import HTMLParser

import httpx
import pytest
import uvicorn

from api.app import create_app
from api.settings import Settings


@contextmanager
def listening(settings):
    """A client of a service with these settings."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    app = create_app(settings)
    server = uvicorn.Server(uvicorn.Config(app, port=port, log_level="error", ws="none", timeout_graceful_shutdown=2))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 30
    while not server.started:
        assert time.monotonic() < until, "the service did not start"
        time.sleep(0.02)
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120) as client:
        yield client
    server.should_exit = True
    thread.join(15)


@pytest.fixture
def fresh(tmp_path):
    """A service over an empty ledger."""
    with listening(Settings(ledger=str(tmp_path / "ledger.sqlite"))) as client:
        yield client


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """A service with the demo in its ledger, shared by tests that bring no other table."""
    with demo_service(tmp_path_factory.mktemp("demo")) as client:
        yield client


@pytest.fixture(scope="module")
def own_demo(tmp_path_factory):
    """The same for one file of tests, which may do with it what they like."""
    with demo_service(tmp_path_factory.mktemp("own_demo")) as client:
        yield client


@contextmanager
def demo_service(folder):
    """A client of a service that has read, fitted and used the demo's table."""
    ledger = folder / "ledger.sqlite"
    with listening(Settings(ledger=str(ledger), work_seconds=300)) as client:
        assert client.post("/demo").status_code == 303
        first = client.post("/api/v1/estimates", json={"vehicle": VEHICLE}, params={"wait": 300})
        assert first.status_code == 201, first.text
        evidence = client.get(f"/api/v1/estimates/{first.json()['id']}/evidence", params={"wait": 300})
        assert evidence.status_code == 200, evidence.text
        yield client


@pytest.fixture(scope="session")
def vehicle():
    """A vehicle that the demo's table can value."""
    return VEHICLE


VEHICLE = {
    "name": "Haywain pickup of 1952",
    "attributes": {
        "family": "Penhurrow Haywain",
        "model_year": 1952,
        "body": "pickup",
        "condition": "driver",
        "drivetrain": "rebuilt-original",
        "paint": "fresh",
        "awards": "local",
        "original_finish": False,
        "mileage": 71000,
        "documentation": "full",
    },
}
PLAN = """
name = "make it drive"
[vehicle]
family = "Penhurrow Haywain"
model_year = 1955
body = "pickup"
condition = "project"
drivetrain = "original"
paint = "worn"
awards = "none"
original_finish = true
[shop]
labour_rate = 38
[[steps]]
id = "engine"
what = "Engine out, rebuilt, back in"
cost = [3600, 4700, 7400]
hours = [70, 95, 150]
sets = { drivetrain = "rebuilt-original" }
[[steps]]
id = "brakes"
what = "Brakes, wiring, tyres"
cost = [1500, 2000, 3200]
hours = [50, 70, 110]
sets = { condition = "runner" }
"""


@pytest.fixture(scope="session")
def plan():
    """A plan of two steps for a find."""
    return PLAN


def bring_table(client, text, name="t", *, columns=None, **told):
    """Bring a table by the page, say what its columns are, and put it to use; the answer to the last click."""
    answer = client.post("/comparables", data={"pasted": text, "name": name, **told})
    assert answer.status_code == 303, answer.text
    here = answer.headers["location"]
    page = unescape(client.get(here).text)
    form = {"revision": "0", "do": "use"}
    for header, meaning in (columns or {}).items():
        place = re.search(r'name="column\.(\d+)"', page[page.index(f"<strong>{header}</strong>") :])[1]
        form[f"column.{place}"] = meaning
    return client.post(here, data=form)


@pytest.fixture(scope="session")
def bring():
    """Brings a table by the page as its owner does: ``bring(client, text, name, columns={}, currency="EUR")``."""
    return bring_table


@pytest.fixture(scope="session")
def serve():
    """A context manager that runs a service with settings of the test's own."""
    return listening


class _Sent(HTMLParser):
    """The fields of one form of a page, as a browser would send them."""

    def __init__(self, action):
        super().__init__()
        self.action, self.fields, self.on, self.text, self.choice = action, None, False, None, None

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        name, value = found.get("name"), found.get("value") or ""
        if tag == "form":
            self.on = found.get("action") == self.action and self.fields is None
            self.fields = {} if self.on else self.fields
        elif self.on and tag == "select":
            self.choice, self.fields[name] = name, ""
        elif self.on and tag == "option" and self.choice and "selected" in found:
            self.fields[self.choice] = value
        elif self.on and tag == "textarea":
            self.text, self.fields[name] = name, ""
        elif self.on and tag == "input" and (found.get("type") not in ("checkbox", "radio") or "checked" in found):
            self.fields[name] = value

    def handle_data(self, data):
        if self.text:
            self.fields[self.text] += data

    def handle_endtag(self, tag):
        self.on = self.on and tag != "form"
        self.text = None if tag == "textarea" else self.text
        self.choice = None if tag == "select" else self.choice


@pytest.fixture(scope="session")
def sent_by():
    """A function that gives the fields of the form with that action on a page, as a browser would send them."""

    def fields(page, action):
        form = _Sent(action)
        form.feed(page)
        assert form.fields is not None, f"no form goes to {action}"
        return form.fields

    return fields
