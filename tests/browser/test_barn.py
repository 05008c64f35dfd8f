"""In the barn on a telephone: the answer in sight, the desk out of reach, and finds that come home once.

The desk is one that ``valuation serve --phone`` opens, under a host name that is not this computer's own.
"""

import base64
import hashlib
import os
import random
import re
import socket
import ssl
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from PIL import Image
from playwright.sync_api import expect

from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.test_pages import findings
from valuation.text.rounding import rounded

pytestmark = [pytest.mark.browser, pytest.mark.slow]
PHONE = {"width": 390, "height": 844}
ROOT = Path(__file__).parents[2]
TOKEN = "the token of a test"
NAME = "desk.example"
"""A host name that is not this computer's own, as a telephone sees the desk."""
FIND = {
    "family": "Penhurrow Haywain",
    "model_year": "1955",
    "condition": "project",
    "drivetrain": "missing",
    "paint": "worn",
}


@dataclass
class Served:
    """What ``valuation serve --phone`` said, and a client of that desk."""

    client: httpx.Client
    port: int
    said: str
    key: str

    def get(self, address, **more):
        return self.client.get(address, **more)


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A desk for telephones with the demo, whose tables are made; it answers under that name too."""
    folder = tmp_path_factory.mktemp("barn")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    variables = {"VALUATION_ALLOWED_HOSTS": NAME, "VALUATION_TOKEN": TOKEN, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "valuation", "serve", "--phone", "--no-browser", "--port", str(port)]
    with (folder / "out.txt").open("w") as out:
        running = subprocess.Popen(command, cwd=folder, env={**os.environ, **variables}, stdout=out, stderr=out)
    try:
        until = time.monotonic() + 90
        while "SHA-256" not in (said := (folder / "out.txt").read_text(encoding="utf-8")):
            assert running.poll() is None, said
            assert time.monotonic() < until, said
            time.sleep(0.2)
        own = x509.load_pem_x509_certificate((folder / "valuation.sqlite-tls" / "desk.crt").read_bytes())
        spki = own.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        trust = ssl.create_default_context(cafile=str(folder / "valuation.sqlite-tls" / "authority.crt"))
        address, known = f"https://127.0.0.1:{port}", {"authorization": f"Bearer {TOKEN}"}
        with httpx.Client(base_url=address, timeout=300, verify=trust, headers=known) as client:
            client.post("/demo")
            assert client.get("/api/v1/barn", params={"wait": 300}).status_code == 200
            yield Served(client, port, said, base64.b64encode(hashlib.sha256(spki).digest()).decode())
    finally:
        running.terminate()
        running.wait(20)


@pytest.fixture
def telephone(chromium, desk, tmp_path, request):
    """A window at a telephone's size that knows the desk under its name alone, and trusts its certificate."""
    arguments = [
        *ARGUMENTS,
        f"--host-resolver-rules=MAP {NAME} 127.0.0.1",
        f"--ignore-certificate-errors-spki-list={desk.key}",
    ]
    context = chromium.browser_type.launch_persistent_context(
        tmp_path / "profile",
        executable_path=CHROMIUM,
        args=arguments,
        viewport=PHONE,
        base_url=f"https://{NAME}:{desk.port}",
        service_workers=getattr(request, "param", "block"),
    )
    context.set_default_timeout(60_000)
    window, complaints = context.new_page(), []
    window.on("pageerror", lambda one: complaints.append(str(one)))
    yield window
    context.close()
    assert not complaints


def to_the_barn(window):
    """Sign in and come back to the page that was asked for."""
    window.goto("/barn")
    window.get_by_label("The desk's token").fill(TOKEN)
    window.get_by_role("button", name="Sign in").click()
    window.get_by_role("heading", name="In the barn").wait_for()


def tell(window, asked="", **told):
    """Tell a find by tapping."""
    whole = {**FIND, **told}
    window.get_by_label("Line").select_option(whole["family"])
    window.get_by_role("spinbutton").fill(whole["model_year"])
    for name in ("condition", "drivetrain", "paint"):
        window.locator(f"input[name={name}][value={whole[name]}]").check()
    window.get_by_label("Asked").fill(asked)


def finds_of(desk):
    """What the finds at the desk are filed under, an estimate each."""
    return [one["vehicle"]["name"] for one in desk.get("/api/v1/estimates").json()]


