"""The price page of a vehicle: what is known fills it, each buyer has a thread, and the sale follows from it."""

import re

import pytest

HTML = {"accept": "text/html"}


def settled(client, answer):
    while answer.status_code == 303 or "data-reload" in answer.text:
        answer = client.get(answer.headers.get("location", str(answer.url)), headers=HTML)
    assert answer.status_code == 200, re.sub(r"<[^>]+>", " ", answer.text)
    return answer.text


def threads_of(client, address):
    return client.get(f"/api/v1{address}/offers", params={"wait": 60}).json()


@pytest.fixture(scope="module")
def own(own_demo, vehicle):
    """Address of a vehicle whose price is set."""
    estimate = own_demo.post("/api/v1/estimates", json={"vehicle": {**vehicle, "name": "the talked of"}}).json()
    address = own_demo.get("/price", params={"estimate": estimate["id"]}).headers["location"].removesuffix("/price")
    form = {"offers_per_month": "2", "weeks_to_sell": "6", "put_in": "30000"}
    settled(own_demo, own_demo.post(f"{address}/price", data=form))
    return address


def test_the_answer_stands_first_and_what_was_not_told_beside_it(own_demo, own):
    text = settled(own_demo, own_demo.get(f"{own}/price"))
    top = text[: text.index('id="offers"')]
    assert re.search(r"<h1 class=\"say\">Ask [\d,]+, expect about [\d,]+ within", top)
    assert "Counted as nothing, since not told: holding, a seller&#39;s fee and other costs of selling." in top
    assert 'name="put_in" value="30000"' in text


def test_two_buyers_have_a_thread_each_and_the_better_bid_is_answered_first(own_demo, own):
    for amount, who in (("36000", "Ruth"), ("41000", "Otto"), ("38000", "ruth ")):
        assert own_demo.post(f"{own}/offers", data={"amount": amount, "who": who}).status_code == 303
    told = threads_of(own_demo, own)
    assert [(one["buyer"], [bid["amount"] for bid in one["bids"]]) for one in told["threads"]] == [
        ("Otto", [41_000]), ("ruth", [38_000, 36_000]),
    ]  # fmt: skip
    assert told["sentence"].startswith("2 offers wait for your answer; the best is 41,000 from Otto.")
    assert "By what was offered until now, take nothing under " in told["sentence"]
    otto, ruth = told["threads"]
    assert told["floor"] == otto["advice"]["floor"] == pytest.approx(ruth["advice"]["floor"])
    assert ruth["sentence"].endswith("Otto offers more, 41,000: answer that first.")
    assert "offers more" not in otto["sentence"]
    heard = [one["amount"] for one in ruth["advice"]["so_far"]]
    assert sorted(heard) == [36_000, 38_000, 41_000], "what Otto offered before is heard too"
    text = settled(own_demo, own_demo.get(f"{own}/price"))
    assert text.count('<article class="talk"') == 2
    assert "The talks, day by day" in text


PLAN = """name = "as it stands"
[vehicle]
family = "Penhurrow Haywain"
model_year = 1952
condition = "driver"
"""


def test_the_deal_sheet_says_of_the_talks_what_the_page_says(own_demo, own):
    plan = own_demo.post(f"/api/v1{own}/plans", json={"plan": PLAN})
    assert plan.status_code == 201, plan.text
    asked = {"kind": "deal", "subject": "the talked of"}
    made = own_demo.post("/api/v1/sheets", json=asked, params={"wait": 300})
    assert made.status_code == 201, made.text
    html = own_demo.get(made.json()["file"], params={"face": "html"}).text
    part = html[html.index("Offers, buyer by buyer") : html.index("<h2>Good to know")]
    assert re.findall(r"<p>([^<]*)</p>", part) == [one["sentence"] for one in threads_of(own_demo, own)["threads"]]
    assert re.findall(r'<th scope="row">([^<]*)</th>', part) == ["Ruth", "ruth", "Otto"]


