"""The JSON of each question is the answer's own type: it makes the schema, and what is sent is checked against it."""

import dataclasses
import datetime as dt
import json

import pytest
from pydantic import ValidationError

from api.app import create_app
from api.jobs import checked
from api.models.comparables import CheckAnswer
from api.models.estimates import EvidenceAnswer
from api.settings import Settings
from valuation.answers.check import TableCheck
from valuation.answers.estimate import Estimate
from valuation.answers.explain import Evidence
from valuation.answers.kept_estimates import KeptEstimate
from valuation.answers.track_record import TrackRecord
from valuation.evidence.reasons import PriceTrend
from valuation.evidence.unseen import BackTest
from valuation.notes import Note
from valuation.paths.compare import PathsReport
from valuation.paths.steps import StepsReport
from valuation.sell.bands import PriceBands
from valuation.text.plain import plain

ANSWERS = {
    ("post", "/estimates"): KeptEstimate,
    ("get", "/estimates/{estimate_id}"): KeptEstimate,
    ("get", "/estimates/{estimate_id}/evidence"): EvidenceAnswer,
    ("post", "/comparables"): CheckAnswer,
    ("get", "/comparables/{table_id}"): CheckAnswer,
    ("post", "/comparables/{table_id}/mends"): CheckAnswer,
    ("post", "/comparables/{table_id}/back-test"): BackTest,
    ("post", "/paths"): PathsReport,
    ("post", "/steps"): StepsReport,
    ("post", "/bands"): PriceBands,
    ("get", "/track-record"): TrackRecord,
}
PLAIN = (KeptEstimate, Evidence, BackTest, PathsReport, StepsReport, PriceBands, TrackRecord, CheckAnswer)


@pytest.fixture(scope="module")
def described(tmp_path_factory):
    """The service's own description."""
    return create_app(Settings(ledger=str(tmp_path_factory.mktemp("types") / "ledger.sqlite"))).openapi()


def test_each_question_answers_with_the_type_of_its_answer(described):
    for (method, path), kind in ANSWERS.items():
        replies = described["paths"][f"/api/v1{path}"][method]["responses"]
        content = replies.get("200", replies.get("201"))["content"]["application/json"]
        assert content["schema"] == {"$ref": f"#/components/schemas/{kind.__name__}"}, (method, path)


def test_the_services_own_additions_stand_on_the_answers():
    assert issubclass(KeptEstimate, Estimate)
    assert issubclass(CheckAnswer, TableCheck)
    assert EvidenceAnswer.model_fields["evidence"].annotation is Evidence


def test_the_description_holds_the_fields_of_the_answers_and_no_others(described):
    shown = described["components"]["schemas"]
    for kind in PLAIN:
        assert set(shown[kind.__name__]["properties"]) == {one.name for one in dataclasses.fields(kind)}, kind
    assert shown["Interval"]["properties"]["low"]["anyOf"] == [{"type": "number"}, {"type": "null"}]


def test_what_work_brings_back_is_checked_before_it_is_sent():
    trend = PriceTrend(dt.date(2026, 11, 2), "year", (), None, None, float("inf"), 0.8, (Note("drift", "None."),))
    assert json.loads(checked(PriceTrend, trend, 200).body) == plain(trend)
    with pytest.raises(ValidationError, match="levels"):
        checked(PriceTrend, {**plain(trend), "levels": [{"period": 2026}]}, 200)
