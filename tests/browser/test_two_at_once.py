"""Two browsers at once on one ledger: neither loses what it wrote, and each sees the other's."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_two_browsers_value_vehicles_side_by_side(demo_desk, opened):
    windows = [opened(demo_desk), opened(demo_desk)]
    for number, window in enumerate(windows):
        window.goto("/vehicle")
        window.get_by_label("What you call it").fill(f"Side by side {number}")
        window.get_by_label("Make and model line").fill("Tarrowby Linnet")
        window.get_by_label("Model year").fill("1960")
        window.get_by_label("Condition", exact=True).select_option("runner")
    for window in windows:  # both are sent before either answer is waited for
        window.get_by_role("button", name="Estimate and keep it").click(no_wait_after=True)
    for number, window in enumerate(windows):
        window.get_by_role("heading", name=f"Side by side {number}").wait_for()
    figures = [window.locator(".answer .big").inner_text() for window in windows]
    assert figures[0] == figures[1]
    for window in windows:
        window.goto("/")
        listed = window.locator("main").inner_text()
        assert "Side by side 0" in listed
        assert "Side by side 1" in listed


def test_two_browsers_mend_one_table_and_both_mends_are_kept_as_versions(demo_desk, opened):
    windows = [opened(demo_desk), opened(demo_desk)]
    for window in windows:
        window.goto("/comparables/1?show=faults")
    windows[0].get_by_label("Row 41, condition").fill("driver")
    windows[1].get_by_label("leave row 25 out").check()
    for window in windows:
        window.get_by_role("button", name="Keep the mended table").click()
        window.get_by_text("Mended and kept as version").wait_for()
    windows[0].goto("/comparables/1")
    windows[0].get_by_text("Versions and other tables").click()
    assert "3" in windows[0].locator("details:has-text('Versions') tbody").inner_text()
