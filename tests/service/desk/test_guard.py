"""The guard at the door: hosts, origins, the token, sizes, and the headers of every answer."""

import re

import pytest

from api.settings import Settings

PAGES = [
    "/",
    "/comparables/1",
    "/vehicles/new",
    "/vehicles/3/worth",
    "/vehicles/1/plans",
    "/vehicles/3/price",
    "/track-record",
    "/help",
    "/api/docs",
]
TOKEN = "correct horse battery"


def is_problem(answer, status, code):
    body = answer.json()
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert (body["status"], body["code"]) == (status, code)
    assert body["type"] == f"/help#{code}"
    return body["detail"]


def test_another_host_is_refused(fresh):
    detail = is_problem(fresh.get("/healthz", headers={"host": "evil.example"}), 400, "service.host")
    assert "evil.example" in detail


def test_loopback_by_any_name_is_served(fresh):
    port = fresh.base_url.port
    for host in (f"localhost:{port}", f"127.0.0.1:{port}", f"[::1]:{port}"):
        assert fresh.get("/healthz", headers={"host": host}).status_code == 200


def test_a_form_of_another_site_is_refused(fresh):
    is_problem(fresh.post("/demo", headers={"origin": "https://evil.example"}), 403, "service.origin")
    is_problem(fresh.post("/demo", headers={"sec-fetch-site": "cross-site"}), 403, "service.origin")
    assert fresh.get("/api/v1/comparables").json() == []


def test_a_request_too_large_is_refused_with_and_without_its_length(tmp_path, serve):
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), max_upload_bytes=2000)) as client:
        is_problem(client.post("/comparables", content=b"x" * 3000), 413, "service.too_large")
        chunks = (b"x" * 900 for _ in range(4))
        answer = client.post("/api/v1/estimates", content=chunks, headers={"content-type": "application/json"})
        is_problem(answer, 413, "service.too_large")


def test_more_rows_than_the_service_takes_are_refused(tmp_path, serve):
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), max_rows=2)) as client:
        table = "price,outcome\n" + "100,sold\n" * 3
        answer = client.post("/api/v1/comparables", files={"file": ("t.csv", table.encode())})
        assert "found 3 rows; this service takes 2" in is_problem(answer, 422, "comparables.unreadable")


def test_nothing_is_answered_without_the_token(tmp_path, serve):
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), token=TOKEN)) as client:
        assert client.get("/healthz").status_code == 200
        refused = client.get("/api/v1/comparables")
        is_problem(refused, 401, "service.sign_in")
        assert refused.headers["www-authenticate"] == "Bearer"
        is_problem(client.get("/api/v1/openapi.json"), 401, "service.sign_in")
        assert client.get("/", headers={"accept": "text/html"}).headers["location"] == "/sign-in"
        for wrong in ("Bearer wrong", f"Basic {TOKEN}", "Bearer"):
            is_problem(client.get("/api/v1/comparables", headers={"authorization": wrong}), 401, "service.sign_in")
        right = client.get("/api/v1/comparables", headers={"authorization": f"Bearer {TOKEN}"})
        assert right.json() == []


def test_signing_in_gives_a_strict_cookie_that_does_not_hold_the_token(tmp_path, serve):
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), token=TOKEN)) as client:
        assert client.post("/sign-in", data={"token": "wrong"}).status_code == 401
        answer = client.post("/sign-in", data={"token": TOKEN})
        cookie = answer.headers["set-cookie"]
        assert "samesite=strict" in cookie.lower()
        assert "httponly" in cookie.lower()
        assert TOKEN not in cookie
        assert client.get("/api/v1/comparables").status_code == 200


def test_every_answer_carries_the_security_headers(demo):
    for path in (*PAGES, "/healthz", "/api/v1/comparables/999999"):
        headers = demo.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("path", PAGES)
def test_no_page_holds_a_script_or_style_in_line(demo, path):
    text = demo.get(path, headers={"accept": "text/html"}).text
    scripts = re.findall(r"<script(?![^>]*\bsrc=)[^>]*>", text)
    assert not scripts
    assert not re.search(r"<[^>]+\s(style|on[a-z]+)=", text)
    assert "<style" not in text


@pytest.mark.parametrize("path", PAGES)
def test_every_page_is_light_and_names_the_cautions(demo, path):
    answer = demo.get(path, headers={"accept": "text/html"})
    assert answer.status_code == 200
    assert len(answer.content) < 200_000
    assert "not a licensed appraisal" in answer.text
    assert "follow local law" in answer.text
