"""Every form of every page with bad input, with scripts and without; and a desk that does not answer."""

import re

import pytest
from playwright.sync_api import expect

from docs.pages import arrive

pytestmark = [pytest.mark.browser, pytest.mark.slow]
PHONE = {"width": 390, "height": 844}
FINE = re.compile(
    r"/comparables/bring/|/(stop|demo|leave|as-it-stands|for-sale|photos|as-it-came|sign-in|sign-out|copy|archive|back"
    r"|undo|redo|put-back|mend|sheets)$"
)
"""Forms without a field that could be wrong, or that stand on no lasting page; each has its test elsewhere."""
BAD = {
    "/vehicles/5/price": ("fees", "x12"),
    "/vehicles/5/offers": ("amount", "38oo0"),
    "/vehicles/5/offers/3/answer": ("counter", "many"),
    "/vehicles/5/offers/3/correction": ("amount", "38oo0"),
    "/vehicles/5/sale": ("price", "forty"),
    "/track-record/sales/1": ("price", "forty"),
    "/vehicles": ("a.model_year", "minus two"),
    "/vehicles/5/worth": ("a.model_year", "minus two"),
    "/vehicles/1/bought": ("bought_for", "nine"),
    "/vehicles/1/name": ("name", " "),
    "/vehicles/1/correction": ("a.model_year", "minus two"),
    "/vehicles/1/plans": ("shop.crew", "two"),
    "/vehicles/1/pay": ("price", "nine"),
    "/vehicles/2/work": ("cost", "many"),
    "/vehicles/2/work/extra": ("cost", "many"),
    "/shop": ("shop.crew", "two"),
    "/comparables": ("pasted", "one column"),
    "/comparables/1/headers": ("", ""),
    "/comparables/1/name": ("name", " "),
    "/comparables/1/sales/new": ("f.2", "forty"),
    "/comparables/1/sales/3": ("f.2", "x" * 33_000),
    "/comparables/1/sales/3/set-aside": ("reason", "yes"),
}
"""For each form the field to fill in badly, and what to write there."""
PAGES = ["/", "/comparables/bring", "/comparables/1", "/comparables/1/sales/new", "/comparables/1/sales/3",
         "/vehicles/new?table=1", "/vehicles/5/worth", "/vehicles/5/price",
         "/vehicles/1", "/vehicles/1/photos", "/vehicles/1/plans", "/vehicles/1/pay", "/vehicles/1/work",
         "/vehicles/2/work", "/shop", "/track-record",
         "/help"]  # fmt: skip


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_every_form_of_every_page_says_beside_the_field_what_is_wrong(demo_desk, opened, fits, scripts):
    window = opened(demo_desk, java_script_enabled=scripts)
    tried = set()
    for address in PAGES:
        arrive(window, address)
        forms = window.locator('form[method="post"]')
        actions = [one.get_attribute("action") for one in forms.all()]
        assert all(one.get_attribute("hx-boost") == "true" for one in forms.all()), address
        for place, action in enumerate(actions):
            if FINE.search(action):
                continue
            assert action in BAD, f"{address} has a form that no bad input is written for: {action}"
            if not BAD[action][0]:
                continue
            arrive(window, address)
            form = window.locator('form[method="post"]').nth(place)
            if try_badly(window, form, action):
                tried.add(action)
                if scripts:  # the width can only be asked of a window with scripts
                    fits(window)
    assert tried == {action for action, (name, _) in BAD.items() if name}


