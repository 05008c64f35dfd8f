"""The buyer-pays price basis: premiums, fees, currencies and outcomes become low/high pairs."""

import datetime as dt

import numpy as np
import pytest

from valuation.comparables import read_comparables
from valuation.comparables.price_basis import as_written
from valuation.schema import parse_schema

TODAY = dt.date(2025, 6, 1)
PLAIN = '[attributes.size]\nrole = "number"\n'
INF = float("inf")


def read(header, *rows, settings=""):
    lines = [f"size,outcome,{header}", *(f"{number},{row}" for number, row in enumerate(rows, start=1))]
    return read_comparables("\n".join(lines).encode(), parse_schema(settings + "\n" + PLAIN), today=TODAY)


def codes(table):
    return [(fault.row, fault.column, fault.code) for fault in table.faults]


def test_outcomes_become_pairs():
    table = read("price", "sold,100", "bid_not_met,100", "asking,100")
    assert table.prices().tolist() == [[100, 100], [100, INF], [0, 100]]
    assert table.outcome_counts() == {"sold": 1, "bid_not_met": 1, "asking": 1, "set_aside": 0}


def test_a_premium_by_row_in_percent_or_money_for_every_outcome():
    table = read(
        "price,premium", "sold,1000,10%", "bid_not_met,1000,100", "asking,1000,10 %", "sold,1000,", "sold,1000,0"
    )
    assert table.prices().tolist() == [[1100, 1100], [1100, INF], [0, 1100], [1000, 1000], [1000, 1000]]
    assert table.sales["premium"].tolist() == [100, 100, 100, 0, 0]
    assert table.sales["price"].tolist() == [1000] * 5


@pytest.mark.parametrize("header", ["premium (%)", "premium percent", "premium (pct)", "premium (rate)"])
def test_a_header_may_say_percent(header):
    aliases = '[columns]\npremium = ["premium percent"]'
    table = read(f"price,{header}", "sold,1000,10", "sold,1000,$50", settings=aliases)
    assert table.sales["premium"].tolist() == [100.0, 50.0]


def test_premium_and_fees_by_venue_where_the_row_gives_none():
    settings = '[venue_premiums]\n"The Hall" = 10\n[venue_fees]\n"The Hall" = 25'
    table = read(
        "price,venue,premium,fees",
        "sold,1000,the hall,,",
        "sold,1000,The Hall,5%,",
        "sold,1000,The Hall,,0",
        "sold,1000,Elsewhere,,",
        "sold,1000,,,",
        settings=settings,
    )
    assert table.sales["premium"].tolist() == [100, 50, 100, 0, 0]
    assert table.sales["fees"].tolist() == [25, 25, 0, 0, 0]
    assert table.sales["low"].tolist() == [1125, 1075, 1100, 1000, 1000]
    assert {note.code: note.text for note in table.notes} == {
        "premium_by_venue": "The venue's premium or fees, as the schema gives them, were added to 3 prices.",
        "venue_without_premium": "The schema gives no premium for Elsewhere: prices there are taken as entered, unless "
        "the row names a premium itself.",
    }


@pytest.mark.parametrize(
    ("price", "premium", "words"),
    [
        ("24500", "10", "The premium '10' would be money, 0.041 % of the price, and looks like a percentage without"),
        ("24500", "0.1%", "The premium '0.1%' would be 0.1 %, which looks like a share written as a percentage."),
        ("24500", "-5%", "The premium '-5%' is below zero."),
        ("24500", "100%", "The premium '100%' would be 100 % of the price."),
        ("24500", "24500", "The premium '24500' would be 100 % of the price."),
        ("24500", "some", "The premium 'some' is not a number."),
        ("24500", "€900", "The premium '€900' is in EUR, but the price is in no named currency."),
    ],
)
def test_a_premium_that_cannot_be_one(price, premium, words):
    table = read("price,premium", f"sold,{price},{premium}", "sold,100,10")
    assert codes(table) == [(2, "premium", "doubtful_premium")]
    assert table.faults[0].why.startswith(words)
    assert (
        table.faults[0].mend
        == "Write a percentage with its sign, such as 10 %, or the premium in money; 0 if there is none."
    )
    assert table.n_usable == 1


def test_venues_that_are_all_known_leave_no_note_but_that_of_the_premium():
    table = read("price,venue,premium", "sold,1000,Hall,0", settings='[venue_premiums]\n"Hall" = 10')
    assert table.notes == ()


def test_small_fees_are_fees():
    assert read("price,fees", "sold,24500,10").sales["low"].tolist() == [24510.0]


