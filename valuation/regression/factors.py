"""Factors: the estimate as a product, one line for each attribute."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from valuation.regression.cells import CellTable, first_cell
from valuation.regression.core import Core, Rows
from valuation.regression.figures import Factor
from valuation.regression.interaction import INTERACTION
from valuation.schema.attributes import Attribute


def factors(
    core: Core, rows: Rows, cells: CellTable, attributes: Mapping[str, Attribute], coverage: float
) -> tuple[float, tuple[Factor, ...]]:
    """Base price and the factors of one vehicle (the only row); their product is its median.

    Parameters
    ----------
    core : Core
        The fit.
    rows : Rows
        The vehicle, encoded.
    cells : DataFrame or mapping of str to array, one row
        Its raw cells by attribute.
    attributes : mapping of str to Attribute
        By name, for the text of a level.
    coverage : float
        Of each factor's interval.
    """
    matrix = rows.matrix[0]
    standard_half = core.half_width(coverage)
    unknown = core.unknown_variance(rows)
    found = []
    for name, columns in core.parts().items():
        x = matrix[columns]
        effect = float(x @ core.coefficients[columns])
        variance = float(x @ core.covariance[columns, columns] @ x) + float(unknown.get(name, np.zeros(1))[0])
        half = standard_half * np.sqrt(max(variance, 0.0))
        level = "" if name == INTERACTION else level_text(first_cell(cells[name]), attributes[name])
        found.append(Factor(name, level, *(float(np.exp(v)) for v in (effect, effect - half, effect + half))))
    return float(np.exp(core.centre + core.coefficients[0])), tuple(found)


def level_text(value: Any, attribute: Attribute) -> str:
    """A cell as people read it.

    Parameters
    ----------
    value : Any
        The cell; None, NaN or NaT where empty.
    attribute : Attribute
        Whose it is.

    Examples
    --------
    >>> from valuation.schema import Attribute, Role
    >>> level_text(1951.0, Attribute("model_year", Role.SMOOTH)), level_text(1.0, Attribute("sunroof", Role.FLAG))
    ('1951', 'yes')
    """
    if value is None or value is pd.NaT or (isinstance(value, float) and math.isnan(value)):
        return "unknown"
    if attribute.role == "flag":
        return "yes" if float(value) else "no"
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, int | float | np.number):
        return f"{float(value):.10g}"
    return str(value)