def try_badly(window, form, action):
    """Send a form with a bad entry and hold what comes back; ``False`` where this one has no such field."""
    name, text = BAD[action]
    field = form.locator(f'[name="{name}"]')
    if not field.count():
        return False
    unfold(form)
    for needed in form.locator("[required]").all():
        if not needed.input_value():
            needed.fill("7" if needed.get_attribute("inputmode") else "Something")
    if len(text) > 999:
        field.first.evaluate("one => one.removeAttribute('maxlength')")
    field.first.fill(text)
    main = form.locator("button.main")
    (main if main.count() else form.locator("button[type=submit]")).first.click()
    said = window.locator(".refusal:not(#what-if .refusal)").first
    said.wait_for()
    assert said.is_visible()
    assert len(said.inner_text()) > 20
    again = window.locator(f'form[method="post"] [name="{name}"]').filter(visible=True)
    assert text.strip() in [one.input_value().strip() for one in again.all()], f"{action}: what was typed is gone"
    wrong = window.locator("[aria-invalid=true]:visible")
    described = [one.get_attribute("aria-describedby") or "" for one in wrong.all()]
    if any("refusal-" in one for one in described):
        number = next(part for one in described for part in one.split() if part.startswith("refusal-"))
        assert window.locator(f"#{number}").is_visible()
        focus = window.locator("[autofocus]").first
    else:
        focus = window.locator("#refusal").first
    assert focus.evaluate("one => document.activeElement === one"), f"{action}: the focus is elsewhere"
    return True


def newcomer(window):
    """The form for an offer from a new buyer, unfolded."""
    form = window.locator("form:has(#amount)")
    unfold(form)
    return form


def unfold(form):
    """Open the folded parts around and inside a form by its summaries, as a person would."""
    for summary in form.locator("xpath=ancestor::details/summary").all():
        if summary.locator("xpath=..").get_attribute("open") is None:
            summary.click()
    for summary in form.locator("details > summary").all():
        if summary.locator("xpath=..").get_attribute("open") is None:
            summary.click()


def test_a_desk_that_does_not_answer_is_said_in_words_and_nothing_typed_is_lost(demo_desk, chromium):
    context = chromium.new_context(base_url=demo_desk)
    window = context.new_page()
    window.goto("/vehicles/5/price")
    offer = newcomer(window)
    offer.locator("[name=amount]").fill("38000")
    window.route("**/vehicles/5/offers", lambda route: route.abort())
    offer.get_by_role("button").click()
    said = offer.locator(".refusal")
    said.wait_for()
    assert "No answer came" in said.inner_text()
    assert said.evaluate("one => document.activeElement === one")
    assert offer.locator("[name=amount]").input_value() == "38000"
    window.unroute("**/vehicles/5/offers")
    window.route("**/vehicles/5/offers", lambda route: route.fulfill(
        status=500, content_type="application/problem+json", body='{"detail": "The service met an error."}'
    ))  # fmt: skip
    offer.get_by_role("button").click()
    window.get_by_text("The service met an error. What you typed still stands here.").wait_for()
    assert offer.locator(".refusal").count() == 1
    assert offer.locator("[name=amount]").input_value() == "38000"
    context.close()


def test_an_answer_that_takes_too_long_is_said_in_words(demo_desk, chromium):
    context = chromium.new_context(base_url=demo_desk)
    window = context.new_page()
    window.goto("/vehicles/5/price")
    window.evaluate("htmx.config.timeout = 300")
    held = []
    window.route("**/vehicles/5/offers", lambda route: held.append(route))
    offer = newcomer(window)
    offer.locator("[name=amount]").fill("38000")
    offer.get_by_role("button").click()
    window.get_by_text("The desk has not answered").wait_for()
    assert offer.locator("[name=amount]").input_value() == "38000"
    context.close()


def test_a_refusal_on_a_telephone_fits_and_is_seen(demo_desk, opened, fits):
    window = opened(demo_desk, PHONE)
    window.goto("/vehicles/5/price")
    form = newcomer(window)
    form.locator("#amount").fill("38oo0")
    form.get_by_role("button").click()
    window.locator("#refusal-0, [id^=refusal-]").first.wait_for()
    expect(window.locator("#amount")).to_be_in_viewport(timeout=10_000)
    expect(window.locator("#amount")).to_be_focused()
    fits(window)
