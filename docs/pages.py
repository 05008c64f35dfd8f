"""Every page of the desk in every state that its owner may meet, and a desk that is filled so that they are there.

The pictures that are looked through before a release and the browser's tests both go by these lists. Where an address
depends on what was filled in, it says so in braces.
"""

from __future__ import annotations

import io
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import httpx

if TYPE_CHECKING:
    from playwright.sync_api import Page

Form = tuple[str, dict[str, str]]
"""Where a form goes, and what is typed into it."""
ROOT = Path(__file__).parents[1]
PAGES = {
    "shop": "/",
    "barn": "/barn",
    "barn-told": "/barn?family=Penhurrow+Haywain&model_year=1955&condition=project"
    "&drivetrain=original&paint=worn&asked=9500",
    "bring": "/comparables/bring",
    "bring-columns": "/comparables/bring/{columns}",
    "bring-rows": "/comparables/bring/{rows}",
    "bring-ready": "/comparables/bring/{ready}",
    "table": "/comparables/{table}",
    "table-rows": "/comparables/{table}?show=all",
    "table-changes": "/comparables/{table}/changes",
    "sale-new": "/comparables/{table}/sales/new",
    "sale": "/comparables/{table}/sales/3",
    "vehicle-new": "/vehicles/new",
    "story-found": "/vehicles/{found}",
    "story-work": "/vehicles/{bought}",
    "story-sale": "/vehicles/{priced}",
    "story-sold": "/vehicles/{sold}",
    "worth": "/vehicles/{priced}/worth",
    "worth-first": "/vehicles/{new}/worth",
    "photos": "/vehicles/{priced}/photos",
    "plans": "/vehicles/{found}/plans",
    "plans-first": "/vehicles/{new}/plans",
    "pay": "/vehicles/{found}/pay",
    "pay-first": "/vehicles/{bought}/pay",
    "work": "/vehicles/{bought}/work",
    "work-first": "/vehicles/{found}/work",
    "price": "/vehicles/{priced}/price",
    "price-first": "/vehicles/{new}/price",
    "price-sold": "/vehicles/{sold}/price",
    "paper": "/vehicles/{priced}/paper",
    "paper-first": "/vehicles/{new}/paper",
    "sheet": "/sheets/{sheet}",
    "track-record": "/track-record",
    "settings": "/shop",
    "help": "/help",
    "docs": "/api/docs",
    "sign-in": "/sign-in",
}
"""Pages that answer an address, each in the states that it has; a state of a page follows the page's name."""
NOT_THERE = "/vehicles/999"
"""What leads nowhere; the page that says so."""
EMPTY = {"empty": "/", "empty-barn": "/barn", "empty-track-record": "/track-record", "empty-settings": "/shop"}
"""Pages of a desk to which nothing was brought yet."""
OWN = {"own-shop": "/", "own-table": "/comparables/2", "own-changes": "/comparables/2/changes"}
"""Pages of a desk to which one table was brought, whose one fault was mended since."""
SENT = {
    "refused-price": ("/vehicles/{priced}/price", "/vehicles/{priced}/price", {"fees": "x12"}),
    "refused-vehicle": ("/vehicles/new", "/vehicles", {"name": "Linnet", "a.model_year": "minus two"}),
    "unlikely": ("/vehicles/{priced}/price", "/vehicles/{priced}/sale", {"price": "14000000"}),
}
"""What the desk says to a form: the page on which it stands, where it goes, and what is typed into it."""
WORKING = ("/", "/demo", {"figures": "1"})
"""What takes the desk a while, on one that is empty."""
CLASH = ("/comparables/1", "/comparables/1/mend", {"cell.7.5": "runner"})
"""A mend of what was mended otherwise meanwhile, on a desk with a table of its own."""
FINISHED = "Haywain pickup"
VEHICLES = {
    "found": "Barn find: Haywain", "bought": "Barn find: Linnet", "new": "Tessera coupe of 1949", "priced": FINISHED,
    "sold": "Haywain panel of 1950",
}  # fmt: skip
"""Vehicles of the demo, and one of one's own beside them."""
TABLE = "date,price,outcome,family,model_year,condition,paint\n" + "".join(
    f"202{3 + i % 3}-0{1 + i % 9}-1{i % 8},{round(9_000 * 1.04**i * (1.5 if i % 3 == 2 else 1) / 50) * 50},"
    f"{'asking' if i % 9 == 8 else 'sold'},Tarrowby Linnet,{1948 + i % 17},"
    f"{['project', 'runner', 'driver'][i % 3] if i != 5 else 'drvier'},{['worn', 'presentable', 'fresh'][i % 3]}\n"
    for i in range(26)
)
"""An invented shop's table with one misspelt grade in row 7."""
NOTEBOOK = ROOT / "tests" / "tables" / "files" / "yard-notebook.xlsx"
"""A table as an owner keeps it, with headers and words of his own."""


