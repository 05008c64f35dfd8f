"""Bringing a table in a browser: who answers and mends one thing after another loses neither his place nor an entry."""

import pytest
from playwright.sync_api import expect

from docs.pages import at_rest

pytestmark = [pytest.mark.browser, pytest.mark.slow]
WORDS = ("driver", "show", "runner", "tidy ish", "rough as can be")


def table(rows=40):
    lines = ["When,Paid,How,Truck,Yr,Cond."]
    for i in range(rows):
        day = f"2025-{1 + i % 9:02}-{1 + i % 27:02}" if i % 4 else f"2025-{13 + i:02}-01"
        lines.append(f"{day},{6_000 + 137 * i},Sold,Garrow Wren,{1946 + i % 12},{WORDS[i % 5]}")
    return "\n".join(lines)


def test_answers_and_mends_one_after_another_keep_place_and_entries(empty_desk, opened):
    page = opened(empty_desk)
    page.goto("/comparables/bring")
    page.fill("#pasted", table())
    page.fill("#table-name", "One after another")
    page.get_by_role("button", name="Read the table").click()
    page.wait_for_selector("form.talk")
    held = []
    page.route("**/comparables/bring/*", lambda route: held.append(route) if not held else route.continue_())
    first, second = (page.locator(f"select[name='told.level/condition/{word}']") for word in WORDS[3:])
    first.select_option("runner")
    expect(page.locator(".bar .busy")).to_contain_text("Reading 40 rows again.")
    second.select_option("project")
    second.focus()
    held[0].continue_()
    expect(page.locator(".bar .busy")).to_have_count(0, timeout=30_000)
    at_rest(page)
    expect(second).to_have_value("project", timeout=30_000)
    expect(first).to_have_value("runner")
    expect(second).to_be_focused()
    expect(page.locator("#words summary .state").first).to_contain_text("read right", timeout=30_000)

    cells = page.locator("#rows input[name^='cell.']")
    fold = page.locator("#rows details[id^='by-']", has=page.locator("input")).first
    if fold.get_attribute("open") is None:
        fold.locator("summary").click()
    names = [cells.nth(i).get_attribute("name") for i in range(3)]
    asked = []
    page.on("request", lambda one: one.method == "POST" and asked.append(one.url))
    for i, name in enumerate(names):
        cell = page.locator(f"[name='{name}']")
        cell.scroll_into_view_if_needed()
        cell.fill(f"2025-03-{10 + i}")
    assert asked == [], "ten rows are typed without a wait"
    last = page.locator(f"[name='{names[-1]}']")
    place = last.bounding_box()["y"]
    last.press("Enter")
    expect(page.locator(f"[name='{names[0]}']")).to_have_count(0, timeout=30_000)
    here = page.locator("#rows input:focus")
    expect(here).to_have_count(1)
    assert abs(here.bounding_box()["y"] - place) < 60, "the next row stands where the last one stood"
    assert fold.get_attribute("open") is not None
