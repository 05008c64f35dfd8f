"""Hostile and merely odd requests to every route: never an error of the service's own, never without the headers."""

import datetime as dt
import json
import re
import socket
import time

import pytest

from api.app import create_app
from api.desk import Desk
from api.pages import all_pages
from api.routes import all_routes
from api.settings import Settings
from valuation.build.bounds import BOUNDS

APP = create_app(Settings(ledger="never opened"))


def queries(routes):
    """Method, address and names of the query of each route."""
    for route in routes:
        names = [field.name for field in route.dependant.query_params]
        for method in sorted(route.methods):
            yield method, route.path, names


ROUTES = [*queries(all_routes()), *queries(all_pages())]
JSON_BODIES = [path for method, path, _ in ROUTES if method == "POST" and path.startswith("/api/")]
FORMS = [path for method, path, _ in ROUTES if method == "POST" and not path.startswith("/api/")]
PARTS = [
    "²",
    "٣",
    "9" * 5000,
    "-1",
    "0",
    "1e9",
    "99999999999999999999",
    "%00",
    "%ff%fe",
    "%F0%9D%9F%99",
    "..%2f..",
    "NaN",
]
QUERIES = ["²", "9" * 5000, "-1", "1e999", "nan", "%00", "%ff", "[", "0001-01-01"]
FIELDS = [
    "estimate", "table", "number", "amount", "price", "margin", "sure", "as_of", "deadline", "offered_on", "sold_on",
    "coverage", "name", "subject", "kind", "answer", "counter", "who", "remark", "token", "a.model_year", "a.family",
    "cell.².²", "leave.²", "right." + "9" * 5000, "shop.crew", "sale.offers_per_month", "step.0.cost", "event_date",
    "put_in", "weeks_to_sell", "text", "steps", "file", "pasted",
]  # fmt: skip
DIGITS = "1" + "0" * 400
RAW_BODIES = {
    "deep lists": b"[" * 2000 + b"]" * 2000,
    "deeper lists": b"[" * 20_000,
    "deep objects": b'{"plan":' * 3000 + b"1" + b"}" * 3000,
    "number of 5,000 digits": b'{"table": ' + b"9" * 5000 + b"}",
    "number of 400 digits": b'{"table": ' + DIGITS.encode() + b"}",
    "half a character": rb'{"plan": "\ud800", "subject": "\udfff", "\ud800": 1}',
    "no UTF-8": b'{"plan": "\xff\xfe"}',
    "not a number": b'{"plan": NaN, "table": Infinity}',
    "nothing": b"",
    "null": b"null",
    "text": b'"text"',
    "zero byte": b'{"subject": "\\u0000", "plan": "\\u0000"}',
    "very long text": b'{"plan": "' + b"a" * 300_000 + b'"}',
}
ODD_NUMBERS = ["-1", "1e999", "1e308", "1e-300", DIGITS, "NaN", '"²"', "[1, 2, 1e9]", "[]", "{}", "null", "true"]
ODD_DAYS = ["0001-01-01", "9999-12-31", "2026-02-30", "²", "20260101T00", 10**18, -1]
ODD_TEXTS = ["²", "9" * 5000, "-1", "1e999", "0001-01-01", "9999-12-31", "\x00", "a" * 20_000, "["]
ODD_VALUES = [10**400, -(10**400), 1e308, 1e-308, "²", "9" * 5000, "\x00", True, None, "", []]
FAST_SECONDS = 5
"""The aim is a second; a test leaves room for a busy computer."""


@pytest.fixture(scope="module")
def service(own_demo):
    return own_demo


def sound(answer):
    assert answer.status_code < 500, answer.text[:500]
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    if answer.headers.get("content-type") == "application/problem+json":
        assert answer.json()["detail"]
    return answer


def filled(path, part="1"):
    return re.sub(r"\{[^}]+\}", part, path)


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part[:12])
def test_odd_numbers_in_every_address(service, part):
    asked = [sound(service.request(method, filled(path, part))) for method, path, _ in ROUTES if "{" in path]
    assert len(asked) > 15


@pytest.mark.parametrize("value", QUERIES, ids=lambda value: value[:12])
def test_odd_values_in_every_query(service, value):
    asked = [
        sound(service.request(method, f"{filled(path)}?{name}={value}"))
        for method, path, names in ROUTES
        for name in names
    ]
    assert len(asked) > 15


@pytest.mark.parametrize("path", JSON_BODIES)
@pytest.mark.parametrize("kind", RAW_BODIES)
def test_odd_bodies_to_every_json_route(service, path, kind):
    content = RAW_BODIES[kind]
    answer = service.post(filled(path), content=content, headers={"content-type": "application/json"})
    sound(answer)


