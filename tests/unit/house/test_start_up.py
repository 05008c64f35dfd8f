"""Start-up stays cheap, and the buyer's paper cannot reach the shop's private figures."""

import subprocess
import sys

import grimp
import pytest

SLOW_TO_LOAD = ("numpy", "pandas", "scipy", "sklearn", "statsmodels", "sqlalchemy", "fastapi", "api")


def loaded_by(statement: str) -> set[str]:
    """Names of the top packages in a new Python after a statement."""
    code = f"{statement}; import sys; print(*{{name.partition('.')[0] for name in sys.modules}})"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    return set(run.stdout.split())


@pytest.mark.parametrize("module", ["valuation", "valuation.cli", "valuation.errors", "valuation.notes"])
def test_importing_loads_nothing_slow(module: str) -> None:
    assert not loaded_by(f"import {module}") & set(SLOW_TO_LOAD)


def test_the_measure_itself_sees_a_slow_import() -> None:
    assert "numpy" in loaded_by("import numpy")


def test_buyer_sheet_reaches_neither_deal_nor_ledger() -> None:
    graph = grimp.build_graph("valuation", cache_dir=None)
    buyer = {name for name in graph.modules if name.startswith("valuation.sheets.") and "buyer" in name}
    if not buyer:
        pytest.skip("there is no buyer sheet yet")
    for private in ("valuation.build", "valuation.paths", "valuation.sell", "valuation.ledger"):
        for module in sorted(buyer):
            chains = graph.find_shortest_chains(importer=module, imported=private, as_packages=True)
            assert not chains, f"{module} must not reach {private}: {chains}"