def test_the_answer_and_its_fields_are_in_sight_and_the_script_says_what_the_service_says(telephone, desk):
    to_the_barn(telephone)
    assert telephone.locator("#why").inner_text().startswith("Still to tell: the line, the year")
    tell(telephone, asked="9,500")
    assert telephone.locator("#why").inner_text().startswith("9,500 will do. Pay up to")
    for place in ("#why", "#worth", "#line", "#year", "#asked", "fieldset >> nth=2"):
        box = telephone.locator(place).bounding_box()
        assert box["y"] >= 0, place
        assert box["y"] + box["height"] <= PHONE["height"], place
    assert telephone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    for one in telephone.locator("form button:visible, .levels label:visible").all():
        box = one.bounding_box()
        assert min(box["width"], box["height"]) >= 40
    telephone.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    assert not findings(telephone)
    before = telephone.locator("#why").inner_text()
    telephone.get_by_label("One newer").click()
    assert telephone.get_by_role("spinbutton").input_value() == "1956"
    assert telephone.locator("#why").inner_text() != before

    luck, tables = random.Random(390), desk.get("/api/v1/barn").json()
    for _ in range(80):
        line = luck.choice(tables["grid"]["lines"])
        told = {one["name"]: luck.choice(one["choices"])["name"] for one in tables["fields"]}
        told |= {"family": line["name"] or "*", "model_year": str(luck.randint(line["years"][0], line["years"][-1]))}
        asked = luck.choice([None, luck.randint(50, 60_000)])
        here = telephone.evaluate("told => answerTo(told)", {**told, "asked": asked})
        there = desk.get("/api/v1/barn/answer", params={**told, **({"asked": asked} if asked else {})}).json()
        assert here["why"] == there["text"]
        assert (here["worth"], here["rests"]) == (there["worth"], there["rests"])
        for mine, its in (("median", "median"), ("low", "low"), ("high", "high"), ("asFound", "as_found")):
            assert here[mine] == pytest.approx(there[its], rel=1e-12)
    for amount in (0.044, 3.716, 99.5, 100.5, 999.5, 45_312, 0.125, 12_345_678, 7_235):
        for width in (None, amount / 20):
            for limit in ("", "down"):
                told = [amount, width if width is not None else 1e300, limit]
                assert telephone.evaluate("([a, w, l]) => rounded(a, w, l)", told) == rounded(
                    amount, width=told[1], limit=limit
                )


def test_a_find_kept_with_the_desk_out_of_reach_comes_home_once(telephone, desk, tmp_path):
    photograph = tmp_path / "truck.png"
    Image.new("RGB", (2400, 1800), (120, 90, 60)).save(photograph)
    before = finds_of(desk)
    to_the_barn(telephone)
    assert telephone.evaluate("!navigator.serviceWorker?.controller")  # the page in hand has to do
    telephone.context.set_offline(True)
    tell(telephone, asked="9500")
    assert telephone.locator("#why").inner_text().startswith("9,500 will do.")
    telephone.get_by_label("Where it stands, whose it is").fill("by the mill")
    telephone.get_by_label("A photograph").set_input_files(photograph)
    telephone.evaluate(
        "() => { window.fetchNow = window.fetch; window.fetch = () => new Promise(done => { window.answer = done; }); }"
    )
    telephone.get_by_role("button", name="Keep this find").click()
    telephone.get_by_text("Kept on this telephone; it goes to the desk now.").wait_for()  # before any answer
    telephone.evaluate("() => { window.fetch = window.fetchNow; window.answer(fetch('/healthz')); }")
    telephone.get_by_text("The desk is out of reach.").wait_for()
    tell(telephone, condition="derelict")
    telephone.get_by_role("button", name="Keep this find").click()
    expect(telephone.locator("#kept li")).to_have_count(2)
    assert telephone.get_by_text("Not at the desk yet.").count() == 2
    kept = telephone.evaluate("localStorage.getItem('barn finds')")

    telephone.context.set_offline(False)
    telephone.get_by_text("In the shop: open it").nth(1).wait_for()
    subjects = finds_of(desk)
    assert len(subjects) == len(set(subjects)) == len(before) + 2
    assert all(re.fullmatch(r"Penhurrow Haywain 1955, find [a-z0-9]{10}", one) for one in subjects)
    home = telephone.get_by_text("In the shop: open it").first.get_attribute("href")
    assert len(desk.get(f"/api/v1{home}/photos").json()) == 1
    # The same finds sent again, as after an answer that was lost on its way, are the same vehicles.
    telephone.evaluate("kept => localStorage.setItem('barn finds', kept)", kept)
    telephone.reload()
    telephone.get_by_text("In the shop: open it").nth(1).wait_for()
    assert finds_of(desk) == subjects


