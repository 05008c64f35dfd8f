"""The whole life of one vehicle, from an empty ledger to its sale: with scripts, without, and on a telephone."""

import datetime as dt
import io
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
pytestmark = [pytest.mark.browser, pytest.mark.slow]
NAME = "Linnet of 1957"


@pytest.mark.parametrize(
    ("view", "scripts"), [(DESK, True), (PHONE, True), (DESK, False)], ids=["desk", "phone", "without scripts"]
)
def test_the_life_of_a_vehicle(empty_desk, opened, fits, table_of_a_shop, view, scripts):
    window = opened(empty_desk, view, java_script_enabled=scripts)

    def look():
        if scripts:  # the width can only be asked of a window with scripts
            fits(window)

    def work_until(address):
        window.wait_for_url(re.compile(address), timeout=180_000)

    # The empty start leads by the hand; the table is pasted, and its one misspelt grade is mended by one button.
    window.goto("/")
    look()
    bring_table(window, table_of_a_shop)

    # The vehicle is found, and valued as it stands in its barn.
    window.goto("/")
    window.get_by_role("link", name="A new vehicle").click()
    window.get_by_label("What you call it").fill(NAME)
    window.get_by_label("Make and model").fill("Tarrowby Linnet")
    window.get_by_label("Model year").fill("1957")
    window.get_by_label("Condition", exact=True).select_option("runner")
    window.get_by_label("Paint", exact=True).select_option("worn")
    window.get_by_label("What is asked for it").fill("7,500")
    window.get_by_role("button", name="Estimate and keep it").click()
    work_until(r"/vehicles/1/worth")
    as_found = money(window.locator(".answer .big").inner_text())
    look()
    window.get_by_text("What if it were otherwise?").click()
    window.get_by_label("Condition", exact=True).select_option("driver")
    if not scripts:
        window.get_by_role("button", name="What if? (not kept)").click()
    assert money(window.locator("#what-if .big").inner_text()) > as_found

    # A photograph goes to the head of its pages.
    window.goto("/vehicles/1/photos")
    window.get_by_label("Take or choose photographs").set_input_files(
        {"name": "front.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    window.get_by_role("button", name="Keep them").click()
    expect(window.locator(".vehicle-head img")).to_be_visible()

    # A plan, and the most to pay.
    window.goto("/vehicles/1")
    window.get_by_role("link", name="Plan a build").click()
    window.get_by_label("Name of this plan").fill("new paint")
    if not window.locator("details.step").count():
        window.get_by_role("button", name="Add a step").click()
    card = window.locator("details.step").last
    if card.get_attribute("open") is None:
        card.locator("summary").click()
    card.get_by_label("What is done").fill("Strip and paint")
    for place, figures in enumerate((("900", "1,400", "2,600"), ("30", "45", "80"))):
        for label, figure in zip(("low", "likely", "high"), figures, strict=True):
            card.get_by_label(label).nth(place).fill(figure)
    card.get_by_label("Makes it, 1").select_option("paint=fresh")
    window.get_by_role("button", name="Keep the plan").last.click()
    expect(window.locator(".said")).to_contain_text("Kept the plan new paint")
    look()
    window.goto("/vehicles/1/pay")
    window.get_by_label("The owner asks").fill("7,500")
    window.get_by_role("button", name=re.compile("most to pay|Compare")).click()
    window.locator(".most").wait_for(timeout=180_000)
    look()

    # It is bought on its story, and the step is ticked.
    window.goto("/vehicles/1")
    window.get_by_label("Bought for").fill("7,000")
    window.get_by_label("on", exact=True).fill((dt.date.today() - dt.timedelta(40)).isoformat())
    window.get_by_role("button", name="I bought it").click()
    expect(window.locator(".stage")).to_have_text("in work")
    window.get_by_role("link", name="Tick what is done").click()
    step = window.locator("#steps details.step").first
    step.locator("summary").click()
    step.get_by_label("Parts came to").fill("1,500")
    step.get_by_label("Hours it took").fill("50")
    step.get_by_role("button", name="Done", exact=True).click()
    expect(window.locator("#steps .mark").first).to_contain_text("done")
    look()

    # It is valued as it stands now by one button, without typing anything.
    window.goto("/vehicles/1")
    expect(window.locator(".part.now")).to_contain_text("What to ask")
    look()
    window.get_by_role("button", name="Value it as it stands now").click()
    work_until(r"/vehicles/1/worth\?estimate=2")
    assert money(window.locator(".answer .big").inner_text()) > as_found, "fresh paint is worth something here"

    # Floor, target and ask; an offer and its answer; the sale.
    window.goto("/vehicles/1/price")
    window.get_by_role("button", name="Set floor, target and ask").click()
    window.locator("h1.say").wait_for(timeout=180_000)
    window.get_by_label(re.compile("^An offer|^Offer")).first.fill("9,000")
    window.get_by_label("from", exact=True).first.fill("Bo")
    window.get_by_role("button", name="What do I answer?").first.click()
    expect(window.locator("h3").filter(has_text="Bo").first).to_be_visible()
    look()
    window.get_by_role("button", name="Declined").first.click()
    window.goto("/vehicles/1/price")
    unfold(window.get_by_label("The buyer paid in all, before tax"))
    window.get_by_label("The buyer paid in all, before tax").fill("14000000")
    window.get_by_role("button", name="Record the sale").click()
    window.get_by_text(re.compile("Is 14,000,000.* right")).wait_for()
    assert not window.get_by_label("Yes, it is right").is_checked()
    look()
    window.get_by_label("The buyer paid in all, before tax").fill("14000")
    window.get_by_role("button", name="Record the sale").click()
    window.get_by_text("Take it into the table of sales?").wait_for()
    window.goto("/")
    window.get_by_text("Sold (1)").click()
    expect(window.locator("li.line")).to_contain_text("brought 14,000")
    look()
    window.goto("/vehicles/1")
    expect(window.locator(".stage")).to_have_text("sold")
    assert window.locator(".part.done").count() >= 6


def bring_table(window, text):
    """Paste a table and take it."""
    window.get_by_label("or paste it here").fill(text)
    window.get_by_label("Your name for it").fill("Sales of the shop")
    window.get_by_role("button", name="Read the table").click()
    window.get_by_role("heading", name="Bring Sales of the shop").wait_for()
    window.get_by_role("button", name="Make the mend that has one answer").click()
    window.get_by_text("26 of 26 rows usable").wait_for()
    window.get_by_role("button", name="Use this table").click()
    window.get_by_role("heading", name="Sales of the shop", exact=True).wait_for()


def unfold(field):
    """Open the folded parts around a field by their summaries, as a person would."""
    for summary in field.locator("xpath=ancestor::details/summary").all():
        if summary.locator("xpath=..").get_attribute("open") is None:
            summary.click()


def money(text):
    return float(re.sub(r"[^\d.]", "", text))


def picture():
    out = io.BytesIO()
    Image.new("RGB", (640, 480), "#7a5c3a").save(out, "JPEG")
    return out.getvalue()
