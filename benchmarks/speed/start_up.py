"""Start-up: what the imports cost over a bare Python, and an estimate from a saved model over numpy and pandas."""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from benchmarks.measure import process_seconds, python
from benchmarks.speed.figures import Figure

DATA = Path(__file__).parents[2] / "data"
ROUNDS = 15


def measure() -> list[Figure]:
    """Least processor seconds of new processes, taken in turn."""
    with TemporaryDirectory() as name:
        model = Path(name) / "model.json"
        command = [sys.executable, "-m", "valuation"]
        write_model(model)
        vehicle = str(DATA / "vehicles" / "haywain-pickup.toml")
        estimate = [*command, "estimate", vehicle, "--model", str(model), "--as-of", "2026-10-31"]
        found = process_seconds(
            {
                "bare": python("pass"),
                "import": python("import valuation"),
                "help": [*command, "--help"],
                "numpy and pandas": python("import numpy, pandas"),
                "estimate": estimate,
                "estimate --json": [*estimate, "--json"],
            },
            ROUNDS,
        )
    least = {name: float(np.min(seconds)) for name, seconds in found.items()}
    figures = [
        Figure("bare Python", least["bare"], "s"),
        Figure("import valuation, beyond bare Python", least["import"] - least["bare"], "s", "at most 0.05"),
        Figure("valuation --help, beyond bare Python", least["help"] - least["bare"], "s", "at most 0.15"),
        Figure("import numpy, pandas", least["numpy and pandas"], "s"),
    ]
    for what in ("estimate", "estimate --json"):
        figures += [
            Figure(f"valuation {what} from a saved model", least[what], "s"),
            Figure(
                f"valuation {what} over importing numpy and pandas",
                least[what] / least["numpy and pandas"],
                "times",
                "at most 1.5",
            ),
        ]
    return figures


def write_model(path: Path) -> None:
    """Save a fit of the demo's table."""
    from valuation.comparables import read_comparables
    from valuation.regression import PriceModel, save_model
    from valuation.schema import read_schema

    save_model(PriceModel.fit(read_comparables(DATA / "comparables.csv", read_schema(DATA / "schema.toml"))), path)
