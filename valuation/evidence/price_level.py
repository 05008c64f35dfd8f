"""Prices of past sales at the price level of another day."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from valuation.evidence.remembered import remembered
from valuation.evidence.sale_facts import SaleFacts
from valuation.evidence.subject import SALE_DATE

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.model import PriceModel


def drift_between(model: PriceModel, table: Comparables, day: dt.date) -> npt.NDArray[np.float64]:
    """What brings the price of each sale from its own day to another: the drift of the fit, as in the adjustment grid.

    Parameters
    ----------
    model : PriceModel
        The fit.
    table : Comparables
        Its sales.
    day : date
        To whose price level.

    Returns
    -------
    ndarray, shape (n_usable,)
        Factors; where an outside index moved the prices of the table, that too. 1 where the fit knows no dates.
    """
    facts = remembered(table, "facts", lambda: SaleFacts.of(table))
    if SALE_DATE not in model.attribute_by_name:
        return facts.moved
    term = next(one for one in model.core.design.terms if one.attribute == SALE_DATE)
    days = np.append(facts.days, np.datetime64(day)).astype("datetime64[ns]")
    columns = term.encode(days).matrix
    logs = (columns[-1] - columns[:-1]) @ model.core.coefficients[model.core.parts()[SALE_DATE]]
    return np.asarray(np.exp(logs) * facts.moved)