@pytest.mark.parametrize("value", ODD_TEXTS, ids=lambda value: repr(value[:12]))
@pytest.mark.parametrize("path", FORMS)
def test_odd_fields_of_every_form(service, path, value):
    form = dict.fromkeys(FIELDS, value)
    for filling in (form, {**form, "subject": "Barn find: Haywain", "name": "x", "a.family": "Penhurrow Haywain"}):
        sound(service.post(filled(path), data=filling, headers={"accept": "text/html"}))
    if path.endswith(("/leave", "/archive")):
        service.post("/demo")  # what was put away is brought back


def plan_with(table, key, value):
    """JSON text of a plan with one value as it is spelled."""
    plan = {
        "vehicle": {"family": "Penhurrow Haywain", "model_year": 1955, "condition": "project", "paint": "worn"},
        "steps": [{"id": "a", "hours": 10, "cost": 100, "sets": {"condition": "runner"}}],
    }
    needed = {
        "event": {"date": "2027-05-01"}, "wish": {"attribute": "paint", "level": "fresh"},
        "goal": {} if key in ("margin_percent", "profit") else {"profit": 1},
    }  # fmt: skip
    part = plan["steps"][0] if table == "steps" else plan.setdefault(table, needed.get(table, {}))
    part[key] = "HERE"
    return json.dumps(plan).replace('"HERE"', value)


NUMBERS = [(table, key) for table, keys in BOUNDS.items() for key in keys]


@pytest.mark.parametrize(("table", "key"), NUMBERS, ids=[f"{table}.{key}" for table, key in NUMBERS])
def test_every_number_of_a_plan_has_bounds_that_the_message_says(service, table, key):
    for value in ODD_NUMBERS:
        text = f'{{"plan": {plan_with(table, key, value)}, "price": 3000}}'
        sound(service.post("/api/v1/bands", content=text, headers={"content-type": "application/json"}))
    bound = BOUNDS[table][key]
    text = f'{{"plan": {plan_with(table, key, str(bound.high * 1.01 + 1 if not bound.whole else bound.high + 1))}}}'
    refused = service.post("/api/v1/bands", content=text, headers={"content-type": "application/json"})
    assert refused.status_code == 422
    assert bound.words in refused.json()["detail"]


def bands(service, plan, **more):
    begun = time.monotonic()
    answer = sound(service.post("/api/v1/bands", json={"plan": plan, "price": 3000, **more}))
    assert time.monotonic() - begun < FAST_SECONDS
    return answer


def test_what_would_keep_the_service_busy_is_answered_within_a_second(service, plan):
    bands(service, plan)  # the worker is warm
    step = '[[steps]]\nid = "s{}"\nhours = 1\n'
    assert "has 902 steps" in bands(service, plan + "".join(step.format(i) for i in range(900))).json()["detail"]
    ages = bands(service, plan + "\n[sale]\ndeadline = 9999-12-31\n")
    assert "is in the year 9999; years from 1700 to 2200 are accepted" in ages.json()["detail"]
    far = bands(service, plan + "\n[sale]\ndeadline = 2190-12-31\n")
    assert "at most 20 years" in far.json()["detail"]
    assert bands(service, plan + "\n[sale]\n" + "a." * 20_000 + "a = 1\n").status_code == 422
    assert bands(service, "a = " + "[" * 20_000).status_code == 422
    assert bands(service, plan.replace("labour_rate = 38", "labour_rate = 38\nhours_per_week = 0.1")).status_code == 422


def test_a_legal_plan_at_its_widest_is_answered(service, plan):
    soon = dt.date.today() + dt.timedelta(days=20 * 365)
    wide = plan + f"\n[sale]\ndeadline = {soon}\noffers_per_month = 1000\nweeks_to_sell = [0, 0, 520]\n"
    assert sound(service.post("/api/v1/bands", json={"plan": wide, "price": 3000})).status_code == 200


@pytest.mark.parametrize("day", ODD_DAYS, ids=str)
def test_odd_days_everywhere(service, day, vehicle, plan):
    for path, body in (
        ("estimates", {"vehicle": vehicle, "as_of": day}),
        ("paths", {"plans": [plan], "as_of": day}),
        ("steps", {"plan": plan, "as_of": day, "finish_by": day}),
        ("bands", {"plan": plan, "as_of": day}),
        ("offers", {"estimate": 1, "amount": 1, "offered_on": day}),
        ("sales", {"estimate": 1, "price": 1, "sold_on": day}),
    ):
        assert sound(service.post(f"/api/v1/{path}", json=body)).status_code == 422


