"""Sentences of the sheets with a share or a direction, on figures that are known beforehand."""

import dataclasses
import json

import pytest

from valuation.answers.explain import explain
from valuation.schema import parse_vehicle
from valuation.sheets import deal_page
from valuation.sheets.buyer import buyer_sheet
from valuation.sheets.buyer_page import buyer_page
from valuation.text.locale import locale_from

LOCALE = locale_from("international")


@pytest.mark.parametrize("condition", ["derelict", "driver", "show"])
def test_the_estimate_is_held_against_sales_that_are_alike(model, table, condition):
    cells = {"family": "Penhurrow Haywain", "model_year": 1950, "condition": condition}
    found = explain(model, parse_vehicle(cells, model.schema, condition))
    sales = table.sales.join(table.attributes)
    alike = (sales["outcome"] == "sold") & (sales["family"] == "Penhurrow Haywain") & (sales["condition"] == condition)
    page = buyer_page(buyer_sheet(model, found), LOCALE)
    assert f" of {alike.sum()} sales like it (Penhurrow Haywain, condition: {condition}) " in page["place"]["title"]
    assert "of the table brought more" not in str(page)


def test_the_interval_on_the_sheet_goes_from_the_lower_end_to_the_upper(buyer):
    page = json.dumps(buyer_page(buyer, LOCALE), ensure_ascii=False, default=str)
    low, high = (LOCALE.about(value, buyer.currency) for value in (buyer.low, buyer.high))
    assert buyer.low < buyer.estimate < buyer.high
    assert f"In eight such sales in ten the price is expected to lie between {low} and {high}." in page


@pytest.mark.parametrize(("costs", "words"), [(350.0, "costs 350"), (-350.0, "brings 350")])
def test_a_delay_that_pays_is_not_said_to_cost(deal, costs, words):
    builds = [{**one, "schedule": {**one["schedule"], "delay_costs_per_week": costs}} for one in deal.builds]
    page = str(deal_page.deal_page(dataclasses.replace(deal, builds=tuple(builds)), LOCALE))
    assert f"A week's delay of the whole build {words}." in page
