"""An owner's whole job, from an empty ledger to a recorded sale: with scripts, without, and on a phone."""

import re

import pytest

DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.mark.parametrize(
    ("view", "scripts"), [(DESK, True), (PHONE, True), (DESK, False)], ids=["desk", "phone", "without scripts"]
)
def test_from_empty_ledger_to_recorded_sale(empty_desk, opened, shots, looks_right, table_of_a_shop, view, scripts):
    window = opened(empty_desk, view, java_script_enabled=scripts)
    name = "job" if scripts else "job-no-script"

    # The empty start leads by the hand; the table is pasted.
    window.goto("/")
    looks_right_if(scripts, looks_right, window, shots, f"{name}-1-start")
    window.get_by_label("or paste it here").fill(table_of_a_shop)
    window.get_by_label("Your name for it").fill("Sales of the shop")
    window.get_by_role("button", name="Read the table").click()
    window.get_by_role("heading", name="Bring Sales of the shop").wait_for()
    window.get_by_label("In which currency are the prices?").fill("EUR")
    window.get_by_role("button", name="Read it again").click()
    window.get_by_role("button", name="Use this table").click()
    window.get_by_role("heading", name="Sales of the shop", exact=True).wait_for()

    # One grade is misspelt; one button mends it.
    assert "'drvier' is driver" in window.locator("#causes").inner_text()
    looks_right_if(scripts, looks_right, window, shots, f"{name}-2-faults")
    window.get_by_role("button", name="Write driver").click()
    window.get_by_text("Mended and kept as version 2.").wait_for()
    assert not window.locator("#causes").count()
    assert "26 of 26 rows usable" in window.locator("main").inner_text()

    # The vehicle is valued.
    window.get_by_role("link", name="Value a vehicle from this table").click()
    window.get_by_label("What you call it").fill("Linnet of 1957")
    window.get_by_label("Make and model").fill("Tarrowby Linnet")
    window.get_by_label("Model year").fill("1957")
    window.get_by_label("Condition", exact=True).select_option("driver")
    window.get_by_label("Paint", exact=True).select_option("fresh")
    window.get_by_role("button", name="Estimate and keep it").click()
    wait_for_work(window, scripts, re.compile(r"/vehicle/\d+"))
    window.get_by_role("heading", name="Linnet of 1957").wait_for()
    estimate = window.locator(".answer .big").inner_text()
    assert re.fullmatch(r"EUR\s[\d,]+", estimate)
    looks_right_if(scripts, looks_right, window, shots, f"{name}-3-vehicle")

    # What if it were only a runner: at once, and not kept.
    window.get_by_label("Condition", exact=True).select_option("runner")
    if not scripts:
        window.get_by_role("button", name="What if? (not kept)").click()
    window.locator("#what-if .big").wait_for()
    assert window.locator("#what-if .change").inner_text().strip()

    # A plan for it, and the most to pay.
    window.goto("/build?estimate=1")
    window.get_by_label("Name of this plan").fill("new paint")
    window.get_by_role("button", name="Add a step").click()
    window.get_by_label("What is done").fill("Strip and paint")
    for field, figures in (("cost", ("900", "1.4k", "2,600")), ("hours", ("30", "45", "80"))):
        for end, figure in zip(("_low", "", "_high"), figures, strict=True):
            window.locator(f'[name="step.0.{field}{end}"]').fill(figure)
    window.get_by_label("Makes it, 1").select_option("paint=show-finish")
    window.get_by_role("button", name="Keep the plan").click()
    window.get_by_text("Kept the plan new paint.").wait_for()
    window.get_by_role("link", name="Compare the plans").click()
    window.get_by_label("The owner asks, EUR").fill("9000")
    window.get_by_role("button", name="What is the most to pay?").click()
    wait_for_work(window, scripts, re.compile(r"/vehicles/1/pay"))
    window.locator(".most").wait_for()
    looks_right_if(scripts, looks_right, window, shots, f"{name}-4-build")

    # Floor, target and ask; an offer and its answer; the sale.
    window.goto("/price?estimate=1")
    window.get_by_label("What you have put in so far").fill("9000")
    window.get_by_role("button", name="Set floor, target and ask").click()
    wait_for_work(window, scripts, re.compile(r"/price\?estimate=1"))
    window.locator(".facts.bands").wait_for()
    window.get_by_label("An offer of").fill("12000")
    window.get_by_label("from", exact=True).fill("Bo")
    window.get_by_role("button", name="What do I answer?").click()
    window.locator("#offers").get_by_text(re.compile(r" offers [\d,]+")).first.wait_for()
    assert re.search(r"accept|counter at|hold", window.locator("#offers .big").inner_text())
    window.get_by_role("button", name="Keep the answer").click()
    window.get_by_text("was answered:").wait_for()
    looks_right_if(scripts, looks_right, window, shots, f"{name}-5-price")
    window.get_by_label("The buyer paid in all, before tax").fill("14000000")
    window.get_by_role("button", name="Record the sale").click()
    window.get_by_text("Is 14,000,000 EUR right?").wait_for()
    assert not window.get_by_label("Yes, it is right").is_checked()
    looks_right_if(scripts, looks_right, window, shots, f"{name}-6-unlikely")
    window.get_by_label("The buyer paid in all, before tax").fill("14000")
    window.get_by_role("button", name="Record the sale").click()
    window.get_by_text("The sale is recorded.").wait_for()
    assert "Linnet of 1957" in window.locator("main").inner_text()
    looks_right_if(scripts, looks_right, window, shots, f"{name}-7-track")


def looks_right_if(scripts, looks_right, window, shots, name):
    """The width can only be asked of a window with scripts; the picture is taken either way."""
    if scripts:
        looks_right(window, shots, name)
    else:
        window.screenshot(path=str(shots / f"{name}-{window.viewport_size['width']}.png"), full_page=True)


def wait_for_work(window, scripts, address):
    """Let a piece of work end; without scripts the page asks anew by itself too."""
    window.wait_for_url(address, timeout=180_000)
