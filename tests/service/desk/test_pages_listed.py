"""Every page is on the list that the pictures before a release and the browser's tests go by."""

import pkgutil
from importlib import import_module

from starlette.routing import compile_path

import api.pages
from docs.pages import EMPTY, NOT_THERE, OWN, PAGES, SENT

FILES = {
    "/barn/file", "/barn/worker.js", "/certificate", "/photos/{photo}.jpg",
    "/pictures/{key}/{width}.svg", "/pictures/{key}/{width}.json",
}  # fmt: skip
ELSEWHERE = {"/build", "/build/{deal_id}", "/comparables", "/price", "/vehicle", "/vehicle/{estimate_id}"}
"""Addresses that lead to a page at another address."""
UNDER_WAY = {"/work/{job_id}"}
"""The page of work that is under way, which the pictures show by starting some."""


def addresses():
    """Of all that the pages' modules answer."""
    for found in pkgutil.iter_modules(api.pages.__path__):
        router = getattr(import_module(f"api.pages.{found.name}"), "router", None)
        for route in router.routes if router else ():
            if "GET" in route.methods:
                yield route.path


def test_every_page_is_on_the_list():
    listed = [path.partition("?")[0].replace("{", "").replace("}", "") for path in (*PAGES.values(), NOT_THERE)]
    missing = {path for path in addresses() if not any(compile_path(path)[0].match(one) for one in listed)}
    assert missing == FILES | ELSEWHERE | UNDER_WAY


def test_what_is_sent_is_sent_from_a_page_of_the_list_and_no_name_stands_twice():
    assert {page for page, _, _ in SENT.values()} <= set(PAGES.values())
    assert set(EMPTY.values()) <= set(PAGES.values())
    names = [*PAGES, *EMPTY, *OWN, *SENT]
    assert len(names) == len(set(names))
