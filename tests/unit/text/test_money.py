"""Amounts with signs, codes and percent."""

import dataclasses

import pytest

from valuation.text.money import Money, currency_name, read_money, same_currency
from valuation.text.reading import Reading

NONE = Reading()
EURO = Reading(currency="EUR", currencies=("Taler",))


@pytest.mark.parametrize(
    ("text", "amount", "currency"),
    [
        ("24500", 24500, ""),
        ("$24,500", 24500, "$"),
        ("-$5", -5, "$"),
        ("$ -5", -5, "$"),
        ("US$ 24,500.00", 24500, "USD"),
        ("24.500,00 €", 24500, "EUR"),
        ("€24500", 24500, "EUR"),
        ("£24,500", 24500, "GBP"),
        ("USD 24500", 24500, "USD"),
        ("24 500 sek", 24500, "SEK"),
        ("24,500.-", 24500, ""),
        ("CHF 24'500.--", 24500, "CHF"),
    ],
)
def test_amounts(text, amount, currency):
    assert read_money(text, NONE) == Money(amount, currency)


def test_percent():
    assert read_money("12,5 %", NONE) == Money(12.5, percent=True)


@pytest.mark.parametrize("text", ["24500 OBO", "about 24500", "$", "24500 or 25000", "12 weeks"])
def test_other_words_beside_a_number_are_not_passed_over(text):
    with pytest.raises(ValueError, match="is not a number"):
        read_money(text, NONE)


def test_a_bare_dollar_is_the_shops_own_or_the_us_one():
    assert currency_name("$", dataclasses.replace(NONE, currency="CAD")) == "CAD"
    assert currency_name("$", EURO) == "USD"
    assert currency_name("$", NONE) == "$"


def test_the_schemas_own_words_for_currencies_count():
    assert currency_name("taler", EURO) == "Taler"
    assert currency_name("eur", EURO) == "EUR"


def test_which_names_can_be_one_currency():
    assert same_currency("$", "CAD")
    assert same_currency("EUR", "EUR")
    assert not same_currency("$", "EUR")
    assert not same_currency("USD", "CAD")


@pytest.mark.parametrize(
    ("text", "amount", "currency"),
    [("24k", 24000, ""), ("5.75k", 5750, ""), ("$9.25k", 9250, "$"), ("12 K GBP", 12000, "GBP"), ("5,75k", 5750, "")],
)
def test_thousands_are_read_in_full(text, amount, currency):
    money = read_money(text)
    assert (money.amount, money.currency, money.thousands) == (amount, currency, True)


@pytest.mark.parametrize("text", ["9.250k", "k", "24kk", "24kg", "1e12k"])
def test_what_is_no_amount_in_thousands(text):
    with pytest.raises(ValueError, match=r"number|either|more than"):
        read_money(text)
