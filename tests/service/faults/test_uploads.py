"""Large uploads and bombs, of a few megabytes once they are unpacked."""

import pytest

from benchmarks.faults.service import MIB, upload
from benchmarks.faults.uploads import bombs, post, pour, tried

REFUSED_SMALL = [
    "XLSX with one endless cell",
    "XLSX whose entities refer to each other",
    "ODS that claims 100,000 x 100,000 cells",
    "ODS whose entities refer to each other",
    "Parquet with one endless cell",
]
"""Those that stand for too much however small they are made."""


@pytest.mark.parametrize("chunked", [False, True], ids=["with its length", "in chunks"])
def test_a_body_of_fifty_megabytes_is_refused(service, all_held, chunked):
    """The limit is 20 MB."""
    all_held([tried(service, "50 MB", lambda one: pour(one, 50, chunked=chunked), most=64 * MIB)])


@pytest.mark.parametrize("name", REFUSED_SMALL)
def test_a_bomb_is_refused_in_bounded_memory(service, all_held, name):
    (make, file) = next((make, file) for found, file, make in bombs(1) if found == name)
    body, kind = upload(make(), file)
    assert len(body) < 100_000
    all_held([tried(service, name, lambda one: post(one, body, kind), most=128 * MIB)])
