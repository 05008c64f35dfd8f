"""Signing in: sessions that end, change and can be ended; the brake on guessing; what strangers are told."""

import pytest

from api.problems import Refusal
from api.sessions import ALL_TRIES, CODE_SECONDS, IDLE_SECONDS, LIFE_SECONDS, OWN_SECONDS, OWN_TRIES, Door, Sessions
from api.settings import Settings

TOKEN = "correct horse battery"
COOKIE = "valuation_session"


class Clock:
    """Seconds that a test moves on."""

    def __init__(self):
        self.now = 1000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def guarded(tmp_path, serve):
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), token=TOKEN)) as client:
        yield client


def test_a_session_ends_when_it_is_not_used(clock):
    sessions = Sessions(clock)
    number = sessions.begin()
    clock.now += IDLE_SECONDS - 1
    assert sessions.use(number)
    clock.now += IDLE_SECONDS - 1
    assert sessions.use(number)
    clock.now += IDLE_SECONDS + 1
    assert not sessions.use(number)


def test_a_session_ends_in_time_however_it_is_used(clock):
    sessions = Sessions(clock)
    number = sessions.begin()
    for _ in range(int(LIFE_SECONDS / (IDLE_SECONDS / 2))):
        clock.now += IDLE_SECONDS / 2
        assert sessions.use(number)
    clock.now += IDLE_SECONDS / 2
    assert not sessions.use(number)


def test_each_session_has_a_number_of_its_own_and_signing_in_ends_the_one_before(clock):
    sessions = Sessions(clock)
    first, other = sessions.begin(), sessions.begin()
    second = sessions.begin(first)
    assert len({first, other, second}) == 3
    assert min(len(first), len(second)) >= 43  # 256 bits
    assert [sessions.use(number) for number in (first, other, second, "", "guess")] == [False, True, True, False, False]


def wait_told(door, given, client):
    with pytest.raises(Refusal, match="too many wrong ones were given just before") as refusal:
        door.opens(given, client)
    assert (refusal.value.status, refusal.value.code) == (429, "service.slow_down")
    return int(refusal.value.headers["Retry-After"])


def test_guessing_is_slowed_down_and_nobody_is_locked_out(clock):
    door = Door(TOKEN, clock)
    assert not any(door.opens(f"guess {i}", "192.0.2.1") for i in range(OWN_TRIES))
    wait = wait_told(door, TOKEN, "192.0.2.1")  # not even the right one, or the answer would tell
    assert 0 < wait <= OWN_SECONDS
    assert door.opens(TOKEN, "192.0.2.2")
    clock.now += wait
    assert door.opens(TOKEN, "192.0.2.1")
    assert door.opens(TOKEN, "192.0.2.1")  # the right one costs no try


def test_a_code_signs_in_once_for_ten_minutes_and_only_where_one_signs_in(clock):
    door = Door(TOKEN, clock)
    code, late = door.new_code(), door.new_code()
    assert not door.opens(code, "192.0.2.1")  # not as a bearer token
    assert door.opens(f" {code.upper()}", "192.0.2.1", codes=True)
    assert not door.opens(code, "192.0.2.1", codes=True)
    clock.now += CODE_SECONDS + 1
    assert not door.opens(late, "192.0.2.3", codes=True)
    assert door.opens(TOKEN, "192.0.2.3", codes=True)
    assert not Door("", clock).opens("", "192.0.2.4", codes=True)


def test_guessing_from_many_addresses_is_slowed_down_too(clock):
    door = Door(TOKEN, clock)
    for i in range(ALL_TRIES):
        assert not door.opens("guess", f"198.51.100.{i}")
    assert wait_told(door, "guess", "203.0.113.9") <= 2
    clock.now += 2
    assert door.opens(TOKEN, "203.0.113.9")


def test_addresses_of_one_ipv6_network_are_one_client(clock):
    door = Door(TOKEN, clock)
    for i in range(OWN_TRIES):
        assert not door.opens("guess", f"2001:db8::{i}")
    assert wait_told(door, "guess", "2001:db8::ffff") > 0
    assert door.opens(TOKEN, "2001:db8:1::1")


