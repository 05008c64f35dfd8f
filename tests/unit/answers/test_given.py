"""What a question is given is read alike for every face."""

from types import SimpleNamespace

import pytest

from valuation.answers.given import amount_in, model_years, plan_of_file, read_plans, schema_for, table_near
from valuation.errors import PlanError, TableError
from valuation.schema import default_schema
from valuation.text.money import Money

PLAN = 'name = "driver"\n[vehicle]\nmodel_year = 1955\n[[steps]]\nid = "brakes"\ncost = 1500\n'


@pytest.fixture
def model():
    """What of a model the reading of a file needs."""
    return SimpleNamespace(schema=default_schema(), currency="GBP")


def test_plans_are_read_from_text_and_from_data_alike():
    data = {"name": "driver", "vehicle": {"model_year": 1955}, "steps": [{"id": "brakes", "cost": 1500}]}
    first, second = read_plans([PLAN, data], default_schema())
    assert first.steps == second.steps
    assert (first.found, first.name) == (second.found, "driver")


def test_a_plan_that_cannot_be_used_is_named_by_its_place():
    with pytest.raises(PlanError, match="Cannot use the plan number 2:"):
        read_plans([PLAN, {"vehicle": {"model_year": 1955}}], default_schema())
    (as_it_stands,) = read_plans([{"vehicle": {"model_year": 1955}}], default_schema(), steps_needed=False)
    assert as_it_stands.steps == ()


def test_a_file_is_a_plan_or_a_vehicle_by_what_it_holds(tmp_path, model):
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "car.toml").write_text('name = "Tern"\nmodel_year = 1951\n', encoding="utf-8")
    assert [step.id for step in plan_of_file(tmp_path / "plan.toml", model).steps] == ["brakes"]
    car = plan_of_file(tmp_path / "car.toml", model)
    assert (car.name, car.steps, car.currency, car.found.attributes["model_year"]) == ("Tern", (), "GBP", 1951)


@pytest.mark.parametrize(
    ("text", "years"), [("1950-1953", [1950, 1951, 1952, 1953]), ("1950", [1950]), ("1900-1959", range(1900, 1960))]
)
def test_model_years_are_a_span_or_one(text, years):
    assert model_years(text) == list(years)


@pytest.mark.parametrize("text", ["1953-1950", "1900-1960", "1950.5", "old", "1-2", ""])
def test_what_is_no_span_of_model_years_is_refused(text):
    with pytest.raises(PlanError, match="Write the first and the last, such as 1948-1956: at most 60"):
        model_years(text)


def test_the_schema_is_the_one_named_else_the_one_beside_else_the_default(tmp_path):
    table, other = tmp_path / "sales.csv", tmp_path / "other.toml"
    assert schema_for(table).fingerprint() == default_schema().fingerprint()
    for file, name in ((tmp_path / "schema.toml", "beside"), (other, "named")):
        file.write_text(f'name = "{name}"\n[attributes.length]\nrole = "number"\n', encoding="utf-8")
    assert schema_for(table).name == "beside"
    assert schema_for(table, other).name == "named"


def test_a_table_is_found_beside_the_file_or_one_folder_above(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    plans = tmp_path / "shop" / "plans"
    plans.mkdir(parents=True)
    with pytest.raises(TableError, match="no table was named"):
        table_near(plans / "one.toml")
    (tmp_path / "shop" / "comparables.xlsx").touch()
    assert table_near(plans / "one.toml") == tmp_path / "shop" / "comparables.xlsx"
    (plans / "comparables.csv").touch()
    assert table_near(plans / "one.toml") == plans / "comparables.csv"


def test_money_in_another_currency_than_the_tables_is_refused():
    assert amount_in(Money(100.0, "GBP"), "GBP", "--price") == 100.0
    assert amount_in(Money(100.0, ""), "GBP", "--price") == 100.0
    assert amount_in(None, "GBP", "--price") is None
    with pytest.raises(PlanError, match="Cannot use --price: it is in USD, and the table's prices are in GBP"):
        amount_in(Money(100.0, "USD"), "GBP", "--price")
