"""The project's own estimator as one more method: same rows, same clock, plain roles and no expectations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from benchmarks.accuracy.scores import COVERAGE, Forecast


@dataclass(frozen=True)
class Ours:
    """``valuation.regression.PriceRegressor`` as it stands in the working tree.

    ``version`` is the label given on the command line. The estimator sees no schema's expectations or directions: only
    the role of each column, as a peer's coding does.
    """

    version: str
    name: str = "ours"
    title: str = "this project"

    def __call__(
        self, train: pd.DataFrame, prices: np.ndarray, test: pd.DataFrame, roles: dict[str, str], seed: int
    ) -> Forecast:
        """Fit on money, forecast in money; nothing in it is random, so the seed is not used."""
        from valuation.regression import PriceRegressor

        model = PriceRegressor(roles=roles, coverage=COVERAGE).fit(train, prices)
        low, high = model.predict_interval(test)
        return Forecast(np.asarray(model.predict(test)), np.asarray(low), np.asarray(high))
