"""A service in a process of its own, as ``valuation serve`` runs it, for the short forms of the faults benchmark."""

import pytest

from benchmarks.faults.service import serving


@pytest.fixture(scope="session")
def service():
    """A service that holds the demo, fitted, and may open 512 files at once."""
    with serving(files=512) as running:
        running.fitted()
        yield running


@pytest.fixture(scope="session")
def all_held():
    """Assert that each promise held, with its figure where it did not."""

    def check(findings):
        assert findings
        broken = [f"{one.promise}: {one.figure}" for one in findings if not one.held]
        assert not broken, "\n".join(broken)

    return check
