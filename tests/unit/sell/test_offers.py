import json
import math
import time
from dataclasses import replace
from datetime import date, timedelta

import pytest
from scipy.stats import lognorm

from valuation.build.figures import about
from valuation.build.plan import BuildPlan
from valuation.errors import OfferError
from valuation.sell.bands import price_bands
from valuation.sell.offer_log import OfferLog, held_offer_log, read_offer_log, write_offer_log
from valuation.sell.offers import Offer, answer_offer, by_buyer, talks_on
from valuation.text.language import on_day
from valuation.text.plain import plain


@pytest.fixture
def bands(market, plan, as_of):
    return price_bands(market, plan, as_of)


def test_json_has_the_agreed_keys(bands, plan):
    answer = json.loads(json.dumps(plain(answer_offer(bands, plan.sale, Offer(bands.floor)))))
    assert set(answer) >= {"answer", "counter", "why", "profit", "odds_of_better"}


@pytest.mark.parametrize("share", [0.6, 0.8, 0.9, 0.97, 1.0, 1.02, 1.05, 1.1, 1.3])
def test_an_answer_is_never_worth_less_than_taking_or_waiting_and_a_counter_keeps_the_floor(bands, share, plan):
    answer = answer_offer(bands, plan.sale, Offer(share * bands.floor))
    assert answer.value_of_answer >= answer.floor - 1e-9
    if answer.amount >= answer.floor:
        assert answer.answer in ("accept", "counter")
        assert answer.value_of_answer >= answer.amount
    else:
        assert answer.answer in ("counter", "hold")
    if answer.counter is not None:
        assert answer.floor <= answer.counter <= bands.ask
        assert answer.counter > answer.amount
        assert f"say {answer.counter:,.0f}" in answer.sentence
        assert answer.value_of_answer >= 1.005 * max(answer.floor, answer.amount)
    assert answer.profit == pytest.approx(0.96 * answer.amount - bands.outlay)


def test_from_hold_over_counter_to_accept_as_the_offer_rises(bands, plan):
    answers = [answer_offer(bands, plan.sale, Offer(share * bands.floor)).answer for share in (0.4, 0.95, 1.02, 3.0)]
    assert answers == ["hold", "counter", "counter", "accept"]


def test_a_buyer_who_comes_up_is_told_a_number_each_time_and_taken_in_the_end(bands, plan):
    """One bid after the other from a fifth under the estimate to a tenth over it: never a bare no."""
    shares, bids, said = (0.8, 0.86, 0.94, 0.99, 1.04, 1.10), (), []
    for share in shares:
        bid = Offer(share * bands.estimate, bands.prospect.for_sale, "Ruth")
        said.append(answer_offer(bands, plan.sale, bid, earlier=bids))
        bids += (bid,)
    assert all(one.answer in ("counter", "accept") for one in said)
    assert said[0].sentence.startswith(
        f"Ruth offers {bids[0].amount:,.0f}: say {said[0].counter:,.0f}. If that is refused, wait: "
    )
    assert said[-1].answer == "accept" or said[-1].sentence.endswith(
        f"If that is refused, take the {bids[-1].amount:,.0f}."
    )
    assert "This buyer has bid 6 times, up by" in said[-1].place


def test_one_buyers_bids_are_one_buyer_and_only_the_last_counts(bands, plan):
    day = bands.prospect.for_sale
    bids = tuple(Offer(share * bands.estimate, day, "Ruth") for share in (0.8, 0.85, 0.9))
    several = talks_on(bands.prospect, bids, day).after
    alone = talks_on(bands.prospect, (replace(bids[-1], buyer="R"),), day).after
    assert several == alone
    strangers = talks_on(bands.prospect, tuple(replace(bid, buyer="") for bid in bids), day).after
    assert strangers.buyers == 3
    assert strangers.mean < several.mean
    assert [len(one) for one in by_buyer((*bids, Offer(1.0, day, "Tom"), Offer(2.0, day, " ruth ")))] == [1, 4]


def test_two_thirds_of_the_way_is_measured_from_this_buyers_own_first_offer(bands, plan):
    earlier = (Offer(20_000, buyer="Tom"), Offer(30_000, buyer="Ruth"), Offer(33_000, buyer="Tom"))
    answer = answer_offer(bands, plan.sale, Offer(36_000, buyer="Ruth"), earlier=earlier, asked=60_000)
    assert answer.usual_meeting.price == pytest.approx(50_000)