def test_currencies_by_given_rates():
    settings = 'currency = "USD"\n[rates]\nEUR = 1.1\nGBP = 1.25'
    table = read(
        "price,currency,premium",
        "sold,1000,EUR,10%",
        "sold,1000,,",
        "sold,£1000,,",
        "asking,$1000,usd,",
        settings=settings,
    )
    assert table.currency == "USD"
    assert table.sales["currency"].tolist() == ["EUR", "USD", "GBP", "USD"]
    assert table.sales["low"].tolist() == pytest.approx([1210, 1000, 1250, 0])
    assert table.sales["high"].tolist() == pytest.approx([1210, 1000, 1250, 1000])
    assert table.sales["premium"].tolist() == pytest.approx([110, 0, 0, 0])


def test_a_header_may_name_the_currency():
    table = read("Price (EUR)", "sold,1000", settings='currency = "USD"\n[rates]\nEUR = 1.1')
    assert table.sales["low"].tolist() == pytest.approx([1100])
    assert read("Price (EUR)", "sold,1000").currency == "EUR"


def test_brackets_of_a_header_that_hold_no_currency_say_nothing():
    assert read("Price (incl. VAT)", "sold,1000").currency == ""
    assert read("Price ($1000)", "sold,1000", settings='currency = "EUR"').sales["currency"].tolist() == ["EUR"]


def test_mixed_currencies_without_a_rate_are_set_aside():
    table = read("price,currency", "sold,1000,USD", "sold,1000,EUR", "sold,1000,USD")
    assert table.currency == "USD"
    assert codes(table) == [(3, "currency", "currency_without_rate")]
    assert table.faults[0].why == "The price is in EUR, the table is in USD, and no rate is given."
    assert 'set currency = "USD" and a rate for EUR under [rates]' in table.faults[0].mend


def test_a_price_without_a_currency_in_a_table_of_several_is_set_aside():
    table = read("price,currency", "sold,1000,USD", "sold,1000,EUR", "sold,1000,")
    assert (4, "currency", "ambiguous_currency") in codes(table)
    assert table.sales["currency"].tolist() in (["EUR"], ["USD"])


def test_a_price_without_a_currency_in_a_table_of_one_is_in_that_one():
    table = read("price,currency", "sold,1000,EUR", "sold,1000,")
    assert table.sales["currency"].tolist() == ["EUR", "EUR"]
    assert [note.text for note in table.notes] == [
        "1 price without a currency: EUR is assumed, the only one that the table names."
    ]


def test_two_currencies_in_one_row():
    table = read("price,currency", "sold,€1000,USD", "sold,$1000,USD")
    assert codes(table) == [(2, "currency", "currency_conflict")]
    assert table.faults[0].why == "The row's currency is USD, but the price is written in EUR."


def test_no_currency_at_all_is_none():
    table = read("price", "sold,1000")
    assert table.currency == ""
    assert table.sales["currency"].tolist() == [""]


def test_rows_without_a_name_are_called_by_their_number():
    assert read("sale,price", "sold,,100", "sold,Blue one,100").sales["sale"].tolist() == ["row 2", "Blue one"]


def test_features_carry_the_date_of_sale():
    table = read("date,price", "sold,2024-05-31,100", "sold,,100")
    assert table.features().columns.tolist() == ["size", "sale_date"]
    assert table.features()["sale_date"].isna().tolist() == [False, True]


@pytest.mark.parametrize(
    ("header", "row", "said"),
    [
        ("price", "sold,6250", "6,250"),
        ("price,premium", "sold,6250,10 %", "6,250 and 10 % premium: 6,875"),
        ("price,premium", "asking,6250,625", "6,250 and 10 % premium: 6,875"),
        ("price,premium", "sold,6250,12.5 %", "6,250 and 12.5 % premium: 7,031.25"),
        ("price,premium", "sold,6250,777", "6,250 and 777 premium: 7,027"),
        ("price,premium", "bid_not_met,5.75k,10 %", "5,750 ('5.75k') and 10 % premium: 6,325"),
        ("price,fees", "sold,6250.00,150", "6,250 and 150 fees: 6,400"),
        ("price,premium,fees", "sold,6250,10%,150", "6,250, 10 % premium and 150 fees: 7,025"),
        ("price,currency", "sold,8000,CAD", "8,000 CAD, at 0.73: 5,840 USD"),
        ("price,currency,premium,fees", "sold,8000,CAD,10 %,100",
         "8,000 CAD, 10 % premium and 73 USD fees, at 0.73: 6,497 USD"),
        ("price", "sold,about 19.000", "19,000"),
        ("price", "sold,6250.5", "6,250.50"),
    ],
)  # fmt: skip
def test_a_price_is_said_as_the_owner_wrote_it_with_what_was_added(header, row, said):
    table = read(header, row, settings='currency = "USD"\n[rates]\nCAD = 0.73\n')
    assert as_written(table, 2) == said
    total = float(said.split(": ")[-1].split()[0].replace(",", ""))
    assert total == pytest.approx(np.nanmin(np.where(table.prices() == 0, INF, table.prices())))


def test_how_a_price_is_written_is_no_other_sale():
    assert read("price", "sold,5750").fingerprint == read("price", "sold,5.75k").fingerprint
