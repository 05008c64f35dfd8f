"""Schemathesis over the OpenAPI: for every route no server error and no undocumented answer."""

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.app import create_app
from api.settings import Settings

CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
EXAMPLES = 8
DOCUMENT = create_app(Settings(ledger="never opened")).openapi()
SCHEMA = schemathesis.openapi.from_dict(DOCUMENT)
ROUTES = [(method.upper(), path) for path, methods in DOCUMENT["paths"].items() for method in methods]


@pytest.mark.parametrize(("method", "path"), ROUTES, ids=lambda part: part.strip("/").replace("/", "."))
def test_no_server_error_and_no_undocumented_answer(own_demo, method, path):
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
    )
    @given(case=SCHEMA[path][method].as_strategy())
    def ask(case):
        case.call_and_validate(base_url=str(own_demo.base_url), checks=CHECKS, timeout=60)

    ask()
