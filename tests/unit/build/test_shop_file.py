"""What holds for all plans stands once in shop.toml; a plan states only its own."""

from pathlib import Path

import pytest

from valuation.build.plan_file import parse_plan, read_plan
from valuation.build.shop_file import SHOP_TEMPLATE, read_shop
from valuation.errors import PlanError

PLAN = """
[vehicle]
condition = "project"
[[steps]]
use = "brakes"
[[steps]]
use = "brakes"
id = "again"
cost = 300
[shop]
labour_rate = 50
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "shop.toml").write_text(SHOP_TEMPLATE)
    (tmp_path / "plans").mkdir()
    return tmp_path


def test_a_plan_takes_the_shops_settings_and_states_only_its_own(folder, schema):
    (folder / "plans" / "plan.toml").write_text(PLAN)
    plan = read_plan(folder / "plans" / "plan.toml", schema)
    assert plan.shop.labour_rate == 50
    assert (plan.shop.crew, plan.shop.bays, plan.shop.holding_per_week) == (2, 3, 30)
    assert plan.shop.overrun.one_in_ten == pytest.approx(1.35)
    assert [text.split(":")[0] for text in plan.defaults] == ["Sale", "Goal"]


def test_steps_come_from_the_book_with_what_differs(folder, schema):
    (folder / "plan.toml").write_text(PLAN)
    first, second = read_plan(folder / "plan.toml", schema).steps
    assert (first.id, first.cost.likely, first.sets) == ("brakes", 2000, {"condition": "runner"})
    assert (second.id, second.cost.likely, second.hours.likely) == ("again", 300, 70)


def test_a_plan_without_a_shop_file_stands_alone(tmp_path, schema):
    (tmp_path / "below").mkdir()
    text = PLAN.replace('use = "brakes"', 'id = "brakes"', 1).replace('use = "brakes"\n', "")
    (tmp_path / "below" / "plan.toml").write_text(text)
    assert read_plan(tmp_path / "below" / "plan.toml", schema).shop.holding_per_week == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "labour = 3",
            r"shop\.toml: labour is not known\. Known here: shop, overrun, purchase, sale, goal, paper and steps",
        ),
        ("shop = 3", r"shop\.toml: shop is 3\. Start it with \[shop\]"),
        ("[shop", r"shop\.toml: it .*Mend that line"),
    ],
)
def test_a_shop_file_that_holds_something_else_is_refused(tmp_path, text, words):
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(PlanError, match=words):
        read_shop(tmp_path / "shop.toml")


def test_a_step_that_the_book_does_not_have_is_refused_with_what_it_has(folder, schema):
    shop = read_shop(folder / "shop.toml")
    with pytest.raises(
        PlanError, match=r"a step uses 'brake', which the book .* It holds: brakes, paint\. Did you mean"
    ):
        parse_plan(PLAN.replace('"brakes"', '"brake"'), schema, shop=shop)
    with pytest.raises(PlanError, match="It holds none"):
        parse_plan(PLAN, schema)


def test_what_the_plan_and_the_shop_leave_out_is_refused_as_ever(folder, schema):
    shop = {"shop": {"wages": 3}}
    with pytest.raises(PlanError, match=r"\[shop\] wages is not known"):
        parse_plan(PLAN.replace('use = "brakes"', 'id = "x"', 1).replace('use = "brakes"\n', ""), schema, shop=shop)