def test_the_service_says_429_with_when_to_try_again_and_sessions_go_on(guarded):
    assert guarded.post("/sign-in", data={"token": TOKEN}).status_code == 303
    for _ in range(OWN_TRIES):
        assert (
            guarded.get("/api/v1/comparables", headers={"authorization": "Bearer no", "cookie": ""}).status_code == 401
        )
    for braked in (
        guarded.get("/api/v1/comparables", headers={"authorization": f"Bearer {TOKEN}", "cookie": ""}),
        guarded.post("/sign-in", data={"token": TOKEN}, headers={"accept": "text/html"}),
    ):
        assert braked.status_code == 429
        assert 0 < int(braked.headers["retry-after"]) <= OWN_SECONDS
        assert "default-src 'none'" in braked.headers["content-security-policy"]
    assert guarded.get("/api/v1/comparables").status_code == 200  # who is signed in stays so


def test_signing_in_gives_another_number_each_time_and_the_old_one_is_worth_nothing(guarded):
    numbers = []
    for _ in range(2):
        assert guarded.post("/sign-in", data={"token": TOKEN}).status_code == 303
        numbers.append(guarded.cookies[COOKIE])
    assert numbers[0] != numbers[1]
    guarded.cookies.clear()
    old = guarded.get("/api/v1/comparables", headers={"cookie": f"{COOKIE}={numbers[0]}"})
    assert old.status_code == 401
    assert guarded.get("/api/v1/comparables", headers={"cookie": f"{COOKIE}={numbers[1]}"}).status_code == 200


def test_one_comes_back_to_the_page_that_asked_and_to_no_other_site(guarded):
    asked = guarded.get("/help?code=a%26b", headers={"accept": "text/html"})
    assert asked.headers["location"] == "/sign-in?back=%2Fhelp%3Fcode%3Da%2526b"
    page = guarded.get(asked.headers["location"]).text
    assert '<input type="hidden" name="back" value="/help?code=a%26b">' in page
    for back, to in (("/help?code=a%26b", "/help?code=a%26b"), ("//evil.example", "/"), ("https://evil.example", "/"),
                     ("/\\evil.example", "/"), ("/\r\nset-cookie:a=b", "/")):  # fmt: skip
        answer = guarded.post("/sign-in", data={"token": TOKEN, "back": back})
        assert (answer.status_code, answer.headers["location"]) == (303, to)


def test_a_wrong_token_is_said_beside_the_field_and_one_still_comes_back(guarded):
    referer = f"{guarded.base_url}/sign-in?back=%2Fhelp"
    answer = guarded.post(
        "/sign-in", data={"token": "guess", "back": "/help"}, headers={"accept": "text/html", "referer": referer}
    )
    assert answer.status_code == 401
    assert 'aria-invalid="true"' in answer.text
    assert "neither the desk's token nor a code" in answer.text.replace("&#39;", "'")
    assert 'name="back" value="/help"' in answer.text
    assert "guess" not in answer.text


def test_signing_out_ends_the_session_on_the_service_too(guarded):
    guarded.post("/sign-in", data={"token": TOKEN})
    number = guarded.cookies[COOKIE]
    page = guarded.get("/help", headers={"accept": "text/html"})
    assert '<form class="sign-out" method="post" action="/sign-out">' in page.text
    out = guarded.post("/sign-out").headers["location"]
    assert out == "/sign-in?out=true"
    assert "Signed out." in guarded.get(out).text
    assert COOKIE not in guarded.cookies
    assert guarded.get("/api/v1/comparables", headers={"cookie": f"{COOKIE}={number}"}).status_code == 401
    assert "sign-out" not in guarded.get("/sign-in").text


def test_the_cookie_is_for_this_site_only_and_for_https_where_that_is_set(tmp_path, serve):
    with serve(Settings(ledger=str(tmp_path / "l.sqlite"), token=TOKEN, secure_cookies=True)) as client:
        cookie = client.post("/sign-in", data={"token": TOKEN}).headers["set-cookie"].casefold()
    assert {"httponly", "samesite=strict", "secure", "path=/", f"max-age={int(LIFE_SECONDS)}"} <= set(
        cookie.split("; ")
    )


def test_strangers_are_told_no_more_than_that_the_service_is_up(guarded, fresh):
    assert guarded.get("/healthz").json() == {"status": "ok"}
    known = guarded.get("/healthz", headers={"authorization": f"Bearer {TOKEN}"}).json()
    assert set(known) == {"status", "version", "ledger", "tables"}
    assert fresh.get("/healthz").json()["tables"] == 0  # without a token everybody is known
    assert "sign-out" not in fresh.get("/help").text
