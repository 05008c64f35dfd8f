"""The desk for telephones: its certificate, the link that signs in once, and what the terminal says."""

import os
import re
import socket
import ssl
import stat
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from cryptography import x509

from api import certificate as made
from api.certificate import certificate, fingerprint, own_names
from api.serve import for_telephones, has_browser
from api.settings import Settings

ROOT = Path(__file__).parents[3]
NAMES = ["192.168.7.20", "workshop.local", "workshop", "localhost", "127.0.0.1"]


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@contextmanager
def serving(folder, *options, **variables):
    """What ``valuation serve`` has said once it listens."""
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith("VALUATION_")},
        "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8", "DISPLAY": "", "WAYLAND_DISPLAY": "", **variables,
    }  # fmt: skip
    command = [sys.executable, "-m", "valuation", "serve", *options]
    with (folder / "out.txt").open("wb") as out:
        running = subprocess.Popen(command, cwd=folder, env=environment, stdout=out, stderr=subprocess.STDOUT)
    try:
        until = time.monotonic() + 90
        while not re.search(r"Ctrl-C closes it\.[\s\S]*\n\Z", said := (folder / "out.txt").read_text(encoding="utf-8")):
            assert running.poll() is None, said
            assert time.monotonic() < until, said
            time.sleep(0.1)
        yield said
    finally:
        running.terminate()
        running.wait(20)


def test_the_certificate_is_for_this_computer_and_its_keys_are_for_the_owner_alone(tmp_path):
    found = certificate(str(tmp_path / "shop.sqlite"), NAMES)
    assert found.key.parent == tmp_path / "shop.sqlite-tls"
    for secret in (found.key, found.key.with_name("authority.key")):
        assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert stat.S_IMODE(found.key.parent.stat().st_mode) == 0o700
    own, authority = x509.load_pem_x509_certificates(found.chain.read_bytes())
    own.verify_directly_issued_by(authority)
    names = own.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert "workshop.local" in names.get_values_for_type(x509.DNSName)
    assert "192.168.7.20" in map(str, names.get_values_for_type(x509.IPAddress))
    assert (own.not_valid_after_utc - own.not_valid_before_utc).days <= 398
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    assert x509.DNSName("workshop.local") in limits.value.permitted_subtrees
    assert not any(one.value == "" for one in limits.value.permitted_subtrees if isinstance(one, x509.DNSName))
    assert re.fullmatch(r"([0-9A-F]{2}:){31}[0-9A-F]{2}", fingerprint(found.chain))


def test_a_certificate_is_kept_and_made_anew_by_the_same_authority_for_another_address(tmp_path, monkeypatch):
    ledger = str(tmp_path / "shop.sqlite")
    first = certificate(ledger, NAMES)
    before = [one.read_bytes() for one in first]
    assert [one.read_bytes() for one in certificate(ledger, NAMES[1:])] == before
    moved = certificate(ledger, ["192.168.7.99", *NAMES[1:]])
    assert moved.authority.read_bytes() == before[0]
    assert moved.chain.read_bytes() != before[1]
    kept = moved.chain.read_bytes()
    monkeypatch.setattr(made, "RENEW_DAYS", made.SERVICE_DAYS)  # its time is up
    assert certificate(ledger, NAMES).chain.read_bytes() != kept
    assert moved.authority.read_bytes() == before[0]


def test_this_computer_has_a_name_and_an_address():
    names = own_names()
    assert "localhost" in names
    assert any(one.endswith(".local") for one in names)


def test_for_telephones_what_is_set_stays_and_a_token_is_made():
    made_up = for_telephones({}, NAMES)
    settings = Settings.from_environment(made_up)
    assert settings.host == "0.0.0.0"
    assert len(settings.token.get_secret_value()) >= 16
    assert settings.secure_cookies
    assert settings.allowed_hosts == tuple(NAMES)
    own = for_telephones(
        {
            "VALUATION_HOST": "192.168.7.20",
            "VALUATION_TOKEN": "a token of my own",
            "VALUATION_ALLOWED_HOSTS": "desk.example",
        },
        NAMES,
    )
    settings = Settings.from_environment(own)
    assert (settings.host, settings.token.get_secret_value()) == ("192.168.7.20", "a token of my own")
    assert settings.allowed_hosts == ("desk.example", *NAMES)
    with pytest.raises(ValueError, match="no token of 12 characters"):
        Settings.from_environment(for_telephones({"VALUATION_TOKEN": "short"}, NAMES))


@pytest.mark.parametrize(
    ("environment", "platform", "there"),
    [
        ({}, "linux", False),
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "w"}, "linux", True),
        ({}, "darwin", True),
    ],
)
def test_a_browser_is_opened_only_where_there_is_a_screen(environment, platform, there):
    assert has_browser(environment, platform) is there


def test_serve_says_the_address_opens_the_browser_and_refuses_a_taken_port_in_words(tmp_path):
    port = str(free_port())
    opener = tmp_path / "opener.sh"
    opener.write_text(f'#!/bin/sh\necho "$1" > {tmp_path / "opened.txt"}\n')
    opener.chmod(0o755)
    with serving(tmp_path, "--port", port, DISPLAY=":9", BROWSER=str(opener)) as said:
        assert f"The desk is open at http://127.0.0.1:{port}. Ctrl-C closes it." in said
        opened, until = tmp_path / "opened.txt", time.monotonic() + 30
        while not (opened.exists() and opened.read_text().strip()) and time.monotonic() < until:
            time.sleep(0.1)
        assert opened.read_text().strip() == f"http://127.0.0.1:{port}"
        other = subprocess.run(
            [sys.executable, "-m", "valuation", "serve", "--port", port, "--no-browser"],
            cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=120,
        )  # fmt: skip
        assert other.returncode == 1
        assert f"Cannot listen on 127.0.0.1, port {port}: Address already in use." in other.stderr


def test_the_qr_code_s_link_signs_in_once_over_tls_that_the_authority_vouches_for(tmp_path):
    port = free_port()
    with serving(tmp_path, "--phone", "--port", str(port), "--no-browser") as said:
        link = re.search(r"open (https://\S+)/sign-in#([a-z0-9]+)", said)
        token = re.search(r"with the token (\S+)", said)[1]
        assert "█" in said
        trust = ssl.create_default_context(cafile=str(tmp_path / "valuation.sqlite-tls" / "authority.crt"))
        here = f"https://127.0.0.1:{port}"
        patient = {"base_url": here, "verify": trust, "timeout": 60}  # the first answer waits for slow modules
        with httpx.Client(**patient) as phone, httpx.Client(**patient) as other:
            told_to = phone.get("/barn", headers={"accept": "text/html"})
            assert told_to.headers["location"] == "/sign-in?back=%2Fbarn"
            form = {"token": f" {link[2].upper()} ", "back": "/barn"}
            signed_in = phone.post("/sign-in", data=form)
            assert (signed_in.status_code, signed_in.headers["location"]) == (303, "/barn")
            assert "secure" in signed_in.headers["set-cookie"].casefold()
            assert phone.get("/api/v1/comparables").status_code == 200
            assert other.post("/sign-in", data=form).status_code == 401  # once
            assert other.get("/api/v1/comparables", headers={"authorization": f"Bearer {link[2]}"}).status_code == 401
            assert other.get("/certificate").content == (tmp_path / "valuation.sqlite-tls/authority.crt").read_bytes()
            assert other.post("/sign-in", data={"token": token}).status_code == 303
        with pytest.raises(httpx.ConnectError, match="certificate verify failed"):
            httpx.get(f"{here}/healthz")
    assert link[1].startswith("https://")
