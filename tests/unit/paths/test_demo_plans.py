from collections import defaultdict
from datetime import date
from pathlib import Path

import valuation
from benchmarks.stated_prices import StatedPrices
from valuation.build.plan_file import read_plan
from valuation.paths.deal_path import check_plan, same_vehicle
from valuation.schema.reader import read_schema

DATA = Path(valuation.__file__).parents[1] / "data"


def test_the_demo_has_two_finds_with_three_plans_each_that_can_be_carried_out():
    schema = read_schema(DATA / "schema.toml")
    market = StatedPrices(schema, 30_000)
    finds = defaultdict(list)
    for file in sorted((DATA / "plans").glob("*.toml")):
        plan = read_plan(file, schema)
        check_plan(plan, market, date(2026, 10, 31))
        finds[plan.found.attributes["family"]].append(plan)
    assert {family: len(plans) for family, plans in finds.items()} == {"Penhurrow Haywain": 3, "Tarrowby Linnet": 3}
    for plans in finds.values():
        assert same_vehicle(plans) == plans[0].found
        assert all(plan.purchase.asked and plan.shop.overrun.typical > 1 for plan in plans)
        assert all(plan.defaults == () for plan in plans)
