"""What the desk shows of an estimate comes from the model that it was made with, whatever a fit of today would say."""

import datetime as dt
from functools import partial

import pytest

from api.desk import Desk
from api.settings import Settings
from valuation.answers.demo import bring_demo
from valuation.answers.estimate import estimate as estimate_of
from valuation.regression import PriceModel
from valuation.regression.saved import model_text
from valuation.schema import parse_vehicle
from valuation.text.plain import plain


@pytest.fixture
def desk(tmp_path):
    with_demo = Desk(Settings(ledger=str(tmp_path / "ledger.sqlite")))
    bring_demo(with_demo, with_demo.settings.demo_folder)
    assert with_demo.warm(with_demo.table()).finished.wait(120)
    yield with_demo
    with_demo.close()


@pytest.fixture
def estimate(desk, vehicle):
    """An estimate by an earlier version of the program, which fitted the same table a little otherwise."""
    table = desk.table()
    earlier = PriceModel.fit(desk.comparables(table), lattice_points=1, tails=False, interaction=False)
    number = desk.ledger.add_model(text=model_text(earlier), table_id=table.id).id
    subject = parse_vehicle(vehicle, earlier.schema)
    return desk.ledger.add_estimate(
        subject=subject.name,
        vehicle=subject.as_dict()["attributes"],
        model_id=number,
        summary=plain(estimate_of(earlier.without_sales(), subject)),
        settings={"coverage": 0.8},
    )


def gathered(desk, estimate):
    """The evidence of an estimate, which a job gathers."""
    job = desk.join("evidence", partial(desk.evidence, estimate=estimate))
    assert job.finished.wait(120)
    return job.result


def test_median_interval_and_grid_are_the_kept_models(desk, estimate):
    found = gathered(desk, estimate)
    refit = desk.model(desk.table()).value(desk.vehicle_of(estimate), estimate.as_of, 0.8)
    assert refit.median != estimate.median
    assert found.median == estimate.median
    assert (found.interval.low, found.interval.high) == (estimate.low, estimate.high)
    assert found.interval.low != refit.interval.low
    assert found.grid, "the sales of the table still stand beside it"


def test_what_if_nothing_changed_is_the_same_figure(desk, estimate):
    table, vehicle = desk.table(), desk.vehicle_of(estimate)
    beside = desk.value(table, vehicle, estimate.as_of, 0.8, beside=estimate)
    assert beside.median == estimate.median
    assert desk.value(table, vehicle, estimate.as_of, 0.8).median != estimate.median


def test_the_fit_of_today_is_taken_where_it_is_the_same_to_the_bit(desk, vehicle):
    table = desk.table()
    record, _ = desk.keep_estimate(table, parse_vehicle(vehicle, desk.schema(table)), dt.date.today(), 0.8)
    assert desk.model_kept(record.model_id) is desk.model(table)
    assert gathered(desk, record).influence
