import pytest

from valuation.build.plan import ShopSettings, Step
from valuation.build.terms import Event, Goal, Purchase, SaleTerms
from valuation.errors import PlanError


@pytest.mark.parametrize(
    "purchase", [Purchase(), Purchase(fee_percent=10), Purchase(fee_percent=12, fee_minimum=500, tax_percent=8)]
)
@pytest.mark.parametrize("price", [0.0, 100.0, 4166.66, 4166.67, 25_000.0])
def test_the_price_for_a_sum_is_the_one_that_costs_it(purchase, price):
    assert purchase.price_for(purchase.paid(price)) == pytest.approx(price, abs=1e-9)


def test_a_sum_that_does_not_cover_the_least_fee_leaves_nothing_for_the_owner():
    purchase = Purchase(fee_minimum=500)
    assert purchase.price_for(300) == 0
    assert purchase.price_for(-200) == -200


def test_fee_tax_and_least_fee():
    purchase = Purchase(fee_percent=10, fee_minimum=300, tax_percent=5, fees=50, transport=20)
    assert purchase.paid(1000) == 1000 + 50 + 300
    assert purchase.paid(10_000) == 10_000 + 500 + 1000
    assert purchase.fixed == 70


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Purchase(asked=-1), "'asked' must be 0 or more"),
        (lambda: Purchase(fee_percent=float("nan")), "'fee_percent' must be 0 or more"),
        (lambda: ShopSettings(labour_rate=-3), "'labour_rate' must be 0 or more"),
        (lambda: SaleTerms(fee_percent=60, tax_percent=40), "together they must stay below 100"),
        (lambda: SaleTerms(offers_per_month=float("inf")), "'offers_per_month' must be 0.01 or more and at most 1,000"),
        (lambda: SaleTerms(offer_spread_percent=0), "'offer_spread_percent' must be 0.1 or more and at most 100"),
        (lambda: SaleTerms(settle_under_ask_percent=100), "'settle_under_ask_percent' must be 0 or more and below 100"),
        (lambda: SaleTerms(walk_away_percent=101), "'walk_away_percent' must be 0 or more and at most 100"),
        (lambda: Goal(sure_percent=0), r"above 0 and below 100 \(percent\); found 0"),
        (lambda: Goal(profit=-1), "'profit' must be 0 or more"),
        (lambda: Step("s", people=-1), "'people' must be 0 or more and at most 100"),
        (lambda: Event("e", None, chances={"show": {"local": -0.1}}), "must be 0 or more and sum to at most 1"),
    ],
)
def test_impossible_settings_are_refused(make, words):
    with pytest.raises(PlanError, match=words):
        make()


def test_a_multiple_of_outlay_is_a_margin():
    assert Goal.times_outlay(2).margin_percent == 100
    assert Goal(100, sure_percent=None).words == "at least 100 % over outlay, on average"
    assert Goal(0, profit=5000).words == "at least 5,000 in money, with 75 % probability"
