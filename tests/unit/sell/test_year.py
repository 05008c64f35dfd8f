"""One length of a year, in every place that waits or drifts."""

import re
from pathlib import Path

import numpy as np
import pytest

import valuation
from valuation.regression.distribution import PriceDistribution, ScoreCurve
from valuation.sell.waiting import PricedOffers, reservation_by_week
from valuation.year import DAYS_PER_YEAR, WEEKS_PER_YEAR


def test_money_waited_for_a_year_is_worth_a_years_discount_less() -> None:
    """With no offer worth having, what waiting a year is worth is the last resort less one year's discount."""
    hopeless = PricedOffers(PriceDistribution(np.array([-20.0]), np.array([0.01]), ScoreCurve.normal()))
    path = reservation_by_week(
        hopeless, per_week=0.5, holding=0.0, yearly_discount=6.0, weeks=DAYS_PER_YEAR / 7, last=10_000.0
    )
    assert path[-1][1] == pytest.approx(10_000 / 1.06, rel=1e-8)


def test_no_other_module_writes_the_length_of_a_year() -> None:
    assert pytest.approx(52.178571, abs=1e-6) == WEEKS_PER_YEAR
    room = Path(valuation.__file__).parent
    length = re.compile(r"\b365\.25\b|\b52\.1\d")
    found = [
        f"{file.relative_to(room)}: {line.strip()}"
        for file in sorted(room.rglob("*.py"))
        if file.name != "year.py"
        for line in file.read_text(encoding="utf-8").splitlines()
        if length.search(line)
    ]
    assert found == []
