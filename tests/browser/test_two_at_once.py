"""Two browsers at once on one ledger: neither loses what it wrote, and each sees the other's."""

import httpx
import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_two_browsers_value_vehicles_side_by_side(demo_desk, opened):
    windows = [opened(demo_desk), opened(demo_desk)]
    for number, window in enumerate(windows):
        window.goto("/vehicles/new")
        window.get_by_label("What you call it").fill(f"Side by side {number}")
        window.get_by_label("Make and model line").fill("Tarrowby Linnet")
        window.get_by_label("Model year").fill("1960")
        window.get_by_label("Condition", exact=True).select_option("runner")
    for window in windows:  # both are sent before either answer is waited for
        window.get_by_role("button", name="Estimate and keep it").click(no_wait_after=True)
    for number, window in enumerate(windows):
        window.locator(".vehicle-name", has_text=f"Side by side {number}").wait_for()
        window.locator(".answer .big").wait_for()
    figures = [window.locator(".answer .big").inner_text() for window in windows]
    assert figures[0] == figures[1]
    for window in windows:
        window.goto("/")
        listed = window.locator("main").inner_text()
        assert "Side by side 0" in listed
        assert "Side by side 1" in listed


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_two_browsers_mend_one_table_and_neither_undoes_the_other(empty_desk, opened, table_of_a_shop, scripts):
    windows = [opened(empty_desk, java_script_enabled=scripts) for _ in range(2)]
    bring_table(windows[0], table_of_a_shop)
    for window in windows:
        window.goto("/comparables/1?show=faults")
    windows[0].get_by_label("Row 7, condition").fill("driver")
    windows[1].get_by_label("Row 7, paint").fill("bare")
    for window in windows:
        window.get_by_role("button", name="Keep the mended table").click()
        window.get_by_text("Mended and kept as version").wait_for()
    told = windows[1].locator(".said").inner_text()
    assert "row 7, condition: drvier to driver" in told
    assert "both are kept" in told
    assert grid(empty_desk, 3, "7") >= {"driver", "bare"}

    # Both at one cell: the owner sees both, chooses, and what was typed elsewhere is kept.
    for window in windows:
        window.goto("/comparables/3?show=all&edit=7")
    windows[0].get_by_label("Row 7, condition").fill("show")
    windows[0].get_by_role("button", name="Keep the mended table").click()
    windows[0].get_by_text("Mended and kept as version 4").wait_for()
    windows[1].get_by_label("Row 7, condition").fill("runner")
    windows[1].get_by_label("Row 7, paint").fill("worn")
    windows[1].get_by_role("button", name="Keep the mended table").click()
    windows[1].get_by_role("heading", name="Changed meanwhile").wait_for()
    windows[1].set_viewport_size({"width": 390, "height": 844})
    assert "leave what stands there by now: show" in windows[1].locator("fieldset").inner_text()
    windows[1].get_by_label("write what you typed: runner").check()
    windows[1].get_by_role("button", name="Keep the table with these choices").click()
    windows[1].get_by_text("Mended and kept as version 5").wait_for()
    assert grid(empty_desk, 5, "7") >= {"runner", "worn"}
    assert grid(empty_desk, 4, "7") >= {"show", "bare"}, "the ledger keeps each version"


def test_a_newer_file_remembers_and_says_what(empty_desk, opened, fits, table_of_a_shop):
    window = opened(empty_desk)
    bring_table(window, table_of_a_shop)
    window.get_by_role("button", name="Write driver").click()
    window.get_by_text("Mended and kept as version 2").wait_for()
    newer = table_of_a_shop + "2025-11-02,31000,sold,Tarrowby Linnet,1958,driver,fresh\n"
    bring_table(window, newer)
    card = window.locator("#remembered")
    assert "1 mend was made again" in card.inner_text()
    assert "drvier" in card.locator("tbody").inner_text()
    for width in (1280, 390):
        window.set_viewport_size({"width": width, "height": 844})
        fits(window)
    card.get_by_role("button", name="Take it back").click()
    window.get_by_text("The file as it came is version 5").wait_for()
    assert "'drvier' is driver" in window.locator("#causes").inner_text()


def bring_table(window, text):
    window.goto("/comparables/bring")
    window.get_by_label("or paste it here").fill(text)
    window.get_by_label("Your name for it").fill("Sales of the shop")
    window.get_by_role("button", name="Read the table").click()
    window.get_by_role("button", name="Use this table").click()
    window.get_by_role("heading", name="Sales of the shop", exact=True).wait_for()


def grid(desk, version, row):
    """The cells of one row of a version of the table, as the ledger holds them."""
    rows = httpx.get(f"{desk}/api/v1/comparables/{version}/rows").json()
    return set(next(one for one in rows if one["row"] == row).values())
