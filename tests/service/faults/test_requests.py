"""Made-up requests, a few for each route; the routes one by one stand in tests/service/desk/test_openapi_fuzz.py."""

from benchmarks.faults.requests import requests


def test_made_up_requests_meet_no_error(service, all_held):
    all_held(requests(service, cases=31))
