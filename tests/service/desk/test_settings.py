"""Settings refuse what would open the service or contradict itself."""

import re
from pathlib import Path

import pytest
from pydantic import ValidationError

from api.settings import Settings, is_loopback


def test_loopback_needs_no_token():
    assert Settings(host="::1").token.get_secret_value() == ""


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "shop.example"])
def test_beyond_loopback_needs_a_long_token(host):
    with pytest.raises(ValidationError, match="can be reached from other computers and no token of 12 characters"):
        Settings(host=host, token="short")
    assert Settings(host=host, token="a long enough token").host == host


def test_read_from_the_environment_by_name():
    found = Settings.from_environment(
        {"VALUATION_PORT": "9000", "VALUATION_ALLOWED_HOSTS": "shop.example, desk.example", "PORT": "1"}
    )
    assert found.port == 9000
    assert found.allowed_hosts == ("shop.example", "desk.example")


def test_an_unknown_locale_is_refused_by_name():
    with pytest.raises(ValidationError, match="'xx-XX'"):
        Settings(locale="xx-XX")


def test_every_field_says_what_it_is():
    assert all(field.description for field in Settings.model_fields.values())


@pytest.mark.parametrize(("host", "answer"), [("localhost", True), ("127.8.8.8", True), ("10.0.0.1", False)])
def test_loopback(host, answer):
    assert is_loopback(host) is answer


def test_readme_names_every_setting_with_what_it_is_unless_set():
    text = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `VALUATION_(\w+)` \| .+ \| (.+) \|$", text, re.MULTILINE))
    assert set(rows) == {name.upper() for name in Settings.model_fields}
    for name, field in Settings.model_fields.items():
        if isinstance(field.default, int | float) and not isinstance(field.default, bool):
            assert rows[name.upper()] == f"`{field.default:g}`" or rows[name.upper()] == f"`{field.default}`"
