"""Plans as cards on a telephone, with and without scripts: the line follows, nothing typed is lost; then the work."""

import httpx
import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.browser, pytest.mark.slow]
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def find(demo_desk):
    """Address of the demo's second find, which is in work."""
    where = httpx.get(f"{demo_desk}/build", params={"subject": "Barn find: Linnet"}, timeout=60).headers["location"]
    return where.removesuffix("/plans")


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_cards_change_and_the_line_follows(demo_desk, find, opened, fits, scripts):
    window = opened(demo_desk, PHONE, java_script_enabled=scripts)
    window.goto(f"{find}/plans")
    line = window.locator("#line .comes-to")
    before = line.inner_text()
    assert before.startswith("All in ")
    card = window.locator("#card-0")
    card.locator("summary").click()
    likely = "9k" if scripts else "10.5k"
    card.get_by_label("likely").first.fill(likely)
    card.get_by_label("high").first.fill("12k")
    if not scripts:
        window.get_by_role("button", name="What does that come to?").click()
    expect(line).not_to_have_text(before)
    window.get_by_role("button", name="Add a step").click()
    new = window.locator("details.step").last
    expect(new).to_have_attribute("open", "")
    assert window.locator('[name="step.0.cost"]').input_value() == likely, "nothing typed is lost"
    if scripts:
        expect(new.locator("summary")).to_be_focused()
    new.get_by_label("What is done").fill("Polish it")
    new.get_by_label("likely").nth(1).fill("ten")
    window.get_by_role("button", name="Keep the plan").last.click()
    said = window.locator(".refusal").filter(has_text="'ten'")
    expect(said).to_be_visible()
    new = window.locator("details.step").last
    assert new.get_by_label("What is done").input_value() == "Polish it"
    assert new.get_by_label("likely").nth(1).get_attribute("aria-invalid") == "true"
    if scripts:
        fits(window)
    new.get_by_label("likely").nth(1).fill("10")
    new.get_by_role("button", name="Move up").click()
    expect(window.locator("details.step .title").last).not_to_contain_text("Polish it")
    window.get_by_label("Name of this plan").fill(f"polished, {'with' if scripts else 'without'} scripts")
    window.get_by_role("button", name="Keep the plan").last.click()
    expect(window.locator(".said")).to_contain_text("Kept the plan polished")


def test_the_work_is_ticked_on_a_telephone(demo_desk, find, opened, fits):
    window = opened(demo_desk, PHONE)
    window.goto(f"{find}/work")
    step = window.locator("#steps details.step").first
    step.locator("summary").click()
    step.get_by_label("Parts came to").fill("many")
    step.get_by_label("Hours it took").fill("70")
    step.get_by_role("button", name="Done").click()
    expect(window.locator(".refusal").filter(has_text="'many'")).to_be_visible()
    step = window.locator("#steps details.step").first
    assert step.get_by_label("Hours it took").input_value() == "70", "what was typed is kept"
    step.get_by_label("Parts came to").fill("3,100")
    step.get_by_role("button", name="Done").click()
    expect(window.locator("#steps .mark").first).to_contain_text("done")
    expect(window.locator(".answer strong")).to_contain_text("more goes in")
    fits(window)
    assert window.evaluate("document.documentElement.scrollHeight") <= 3.3 * PHONE["height"]
    window.locator("#steps details.step summary").first.click()
    window.get_by_role("button", name="Take the tick back").click()
    expect(window.locator("#steps .mark").first).to_contain_text("to do")