def test_to_hold_names_the_ask_and_the_day_to_think_again(bands, plan):
    low = answer_offer(bands, plan.sale, Offer(0.4 * bands.floor, bands.prospect.for_sale))
    assert low.answer == "hold"
    assert low.hold_until == bands.prospect.last_day
    assert f"hold at {about(bands.ask)} until {on_day(low.hold_until)}" in low.sentence
    assert "let this buyer go" in low.sentence


def test_a_low_opening_offer_after_silence_is_held_only_until_the_floor_is_down_to_it(market, plan, as_of):
    stubborn = replace(plan, sale=replace(plan.sale, walk_away_percent=100))
    bands = price_bands(market, stubborn, as_of)
    listed = bands.prospect.for_sale
    held = [answer_offer(bands, stubborn.sale, Offer(share * bands.floor, listed), asked=share * bands.floor * 1.001)
            for share in (0.93, 0.96)]  # fmt: skip
    assert [one.answer for one in held] == ["hold", "hold"]
    days = [one.hold_until for one in held]
    assert listed < days[1] <= days[0] <= bands.prospect.last_day
    later = answer_offer(bands, stubborn.sale, Offer(held[1].amount, listed), today=days[1] + timedelta(weeks=1))
    assert later.answer != "hold"


def test_odds_of_a_better_offer_fall_as_the_offer_rises(bands, plan):
    odds = [answer_offer(bands, plan.sale, Offer(share * bands.floor)).odds_of_better for share in (0.8, 0.9, 1.0, 1.1)]
    assert odds == sorted(odds, reverse=True)


def test_near_the_deadline_less_is_taken(market, plan, as_of):
    listed = price_bands(market, plan, as_of).prospect.for_sale
    plan = replace(plan, sale=replace(plan.sale, deadline=listed + timedelta(weeks=16)))
    bands = price_bands(market, plan, as_of)
    amount = 0.93 * bands.floor
    early = answer_offer(bands, plan.sale, Offer(amount, listed))
    late = answer_offer(bands, plan.sale, Offer(amount, listed), today=listed + timedelta(weeks=15, days=5))
    assert early.answer != "accept"
    assert late.floor < amount < early.floor
    assert late.value_of_answer >= amount
    assert late.odds_of_better < early.odds_of_better


def test_the_ask_in_force_and_common_practice_are_shown(bands, plan):
    answer = answer_offer(
        bands, plan.sale, Offer(0.9 * 50_000, buyer="A"), asked=50_000, earlier=(Offer(30_000, buyer="A"),)
    )
    assert answer.usual_meeting.price == pytest.approx(30_000 + 2 / 3 * 20_000)
    (note,) = (note for note in answer.notes if note.code == "against_the_ask")
    assert (
        "10 % under the ask of 50,000; talks usually end about 15 % under it (common practice, no source)" in note.text
    )


def test_an_ask_under_the_floor_is_said(bands, plan):
    answer = answer_offer(bands, plan.sale, Offer(100.0), asked=200.0)
    assert any(note.code == "ask_under_floor" for note in answer.notes)


def test_offers_that_all_lie_low_point_back_to_the_estimate(bands, plan):
    middle = bands.estimate * math.exp(bands.prospect.sale.buyers.centre)
    low = (Offer(0.6 * middle),) * 4
    answer = answer_offer(bands, plan.sale, low[-1], earlier=low[:-1])
    assert len(answer.so_far) == 4
    (note,) = (note for note in answer.notes if note.code == "offers_off_the_estimate")
    assert f"worth about {about(answer.worth)}" in note.text
    calm = answer_offer(bands, plan.sale, Offer(middle), earlier=(Offer(middle), Offer(middle)))
    assert not any(note.code == "offers_off_the_estimate" for note in calm.notes)


@pytest.mark.parametrize("amount", [0.0, -5.0, float("nan"), float("inf")])
def test_an_offer_is_money_above_nothing(amount):
    with pytest.raises(OfferError, match="An offer must be money above 0; found"):
        Offer(amount)


def test_an_offer_in_another_currency_is_refused_with_the_mend(bands, plan):
    with pytest.raises(OfferError, match=r"40,000 is in 'EUR' and the estimate in 'USD'\. Convert it to USD"):
        answer_offer(bands, plan.sale, Offer(40_000), currency="EUR")
    assert answer_offer(bands, plan.sale, Offer(40_000), currency="usd").amount == 40_000