@pytest.mark.parametrize("telephone", ["allow"], indirect=True)
def test_the_code_signs_in_once_and_the_page_then_opens_without_the_desk(telephone, desk):
    code = re.search(r"/sign-in#([a-z0-9]+)", desk.said)[1]
    telephone.goto(f"/sign-in#{code}")
    telephone.wait_for_url(f"https://{NAME}:{desk.port}/")
    telephone.goto("/barn")
    telephone.get_by_text("This browser also keeps the page itself").wait_for()
    telephone.wait_for_function("caches.open('barn').then(shelf => shelf.match('/barn'))")
    before = finds_of(desk)
    telephone.context.set_offline(True)
    telephone.reload()
    tell(telephone, asked="9500")
    assert telephone.locator("#why").inner_text().startswith("9,500 will do.")
    telephone.get_by_role("button", name="Keep this find").click()
    telephone.get_by_text("The desk is out of reach.").wait_for()
    telephone.reload()
    assert telephone.get_by_text("Not at the desk yet.").count() == 1
    telephone.context.set_offline(False)
    telephone.get_by_text("In the shop: open it").wait_for()
    assert len(finds_of(desk)) == len(before) + 1
    telephone.context.clear_cookies()
    telephone.goto(f"/sign-in#{code}")
    telephone.get_by_text("neither the desk's token nor a code").wait_for()


def test_the_saved_page_answers_by_itself_and_hands_its_finds_over(telephone, desk, tmp_path):
    before = finds_of(desk)
    to_the_barn(telephone)
    with telephone.expect_download() as download:
        telephone.get_by_text("Keep this page on the telephone").click()
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)

    telephone.context.set_offline(True)
    asked = []
    telephone.on("request", lambda one: asked.append(one.url))
    telephone.goto(file.as_uri())
    tell(telephone, asked="99000")
    assert telephone.locator("#why").inner_text().startswith("Not at this price. Pay up to")
    assert "made today" in telephone.locator(".tables").inner_text()
    telephone.get_by_role("button", name="Keep this find").click()
    telephone.get_by_text("Kept in this page until you send it to the desk.").wait_for()
    telephone.reload()
    assert telephone.get_by_text("Not at the desk yet.").count() == 1
    assert not findings(telephone)
    assert all(one.startswith("file:") for one in asked)

    telephone.context.set_offline(False)
    for _ in range(2):  # handed over twice it stays one
        with telephone.context.expect_page() as opened:
            telephone.get_by_role("link", name="Send the find to the desk").click()
        there = opened.value
        there.get_by_role("heading", name="From the page on this telephone").wait_for()
        assert "#" not in there.url
        assert "Penhurrow Haywain 1955" in there.locator("#arrived").inner_text()
        there.get_by_role("button", name="Keep them in the shop").click()
        there.get_by_text("In the shop: open it").wait_for()
        assert len(finds_of(desk)) == len(before) + 1
    assert "Handed over." in telephone.locator("#kept").inner_text()


def test_what_another_page_puts_into_an_address_is_asked_about_and_never_runs(telephone, desk):
    sly = '[{"key": "sly2sly2sl", "title": "<img src=x onerror=alert(1)>", "attributes": {}, "asked": null}]'
    before = finds_of(desk)
    to_the_barn(telephone)
    telephone.evaluate("text => { location.href = '/static/barn-receive.html#' + encodeURIComponent(text) }", sly)
    telephone.get_by_role("heading", name="From the page on this telephone").wait_for()
    assert "<img" in telephone.locator("#arrived").inner_text()
    assert telephone.locator("#arrived img").count() == 0
    assert finds_of(desk) == before
    telephone.get_by_role("button", name="Leave them out").click()
    telephone.reload()
    assert telephone.locator("#arrived").is_hidden()
