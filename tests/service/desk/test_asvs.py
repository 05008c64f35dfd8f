"""Items of OWASP ASVS 4.0.3, level 1, that no other test of the service holds; docs/security.md lists them all."""

import json
import logging
import re
import urllib.parse
from http.cookies import SimpleCookie

import pytest

from api.guard import COOKIE
from api.settings import Settings

TOKEN = "correct horse battery ☂"
TABLE = "family,model_year,condition,paint,price,outcome,date\n" + "".join(
    f"Penhurrow Haywain,{1940 + place},driver,worn,{9000 + 100 * place},sold,2025-01-{1 + place}\n"
    for place in range(20)
)
BREAKOUT = '"><script>alert(1)</script>&<b onmouseover=alert(2)>'


@pytest.fixture
def guarded(tmp_path, serve):
    """A service with a token that is not signed in to."""
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), token=TOKEN)) as client:
        yield client


def routes(document):
    """Every route's method and path, with 1 for each number in it."""
    for path, methods in document["paths"].items():
        for method in methods:
            yield method.upper(), re.sub(r"\{[^}]+\}", "1", path)


def test_a_token_of_every_character_is_taken_whole(guarded):
    """2.1.1 to 2.1.4: length and characters are free from twelve on, and nothing is cut off."""
    with pytest.raises(ValueError, match="no token of 12 characters"):
        Settings(host="0.0.0.0", token="eleven sign")
    assert guarded.post("/sign-in", data={"token": TOKEN[:-1]}).status_code == 401
    assert guarded.post("/sign-in", data={"token": TOKEN}).status_code == 303


def test_every_route_but_the_open_ones_asks_for_the_token(guarded):
    """4.1.1, 4.1.5: the door is in front of all routes, those included that a later change adds."""
    guarded.post("/sign-in", data={"token": TOKEN})
    document = guarded.get("/api/v1/openapi.json").json()
    guarded.cookies.clear()
    asked = [route for route in routes(document) if route[1] != "/healthz"]
    assert len(asked) > 20
    for method, path in [*asked, ("GET", "/"), ("GET", "/vehicles/new"), ("POST", "/demo"), ("GET", "/no/such/page")]:
        assert guarded.request(method, path).status_code == 401, (method, path)


