"""Files of every released format open for ever and give the estimates that were written down when they were saved."""

import datetime as dt
from pathlib import Path

import pytest

from valuation import load_model, read_vehicle

ROOT = Path(__file__).parents[3]
AS_OF = dt.date(2026, 10, 31)

# Our own past output, not outside evidence: median, low and high of models/demo.json when it was saved.
SAVED = {
    "haywain-pickup": (48235.73744333203, 39847.315858296446, 58390.03999607251),
    "linnet-convertible": (81727.28977740183, 65636.90190529135, 101762.11400101065),
    "tessera-coupe": (28052.738244716496, 22685.574624013112, 34689.71520754742),
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