@pytest.mark.parametrize("value", ODD_VALUES, ids=lambda value: json.dumps(value)[:12])
def test_odd_attributes_of_a_vehicle(service, vehicle, value):
    for name in (*vehicle["attributes"], "unheard of"):
        odd = {"name": "odd", "attributes": {**vehicle["attributes"], name: value}}
        sound(service.post("/api/v1/estimates", json={"vehicle": odd, "record": False}))


def raw(service, head):
    """The answer to a request as it is spelled, since clients refuse to send some of these."""
    with socket.create_connection((service.base_url.host, service.base_url.port), 30) as line:
        line.sendall(head.encode("latin-1") + b"Connection: close\r\n\r\n")
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    top, _, _ = answer.partition(b"\r\n\r\n")
    return int(top.split(b" ")[1]), top.decode("latin-1").casefold()


LOCAL = "Host: localhost\r\n"
HEADS = {
    "host bracket": "GET /healthz HTTP/1.1\r\nHost: [\r\n",
    "host empty": "GET /healthz HTTP/1.1\r\nHost: \r\n",
    "host brackets": "GET /healthz HTTP/1.1\r\nHost: [::1\r\n",
    "host port": "GET /healthz HTTP/1.1\r\nHost: localhost:\xb2\r\n",
    "host long": f"GET /healthz HTTP/1.1\r\nHost: {'a' * 5000}\r\n",
    "host latin": "GET /healthz HTTP/1.1\r\nHost: \xe9\xff\r\n",
    "host page": "GET / HTTP/1.1\r\nHost: [\r\nAccept: text/html\r\n",
    "origin bracket": f"POST /demo HTTP/1.1\r\n{LOCAL}Origin: http://[\r\nContent-Length: 0\r\n",
    "origin null": f"POST /demo HTTP/1.1\r\n{LOCAL}Origin: null\r\nContent-Length: 0\r\n",
    "origin latin": f"POST /demo HTTP/1.1\r\n{LOCAL}Origin: http://\xe9\r\nContent-Length: 0\r\n",
    "origin page": f"POST /demo HTTP/1.1\r\n{LOCAL}Origin: http://[\r\nAccept: text/html\r\nContent-Length: 0\r\n",
    "cookie": f"GET /healthz HTTP/1.1\r\n{LOCAL}Cookie: valuation_session=\xe9;;=;[\r\n",
    "bearer": f"GET /healthz HTTP/1.1\r\n{LOCAL}Authorization: Bearer \xe9\xff\r\n",
    "accept": f"GET /nothing HTTP/1.1\r\n{LOCAL}Accept: text/html\xff\r\n",
    "no boundary": f"POST /vehicle HTTP/1.1\r\n{LOCAL}Content-Type: multipart/form-data\r\nContent-Length: 0\r\n",
    "charset": f"POST /vehicle HTTP/1.1\r\n{LOCAL}Content-Type: multipart/form-data; boundary=x; charset=none\r\n"
    "Content-Length: 0\r\n",
}


@pytest.mark.parametrize("kind", HEADS)
def test_odd_headers(service, kind):
    status, head = raw(service, HEADS[kind])
    assert status < 500
    assert "content-security-policy: default-src 'none'" in head


@pytest.mark.parametrize("length", ["²", "9" * 5000, "-1", "1e9", "99999999999999999999"], ids=lambda text: text[:12])
def test_odd_lengths_end_in_a_refusal(service, length):
    head = f"POST /demo HTTP/1.1\r\nHost: localhost\r\nContent-Length: {length}\r\n"
    status, _ = raw(service, head)  # some of these the server below answers itself
    assert 400 <= status < 500


def test_an_error_that_nobody_foresaw_has_the_headers_too(fresh, monkeypatch):
    def broken(self):
        raise KeyError("secret")

    for name in ("tables", "newest_tables"):  # the route and the page each ask one of them
        monkeypatch.setattr(Desk, name, broken)
    told = fresh.get("/api/v1/comparables")
    page = fresh.get("/", headers={"accept": "text/html"})
    for answer in (told, page):
        assert answer.status_code == 500
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["cache-control"] == "no-store"
        assert "secret" not in answer.text
        assert "Nothing was written" not in answer.text
    assert told.json()["code"] == "service.unexpected"
    assert "<h1>That did not work</h1>" in page.text


def test_the_schema_of_the_service_says_the_bounds():
    document = APP.openapi()
    plan = document["components"]["schemas"]["BandsAsked"]["properties"]["plan"]["anyOf"][1]
    for table, keys in BOUNDS.items():
        numbers = plan["properties"][table]
        for key, bound in keys.items():
            said = (numbers["items"] if table == "steps" else numbers)["properties"][key]
            said = said["anyOf"][0] if "anyOf" in said else said
            assert said["exclusiveMinimum" if bound.above else "minimum"] == bound.low
            assert said["exclusiveMaximum" if bound.below else "maximum"] == bound.high
