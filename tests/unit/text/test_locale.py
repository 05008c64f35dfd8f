"""Money, dates and units as a place writes them."""

import datetime as dt

import pytest

from valuation.errors import SheetError
from valuation.text.locale import LOCALES, Locale, locale_from
from valuation.text.money import exact_money
from valuation.view import as_money, outcome_words


@pytest.mark.parametrize(
    ("name", "money", "date", "road", "paper"),
    [
        ("en-US", "USD\xa012,345.60", "October\xa09,\xa02026", "71,000\xa0miles", "us-letter"),
        ("de-DE", "12.345,60\xa0USD", "9\xa0October\xa02026", "114.263\xa0km", "a4"),
        ("fr-FR", "12\u202f345,60\xa0USD", "9\xa0October\xa02026", "114\u202f263\xa0km", "a4"),
        ("sv-SE", "12\xa0345,60\xa0USD", "2026-10-09", "114\xa0263\xa0km", "a4"),
        ("international", "USD\xa012,345.60", "9\xa0October\xa02026", "71,000\xa0miles", "a4"),
    ],
)
def test_each_place_writes_in_its_own_way(name, money, date, road, paper):
    locale = LOCALES[name]
    assert locale.money(12345.6, "USD", cents=True) == money
    assert locale.date(dt.date(2026, 10, 9)) == date
    assert locale.quantity(71_000, "miles") == road
    assert locale.paper == paper


def test_no_currency_is_assumed():
    assert Locale().money(1200) == "1,200"


def test_kilometres_become_miles_where_people_drive_miles():
    assert LOCALES["en-US"].quantity(160_934.4, "km") == "100,000\xa0miles"
    assert LOCALES["en-US"].quantity(5, "seats") == "5\xa0seats"


@pytest.mark.parametrize(("amount", "said"), [(45_310, "45,300"), (987.6, "988"), (-18_449, "−18,400"), (0, "0")])
def test_an_estimate_is_said_in_three_digits(amount, said):
    assert Locale().about(amount) == said


def test_signs_and_open_ends():
    assert Locale().money(0.004, cents=True, sign=True) == "0.00"
    assert Locale().money(-0.004, cents=True, sign=True) == "0.00"
    assert Locale().money(3, sign=True) == "+3.00"
    assert Locale().money(float("inf"), "USD") == "no limit"
    assert Locale().date(None) == "undated"


def test_a_shop_states_its_own():
    own = locale_from({"name": "de-CH", "paper": "us-letter"})
    assert own.money(1234.5, cents=True) == "1’234.50"
    assert own.paper == "us-letter"
    assert locale_from(own.as_dict()) == own
    assert locale_from(None) == LOCALES["international"]


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("tlh", "in the locale 'tlh': it is not known. Name one of international"),
        ({"colour": "red"}, "a locale with 'colour': no such setting"),
        ({"paper": "a3"}, "a locale whose paper is 'a3'. Write one of 'a4', 'us-letter'"),
        ({"decimal": ","}, "the decimal mark is ',' and the thousands separator ','"),
    ],
)
def test_refusals_by_their_words(setting, words):
    with pytest.raises(SheetError, match=words):
        locale_from(setting)


def test_a_sign_of_a_currency_stands_before_the_amount_as_people_write_it():
    assert LOCALES["en-US"].money(18_300, "$") == "$18,300"
    assert LOCALES["en-GB"].money(-500, "£", sign=True) == "−£500"
    assert LOCALES["en-GB"].money(500, "£", sign=True) == "+£500"
    assert LOCALES["de-DE"].money(18_300, "€") == "18.300\xa0€"
    assert as_money(18_300.0, "$") == "$18,300"
    assert exact_money(6249.5, "€") == "€6,249.50"


def test_one_bid_is_not_bids():
    assert outcome_words({"sold": 1, "bid_not_met": 1, "asking": 0, "set_aside": 0}).startswith("1 sold, 1 bid not met")
