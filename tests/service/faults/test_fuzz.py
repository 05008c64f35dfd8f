"""The short form of ``benchmarks.faults.fuzz``: broken files of every kind end in an answer or in a named refusal."""

import pytest

from benchmarks.faults.fuzz import fuzz


@pytest.mark.filterwarnings("ignore")  # of the reading libraries, about workbooks that are broken on purpose
def test_no_broken_file_escapes_the_projects_own_refusals():
    told = []
    found = fuzz(1_500, 20, seed=20, tell=told.append)
    assert not told
    for name, loader in found.items():
        assert not loader.escapes, name
        assert loader.answers, name
        assert loader.refusals, name
    assert sum(loader.inputs for loader in found.values()) >= 1_000
