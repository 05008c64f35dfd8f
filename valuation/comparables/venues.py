"""What a schema gives by venue: premiums, fees and gaps, for each row of a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from valuation.text.spelling import level_key

if TYPE_CHECKING:
    import pandas as pd


def by_venue(venues: pd.Series[Any], given: Mapping[str, float]) -> npt.NDArray[np.float64]:
    """What the schema gives for each row's venue; NaN where it does not know the venue.

    Parameters
    ----------
    venues : Series
        Shape (n_rows,).
    given : mapping of str to float
        Percent or money by venue.
    """
    known = {level_key(venue): amount for venue, amount in given.items()}
    told = {name: known.get(level_key(name), np.nan) for name in venues.unique()}
    return venues.map(told).to_numpy(dtype=float)