@contextmanager
def desk(folder: Path) -> Iterator[str]:
    """Address of a desk in a process of its own, with an empty ledger."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = {**os.environ, "VALUATION_LEDGER": str(folder / "ledger.sqlite"), "VALUATION_PORT": str(port)}
    log, address, until = folder / "log.txt", f"http://127.0.0.1:{port}", time.monotonic() + 90
    with log.open("w") as said:
        running = subprocess.Popen([sys.executable, "-m", "api"], cwd=ROOT, env=settings, stdout=said, stderr=said)
    try:
        while not _answers(address):
            if running.poll() is not None or time.monotonic() > until:
                raise SystemExit(f"The desk did not start:\n{log.read_text()}")
            time.sleep(0.2)
        yield address
    finally:
        running.terminate()
        running.wait(20)


def fill(address: str) -> None:
    """Bring the demo, and a vehicle that is valued, priced, photographed and offered for."""
    vehicle = {"a.family": "Penhurrow Haywain", "a.model_year": "1952", "a.condition": "driver", "a.paint": "fresh"}
    with httpx.Client(base_url=address, timeout=300) as client:
        post(client, "/demo", {})
        priced = post(client, "/vehicles", {"name": FINISHED, **vehicle}).url.path.split("/")[2]
        post(client, "/demo", {"figures": "1"})
        post(client, f"/vehicles/{priced}/price", {"offers_per_month": "2", "weeks_to_sell": "6", "put_in": "30500"})
        post(client, f"/vehicles/{priced}/offers", {"amount": "38000", "who": "Ruth Amsel"})
        post(client, f"/vehicles/{priced}/photos", {"caption": "Finished"}, {"photos": ("a.png", _photograph())})
        estimate = client.get("/api/v1/estimates", params={"subject": FINISHED}).json()[-1]["id"]
        post(client, "/sheets", {"kind": "buyer", "estimate": str(estimate)})


def fill_words(address: str) -> dict[str, str]:
    """What stands for each word in braces of the lists above on a desk so filled; it brings the tables that wait.

    Parameters
    ----------
    address : str
        Of a desk, which may have been started anew since.

    Returns
    -------
    dict of str to str
    """
    with httpx.Client(base_url=address, timeout=300) as client:
        here = {one["name"]: str(one["number"]) for one in client.get("/api/v1/vehicles").json()}
        words = {word: here[name] for word, name in VEHICLES.items()}
        # A desk that was started anew fits the table first, and works out what its pages show beside it.
        for page in ("/vehicles/{priced}/price", "/vehicles/{priced}/worth", "/vehicles/{found}/pay", "/barn"):
            _settled(client, client.get(page.format_map(words), follow_redirects=True))
        return {
            **words,
            "table": "1",
            "sheet": str(client.get("/api/v1/sheets").json()[-1]["id"]),
            "columns": _brought(client, {}, {"file": (NOTEBOOK.name, NOTEBOOK.read_bytes())}),
            "rows": _brought(client, {"name": "Sales with a fault", "pasted": TABLE}),
            "ready": _brought(client, {"name": "Sales", "pasted": TABLE.replace("drvier", "driver")}),
        }


def arrive(window: Page, path: str, form: Form | None = None) -> int:
    """Open a page, or send a form that stands on it and stay with what the desk says to that.

    Parameters
    ----------
    window : Page
    path : str
    form : (str, dict of str to str), optional
        Where the form goes, and what is typed into it.

    Returns
    -------
    int
        Status of the answer.
    """
    answer = window.goto(path)
    while (work := window.locator("[data-reload]")).count():
        work.first.wait_for(state="detached", timeout=90_000)
        answer = window.goto(path)
    if form is None:
        return answer.status if answer else 0
    with window.expect_navigation() as sent:
        window.evaluate(
            """([action, typed]) => {
                const asks = (one) => Object.keys(typed).every((name) => one.elements[name]);
                const form = [...document.forms].find((one) => one.getAttribute("action") === action && asks(one));
                for (const [name, text] of Object.entries(typed)) form.elements[name].value = text;
                HTMLFormElement.prototype.submit.call(form);
            }""",
            form,
        )
    window.evaluate("for (let timer = 0; timer < 99; timer += 1) clearTimeout(timer)")  # a page of work stays as it is
    return sent.value.status if sent.value else 0


def at_rest(window: Page) -> None:
    """Wait until all that a page asked for has come, and nothing of it is still being worked out.

    Parameters
    ----------
    window : Page
    """
    window.wait_for_function(
        """() => document.readyState === "complete" && document.fonts.status === "loaded"
            && !document.querySelector(".htmx-request, [data-reload]")
            && [...document.images].every((one) => one.complete)"""
    )


def fill_own(address: str) -> None:
    """Bring the invented shop's table as it is, and mend its fault."""
    with httpx.Client(base_url=address, timeout=300) as client:
        key = _brought(client, {"name": "Sales of the shop", "pasted": TABLE})
        post(client, f"/comparables/bring/{key}", {"revision": "0", "do": "use"})
        post(client, "/comparables/1/mend", {"do": "mend.sure"})