def test_the_pass_is_nowhere_but_in_its_cookie(guarded):
    """3.1.1, 3.2.2, 3.2.3, 8.3.1: not in an address, not in a page; at least 64 bits of it."""
    answer = guarded.post("/sign-in", data={"token": TOKEN})
    cookie = SimpleCookie(answer.headers["set-cookie"])[COOKIE]
    assert len(set(cookie.value)) > 8
    assert len(cookie.value) >= 22  # of 64 characters each; a hexadecimal one is longer
    assert answer.headers["location"] == "/"
    page = guarded.get("/", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert cookie.value not in page.text
    assert TOKEN not in page.text
    guarded.cookies.clear()
    assert guarded.get("/api/v1/comparables", params={"token": TOKEN, COOKIE: cookie.value}).status_code == 401


@pytest.mark.parametrize("secure", [True, False])
def test_the_cookie_is_for_https_alone_where_the_service_is_reached_so(tmp_path, serve, secure):
    """3.4.1, 3.4.2, 3.4.3."""
    settings = Settings(ledger=str(tmp_path / "l.sqlite"), token=TOKEN, secure_cookies=secure)
    with serve(settings) as client:
        cookie = SimpleCookie(client.post("/sign-in", data={"token": TOKEN}).headers["set-cookie"])[COOKIE]
    assert bool(cookie["secure"]) == secure
    assert cookie["httponly"]
    assert cookie["samesite"].casefold() == "strict"
    assert cookie["domain"] == ""


def test_signing_in_never_leads_to_another_site(guarded):
    """5.1.5."""
    away = "https://evil.example/"
    for field in ("next", "url", "return", "then"):
        answer = guarded.post("/sign-in", params={field: away}, data={"token": TOKEN, field: away})
        assert answer.headers["location"] == "/"


def test_fields_that_nobody_asked_for_are_refused(fresh):
    """5.1.2, 13.2.2: a request is held to its schema, and names nothing that the client may not set."""
    offer = {"estimate": 1, "amount": 5, "id": 7, "written_at": "1999-01-01"}
    answer = fresh.post("/api/v1/offers", json=offer)
    assert answer.status_code == 422
    assert {fault["where"] for fault in answer.json()["errors"]} == {"body.id", "body.written_at"}


def test_words_from_outside_are_words_in_a_page_and_in_json(fresh):
    """5.3.1, 5.3.3, 5.3.6: a table's and a file's name in pages and answers."""
    data = {"name": BREAKOUT, "currency": "USD"}
    brought = fresh.post("/api/v1/comparables", files={"file": (BREAKOUT, TABLE.encode())}, data=data)
    assert brought.status_code == 201
    assert json.loads(brought.content)["table"]["name"] == BREAKOUT
    for page in ("/", "/comparables/1", "/vehicles/new", "/help?code=" + urllib.parse.quote(BREAKOUT)):
        text = fresh.get(page, headers={"accept": "text/html"}).text
        assert "<script>alert" not in text
        assert "<b onmouseover" not in text
    assert "&lt;script&gt;alert" in fresh.get("/comparables/1", headers={"accept": "text/html"}).text


@pytest.mark.parametrize("subject", ["x' OR '1'='1", "x'; DROP TABLE offers; --", "x%' UNION SELECT 1 --"])
def test_a_question_is_never_part_of_a_statement_to_the_database(demo, subject):
    """5.3.4, 5.3.5."""
    before = demo.get("/api/v1/comparables").json()
    assert demo.get("/api/v1/offers", params={"subject": subject}).json() == []
    assert demo.get("/api/v1/sales", params={"subject": subject}).json() == []
    assert demo.get("/api/v1/comparables").json() == before


@pytest.mark.parametrize(
    "name", ["../../../etc/passwd", "..\\..\\x.csv", "/etc/passwd", "http://127.0.0.1:1/x", "a\0b|c;d"]
)
def test_a_file_s_name_is_a_word_and_no_place(tmp_path, serve, name):
    """12.3.1 to 12.3.5, 12.4.1, 12.6.1: nothing is opened, written or fetched by it; it goes to the ledger alone."""
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"))) as client:
        answer = client.post("/api/v1/comparables", files={"file": (name, TABLE.encode())}, data={"currency": "USD"})
        assert answer.status_code == 201
        assert answer.json()["rows"] == 20
    assert {file.name.partition("-")[0] for file in tmp_path.iterdir()} == {"l.sqlite"}


def test_only_the_desk_s_own_files_are_served(fresh):
    """4.3.2, 12.5.1."""
    assert fresh.get("/static/desk.css").status_code == 200
    for path in (
        "/static/",
        "/static/vendor/",
        "/static/..%2fapp.py",
        "/static/%2e%2e/settings.py",
        "/static//etc/passwd",
    ):
        assert fresh.get(path).status_code == 404, path


def test_an_uploaded_file_is_never_handed_out_as_a_page(fresh):
    """12.5.2: what looks like a page is not a table, and no address hands out what was brought as one."""
    page = b"<!DOCTYPE html><script>alert(1)</script>"
    assert fresh.post("/api/v1/comparables", files={"file": ("t.html", page)}).status_code == 422
    hostile = TABLE.replace("worn", "<script>alert(1)</script>").encode()
    assert fresh.post("/api/v1/comparables", files={"file": ("t.html", hostile)}).status_code == 201
    shown = 0
    for method, path in routes(fresh.get("/api/v1/openapi.json").json()):
        if method == "GET":
            answer = fresh.get(path, headers={"accept": "text/html"})
            if b"<script>alert(1)" in answer.content:
                shown += 1
                assert answer.headers["content-type"] == "application/json", path
                assert answer.headers["x-content-type-options"] == "nosniff"
    assert shown


def test_an_error_that_nobody_foresaw_tells_nothing_of_the_inside(tmp_path, serve, monkeypatch):
    """7.4.1, 14.3.1, 14.3.2."""
    from api.desk import Desk

    def broken(self):
        raise RuntimeError("secret of the inside")

    logging.getLogger("valuation.api").setLevel(logging.CRITICAL)
    for name in ("tables", "newest_tables"):  # the route and the page each ask one of them
        monkeypatch.setattr(Desk, name, broken)
    try:
        with serve(Settings(ledger=str(tmp_path / "l.sqlite"))) as client:
            for path, accept in (("/api/v1/comparables", "application/json"), ("/", "text/html")):
                answer = client.get(path, headers={"accept": accept, "connection": "close"})
                assert answer.status_code == 500
                assert "secret" not in answer.text
                assert "Traceback" not in answer.text
                assert ".py" not in answer.text
    finally:
        logging.getLogger("valuation.api").setLevel(logging.NOTSET)


def test_the_token_is_not_in_what_the_service_shows_or_logs_of_itself(guarded, caplog):
    """7.1.1: neither the settings as text nor the log of a refused and a granted sign-in hold it."""
    caplog.set_level(logging.DEBUG)
    guarded.post("/sign-in", data={"token": TOKEN + "x"})
    guarded.post("/sign-in", data={"token": TOKEN})
    own = [record.getMessage() for record in caplog.records if not record.name.startswith(("httpx", "httpcore"))]
    assert TOKEN not in "\n".join(own)
    assert TOKEN not in repr(Settings(token=TOKEN))


def test_no_other_site_s_pages_may_read_answers(fresh):
    """14.5.3, 13.2.3: no other origin is let in."""
    answer = fresh.get("/", headers={"origin": "null", "accept": "text/html"})
    assert not [name for name in answer.headers if name.startswith("access-control-")]
    asked = fresh.options("/api/v1/offers", headers={"origin": "null", "access-control-request-method": "POST"})
    assert asked.status_code == 405
    assert not [name for name in asked.headers if name.startswith("access-control-")]


def test_answers_say_their_kind_and_are_not_kept(demo):
    """8.2.1, 14.4.1, 14.4.4, 14.4.6, 14.4.7: JSON is UTF-8 by its own standard and names no other."""
    for path, kind in (("/", "text/html; charset=utf-8"), ("/api/v1/comparables", "application/json")):
        headers = demo.get(path, headers={"accept": "text/html"}).headers
        assert headers["content-type"] == kind
        assert headers["cache-control"] == "no-store"
        assert headers["referrer-policy"] == "same-origin"
        assert "frame-ancestors 'none'" in headers["content-security-policy"]


def test_only_the_methods_in_use_are_answered(demo):
    """14.5.1, 13.2.1."""
    for method in ("TRACE", "PUT", "PATCH", "DELETE", "PROPFIND"):
        assert demo.request(method, "/api/v1/comparables").status_code == 405, method


def test_pages_load_nothing_from_elsewhere(demo):
    """14.2.3, 10.3.2: all scripts and styles are the desk's own."""
    for page in ("/", "/comparables/1", "/vehicles/new", "/vehicles/1/plans", "/shop", "/help", "/api/docs"):
        text = demo.get(page, headers={"accept": "text/html"}).text
        loaded = re.findall(r'<(?:script|img|link|iframe)[^>]* (?:src|href)="([^"]+)"', text)
        assert loaded
        assert not [address for address in loaded if not address.startswith(("/", "data:"))], page


def test_entities_of_a_workbook_are_not_resolved(fresh):
    """5.5.2, 13.3.1: a file of this computer is not read into a table."""
    from benchmarks.faults.uploads import SHEET, xlsx

    outside = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>' + SHEET.removeprefix('<?xml version="1.0"?>')
    cell = '<c t="inlineStr"><is><t>{}</t></is></c>'
    rows = f"<row>{cell.format('price')}{cell.format('outcome')}</row><row>{2 * cell.format('&a;')}</row>"
    answer = fresh.post("/api/v1/comparables", files={"file": ("t.xlsx", xlsx(outside, [rows], "", 0))})
    assert (answer.status_code, answer.json()["code"]) == (422, "comparables.unreadable")
    assert fresh.get("/api/v1/comparables").json() == []
