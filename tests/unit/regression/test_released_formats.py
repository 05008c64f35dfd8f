"""Files of every released format open for ever and give the estimates that were written down when they were saved."""

import datetime as dt
from pathlib import Path

import pytest

from valuation import load_model, read_vehicle

ROOT = Path(__file__).parents[3]
AS_OF = dt.date(2026, 10, 31)

# Our own past output, not outside evidence: median, low and high of models/demo.json when it was saved.
SAVED = {
    "haywain-pickup": (47522.5976577562, 39233.44220754656, 57563.067655240615),
    "linnet-convertible": (80472.86309135005, 64469.43204882138, 100448.87147780543),
    "tessera-coupe": (27772.895503163458, 22513.682387852663, 34260.66475228472),
}


@pytest.mark.parametrize("name", sorted(SAVED))
def test_format_3_opens_and_estimates_as_when_it_was_saved(name: str) -> None:
    model = load_model(ROOT / "models" / "demo.json")
    found = model.value(read_vehicle(ROOT / "data" / "vehicles" / f"{name}.toml", model.schema), AS_OF)
    # Another processor may sum in another order; nothing but the last digits may differ.
    assert (found.median, found.interval.low, found.interval.high) == pytest.approx(SAVED[name], rel=1e-11)


def test_the_card_lies_beside_the_model() -> None:
    card = (ROOT / "models" / "demo.md").read_text(encoding="utf-8")
    assert "Model card: demo.json" in card
    assert "135 sold" in card
