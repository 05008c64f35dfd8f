"""A small invented shop on disk: forty sales of two families, a vehicle and a plan."""

from pathlib import Path

import numpy as np
import pytest

PLAN = """
name = "driver build"
[vehicle]
family = "Garrow Wren"
model_year = 1952
condition = "project"
paint = "worn"
[purchase]
asked = 6000
[[steps]]
id = "mechanics"
cost = [1500, 2000, 3000]
hours = [40, 60, 90]
sets = { condition = "driver" }
[sale]
offers_per_month = 2
"""

VEHICLE = """
name = "Wren of 1952"
family = "Garrow Wren"
model_year = 1952
condition = "driver"
paint = "fresh"
"""


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    rng = np.random.default_rng(5)
    grades = ["derelict", "project", "runner", "driver", "show"]
    lines = ["sale,date,price,outcome,family,model_year,condition,paint"]
    for i in range(44):
        grade = int(rng.integers(0, 5))
        family = "Garrow Wren" if i % 3 else "Garrow Heron"
        log_price = 9 + 0.45 * grade + (0.3 if family.endswith("Heron") else 0) + rng.normal(0, 0.15)
        outcome = {7: "bid_not_met", 11: "asking"}.get(i, "sold")
        day = f"20{21 + i % 5}-{1 + i % 12:02d}-15"
        price = f"{np.exp(log_price):.0f}"
        paint = ["bare", "worn", "presentable", "fresh", "show-finish"][
            min(4, max(0, grade + int(rng.integers(-1, 2))))
        ]
        lines.append(f"S{i},{day},{price},{outcome},{family},{1946 + i % 12},{grades[grade]},{paint}")
    lines.append("S90,2025-03-15,12000,sold,Garrow Wren,1950,drvier,worn")
    (folder / "comparables.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "vehicle.toml").write_text(VEHICLE, encoding="utf-8")
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def model_file(shop: Path) -> Path:
    from valuation.cli import main

    target = shop / "model.json"
    assert main(["fit", str(shop / "comparables.csv"), "--out", str(target)]) == 0
    return target