def post(
    client: httpx.Client, path: str, form: dict[str, str], files: dict[str, tuple[str, bytes]] | None = None
) -> httpx.Response:
    """Send a form and wait until the page that it leads to has its answer.

    Parameters
    ----------
    client : httpx.Client
    path : str
    form : dict of str to str
    files : dict of str to (str, bytes), optional
        Name and content of each file.
    """
    return _settled(client, client.post(path, data=form, files=files, follow_redirects=True))


def _settled(client: httpx.Client, answer: httpx.Response) -> httpx.Response:
    until = time.monotonic() + 200
    while "data-reload" in answer.text and time.monotonic() < until:
        time.sleep(0.3)
        answer = client.get(str(answer.url), follow_redirects=True)
    if answer.status_code != 200 or "data-reload" in answer.text:
        raise SystemExit(f"{answer.url} gave no answer: {re.sub(r'<[^>]+>', ' ', answer.text)}")
    return answer


def _answers(address: str) -> bool:
    try:
        return httpx.get(f"{address}/healthz", timeout=30).status_code == 200
    except httpx.TransportError:
        return False


def _brought(client: httpx.Client, form: dict[str, str], files: dict[str, tuple[str, bytes]] | None = None) -> str:
    """Key of a table that waits for its owner's answers."""
    return post(client, "/comparables", form, files).url.path.rpartition("/")[2]


def _photograph() -> bytes:
    """Something to see in the place of a photograph: ground, sky and a shape, of no vehicle that there is."""
    from PIL import Image, ImageDraw

    image, file = Image.new("RGB", (1200, 800), "#9fb4c0"), io.BytesIO()
    pen = ImageDraw.Draw(image)
    pen.rectangle((0, 520, 1200, 800), fill="#7d6f58")
    pen.polygon([(180, 560), (240, 400), (520, 380), (600, 260), (860, 260), (940, 400), (1040, 420), (1040, 560)],
                fill="#44604f")  # fmt: skip
    for left in (290, 800):
        pen.ellipse((left, 490, left + 150, 640), fill="#262320", outline="#c9c0ae", width=14)
    image.save(file, "PNG")
    return file.getvalue()
