"""What to pay at most for what may stand in the barn."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from valuation.build.plan import BuildPlan
from valuation.day import day_of
from valuation.paths.field_table import FieldTable, field_table
from valuation.paths.pricer import Pricer


def field(model: Pricer, plans: Sequence[BuildPlan], years: Sequence[float], as_of: date | None = None) -> FieldTable:
    """Most to pay over condition as found and model year, by the best path for each; bought today unless told.

    See ``field_table`` for the arguments and what is refused.

    Parameters
    ----------
    model : Pricer
    plans : sequence of BuildPlan
        Of one find.
    years : sequence of float
        Model years.
    as_of : date or None
        Day of the purchase; today unless given.
    """
    return field_table(model, plans, day_of(as_of), years=years)
