"""What is written about the service says what the service does."""

import re
from dataclasses import fields
from importlib import import_module
from pathlib import Path

import pytest

from api.pages.help import REFUSALS
from api.pages.render import Page
from valuation import errors

API = Path(__file__).parents[3] / "api"
MODULES = [f"api.pages.{file.stem}" for file in (API / "pages").glob("*.py") if file.stem != "__init__"]


def contexts():
    for name in MODULES:
        for value in vars(import_module(name)).values():
            if isinstance(value, type) and issubclass(value, Page) and value.__module__ == name:
                yield value


def test_help_lists_every_code_that_can_be_answered_and_no_other():
    classes = [value for value in vars(errors).values() if isinstance(value, type)]
    library = {kind.code for kind in classes if issubclass(kind, errors.ValuationError)} - {"valuation"}
    source = "".join(file.read_text(encoding="utf-8") for file in API.rglob("*.py") if file.name != "help.py")
    own = set(re.findall(r'"(service\.[a-z_]+)"', source))
    assert {code for code, _, _ in REFUSALS} == library | own


@pytest.mark.parametrize("context", list(contexts()), ids=lambda one: one.__name__)
def test_every_field_of_a_page_s_context_is_documented(context):
    told = "".join(kind.__doc__ or "" for kind in context.__mro__ if issubclass(kind, Page))
    assert all(re.search(rf"^\s+.*\b{field.name}\b", told, flags=re.MULTILINE) for field in fields(context))
    assert (API / "templates" / context.template).is_file() or context is Page


def test_each_page_links_a_json_twin_that_answers(demo):
    demo.post("/vehicles/3/price", data={"offers_per_month": "2", "weeks_to_sell": "6"})
    plans = demo.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"]
    for path in (
        "/",
        "/comparables/1",
        "/vehicles/new",
        "/vehicles/3/worth",
        plans,
        "/vehicles/3/price",
        "/track-record",
    ):
        text = demo.get(path).text
        twin = re.search(r'href="([^"]+)">This page as JSON', text)
        assert twin, path
        answer = demo.get(twin.group(1).replace("&amp;", "&"))
        assert answer.status_code == 200, (path, twin.group(1))
        assert answer.headers["content-type"] == "application/json"


def test_every_route_documents_its_answers_and_a_summary(demo):
    document = demo.get("/api/v1/openapi.json").json()
    for path, methods in document["paths"].items():
        for method, route in methods.items():
            assert route.get("summary"), (method, path)
            assert any(status.startswith("2") for status in route["responses"])
            assert "400" in route["responses"]


def test_static_files_carry_their_licences():
    vendor = API / "static" / "vendor"
    for script in vendor.glob("*.js"):
        name = re.sub(r"-\d.*", "", script.name)
        assert (vendor / f"{name}.LICENSE").is_file(), script.name
