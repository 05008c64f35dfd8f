"""Files of every released format open for ever and give the estimates that were written down when they were saved."""

import datetime as dt
from pathlib import Path

import pytest

from valuation import load_model, read_vehicle

ROOT = Path(__file__).parents[3]
AS_OF = dt.date(2026, 10, 31)

# Our own past output, not outside evidence: median, low and high of models/demo.json when it was saved.
SAVED = {
    "haywain-pickup": (45091.19650251996, 36762.14170385021, 55307.33270134595),
    "linnet-convertible": (75158.61400230089, 60326.795852884956, 93636.95152187868),
    "tessera-coupe": (29625.329254656306, 23693.748995759426, 37041.84312933649),
}


@pytest.mark.parametrize("name", sorted(SAVED))
def test_format_2_opens_and_estimates_as_when_it_was_saved(name: str) -> None:
    model = load_model(ROOT / "models" / "demo.json")
    found = model.value(read_vehicle(ROOT / "data" / "vehicles" / f"{name}.toml", model.schema), AS_OF)
    # Another processor may sum in another order; nothing but the last digits may differ.
    assert (found.median, found.interval.low, found.interval.high) == pytest.approx(SAVED[name], rel=1e-11)


def test_the_card_lies_beside_the_model() -> None:
    card = (ROOT / "models" / "demo.md").read_text(encoding="utf-8")
    assert "Model card: demo.json" in card
    assert "135 sold" in card