def test_a_log_is_begun_added_to_and_read_back(tmp_path):
    file = tmp_path / "haywain.json"
    for offer in (Offer(30_000, date(2027, 6, 1), "first caller", "by telephone"), Offer(33_000, date(2027, 6, 3))):
        with held_offer_log(file) as held:
            log = held.added(offer)
            write_offer_log(file, log)
    assert read_offer_log(file) == log
    assert [offer.amount for offer in log.offers] == [30_000, 33_000]
    assert log.subject == "haywain"
    with pytest.raises(OfferError, match=r"The offer of 2027-05-01 comes after one of 2027-06-03"):
        log.added(Offer(34_000, date(2027, 5, 1)))
    assert read_offer_log(file) == log


def test_a_log_in_toml_is_read(tmp_path):
    file = tmp_path / "log.toml"
    file.write_text(
        'subject = "Haywain"\ncurrency = "USD"\nasked = 45000\nplan = "plan.toml"\n'
        "[[offers]]\ndate = 2027-06-01\namount = 30000\n"
    )
    log = read_offer_log(file)
    assert log == OfferLog("Haywain", "plan.toml", "USD", 45_000.0, (Offer(30_000.0, date(2027, 6, 1)),))
    with pytest.raises(OfferError, match=r"offers are added to a JSON log\. Name it log.json"):
        write_offer_log(file, log)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", r"Cannot read the offer log log.json:.*Mend that place"),
        ("[]", "it needs a list 'offers'"),
        ('{"offers": 3}', "it needs a list 'offers'"),
        ('{"offers": [3]}', r"offer 1 is 3\. Write"),
        ('{"offers": [{"amount": "30m"}]}', r"offer 1 has the amount '30m'\. Write money above 0"),
        ('{"offers": [{"amount": -3}]}', r"offer 1 has the amount -3"),
        ('{"offers": [{"amount": 3, "date": "June"}]}', r"offer 1 has the date 'June'\. Write year-month-day"),
        ('{"asked": "much", "offers": []}', r"'asked' is 'much'"),
    ],
)
def test_a_faulty_log_is_refused(tmp_path, text, words):
    file = tmp_path / "log.json"
    file.write_text(text)
    with pytest.raises(OfferError, match=words):
        read_offer_log(file)


def test_a_missing_log_is_refused(tmp_path):
    with pytest.raises(OfferError, match="No such file"):
        read_offer_log(tmp_path / "none.json")


def test_a_buyer_who_walks_away_leaves_the_floor_and_one_who_stays_the_offer(market, plan, as_of):
    """The worth of the counter by hand: one refused buyer in ten leaves, the others stand by their offer."""
    plan = replace(plan, sale=replace(plan.sale, walk_away_percent=10))
    bands = price_bands(market, plan, as_of)
    answer = answer_offer(bands, plan.sale, Offer(1.2 * bands.floor))
    assert answer.answer == "counter"
    assert answer.amount > answer.floor
    talks, buyers = talks_on(bands.prospect, answer.so_far, None), bands.prospect.sale.buyers
    buyer = lognorm(s=math.hypot(talks.after.doubt, buyers.spread), scale=math.exp(talks.after.mean + buyers.centre))
    taken = buyer.sf(answer.counter) / buyer.sf(answer.amount)
    refused = 0.9 * answer.amount + 0.1 * answer.floor
    assert answer.value_of_answer == pytest.approx(taken * answer.counter + (1 - taken) * refused, rel=1e-6)


@pytest.mark.parametrize("amount", [1e-9, 1.0, 1e6, 1e12])
def test_no_offer_makes_an_absurd_figure(bands, plan, amount):
    answer = answer_offer(bands, plan.sale, Offer(amount), earlier=(Offer(amount),) * 5)
    assert 0.3 * bands.estimate < answer.floor < 3 * bands.estimate
    assert 0.3 * bands.estimate < answer.worth < 3 * bands.estimate


def test_bands_and_an_offer_take_less_than_a_tenth_of_a_second(market, found, as_of):
    def least(work):
        taken = []
        for _ in range(5):
            began = time.process_time()
            work()
            taken.append(time.process_time() - began)
        return min(taken)

    plan = BuildPlan("find", found)
    bands = price_bands(market, plan, as_of)
    assert least(lambda: price_bands(market, plan, as_of)) < 0.1
    assert least(lambda: answer_offer(bands, plan.sale, Offer(bands.floor))) < 0.1
