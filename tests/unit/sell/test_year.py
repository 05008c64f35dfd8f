"""One length of a year, in every place that waits or drifts."""

import math
import re
from pathlib import Path

import pytest

import valuation
from valuation.sell.buyers import Buyers
from valuation.sell.waiting import Sale, wait
from valuation.year import DAYS_PER_YEAR, WEEKS_PER_YEAR


def test_money_waited_for_a_year_is_worth_a_years_discount_less() -> None:
    """With no offer worth having, what waiting a year is worth is the last resort less one year's discount."""
    hopeless = Buyers(1e-12, 0.01, 10.0, centre=-20.0)
    weekly = math.log1p(0.06) / WEEKS_PER_YEAR
    sale = Sale(hopeless, 0.01, weekly, way_out=-5.0, weeks=DAYS_PER_YEAR / 7, end=math.log(10_000), step=1.0)
    assert math.exp(wait(sale).value[0, 0]) == pytest.approx(10_000 / 1.06, rel=1e-6)


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