def test_each_is_answered_in_its_place_and_what_was_asked_fills_the_next_bid(own_demo, own):
    ruth = next(one for one in threads_of(own_demo, own)["threads"] if one["buyer"] == "ruth")
    bid = ruth["bids"][0]["offer"]
    given = own_demo.post(f"{own}/offers/{bid}/answer", data={"answer": "counter", "counter": "43500"})
    assert given.status_code == 303
    ruth = next(one for one in threads_of(own_demo, own)["threads"] if one["buyer"] == "ruth")
    assert (ruth["state"], ruth["propose"], ruth["advice"]) == ("waiting", 43_500, None)
    assert re.match(r"You asked ruth for 43,500 on .+, against 38,000\. It is the buyer's turn\.", ruth["sentence"])
    text = settled(own_demo, own_demo.get(f"{own}/price"))
    form = text[text.index("Another offer from ruth") :].partition("</form>")[0]
    assert 'name="amount" required inputmode="decimal" autocomplete="off" value="43500"' in form
    assert 'name="who" value="ruth"' in form


def test_a_mistaken_bid_is_corrected_in_place_and_moves_to_the_thread_of_its_buyer(own_demo, own):
    otto = next(one for one in threads_of(own_demo, own)["threads"] if one["buyer"] == "Otto")
    entered = {"amount": "41500", "who": "Ottilie", "offered_on": otto["bids"][0]["offered_on"], "reason": "misheard"}
    number = otto["bids"][0]["offer"]
    assert own_demo.post(f"{own}/offers/{number}/correction", data=entered).status_code == 303
    names = [one["buyer"] for one in threads_of(own_demo, own)["threads"]]
    assert sorted(names) == ["Ottilie", "ruth"]
    text = settled(own_demo, own_demo.get(f"{own}/price"))
    assert "misheard" in text
    assert "from was Otto" in text


def test_a_refused_answer_stands_beside_its_field_with_what_was_typed(own_demo, own):
    number = next(one for one in threads_of(own_demo, own)["threads"] if one["buyer"] == "Ottilie")["bids"][0]["offer"]
    page = {**HTML, "referer": str(own_demo.base_url.join(f"{own}/price"))}
    typed = {"answer": "counter", "counter": "many"}
    answer = own_demo.post(f"{own}/offers/{number}/answer", data=typed, headers=page)
    assert answer.status_code == 422
    form = answer.text[answer.text.index(f'id="counter-{number}"') - 200 :].partition("</form>")[0]
    assert 'value="many"' in form
    assert "Cannot use &#39;many&#39;" in form


def test_the_accepted_bid_fills_the_sale_and_the_sale_is_set_against_the_estimate(own_demo, own):
    number = next(one for one in threads_of(own_demo, own)["threads"] if one["buyer"] == "Ottilie")["bids"][0]["offer"]
    own_demo.post(f"{own}/offers/{number}/answer", data={"answer": "accept", "counter": "left over"})
    told = threads_of(own_demo, own)
    assert told["sentence"] == "The 41,500 of Ottilie is accepted."
    assert told["to_record"] == {"buyer": "Ottilie", "price": 41_500}
    text = settled(own_demo, own_demo.get(f"{own}/price"))
    form = text[text.index(f'action="{own}/sale"') :].partition("</form>")[0]
    assert 'name="price" required inputmode="decimal" autocomplete="off" value="41500"' in form
    assert 'name="buyer" maxlength="200" autocomplete="off" value="Ottilie"' in form
    answer = own_demo.post(f"{own}/sale", data={"price": "41500", "buyer": "Ottilie", "kind": "private"})
    assert answer.headers["location"].startswith(f"{own}/price")
    (sold,) = threads_of(own_demo, own)["sold"]
    assert sold["sentence"].startswith("Sold for 41,500 on ")
    (sale,) = own_demo.get("/api/v1/sales", params={"subject": "the talked of"}).json()
    assert sale["remark"] == "to Ottilie"
    page = settled(own_demo, own_demo.get(f"{own}/price"))
    assert re.search(r"<h1[^>]*>Sold for 41,500 on ", page), "the sale stands first, not what to ask"
    assert page.count("Sold for 41,500 on ") == 1
    assert re.search(r"the highest bid is 41,500 from Ottilie, (over|under) the floor of that day, ", page)
    assert "Record the sale when it is paid" not in page
    assert "An offer from a new buyer" not in page
    assert "Take it into the table of sales?" in page


def test_the_address_of_before_leads_to_the_vehicles_own_page(own_demo, vehicle):
    own_demo.post("/api/v1/estimates", json={"vehicle": {**vehicle, "name": "worked on"}})
    address = own_demo.get("/price", params={"estimate": 1}).headers["location"]
    assert re.fullmatch(r"/vehicles/\d+/price", address)
    assert own_demo.get("/price").headers["location"] == "/"
