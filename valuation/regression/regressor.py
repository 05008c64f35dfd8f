"""PriceRegressor: the estimator by scikit-learn's conventions."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.exceptions import DataConversionWarning
from sklearn.utils.validation import check_is_fitted, validate_data

from valuation.errors import RegressionError, TooFewSalesError, shortlist
from valuation.notes import Note
from valuation.regression.core import Core, Fitted
from valuation.regression.design import attributes_of
from valuation.regression.distribution import FloatArray, PriceDistribution
from valuation.regression.findings import column_notes, fit_notes
from valuation.regression.fit import Fit, Options, fit_core
from valuation.regression.frozen import frozen
from valuation.regression.newest_sales import newest_sales_notes
from valuation.schema.attributes import Attribute
from valuation.text.spelling import counted
from valuation.threads import in_one_thread

LEAST_SALES = 12
"""Fewest usable rows that a fit accepts."""

LEAST_SOLD = 8
"""Fewest of them that must have been sold: bids and asks alone do not say how prices scatter."""


class PriceRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Additive regression of log price with intervals that hold at 12 to some hundreds of sales.

    Parameters
    ----------
    roles : mapping of str to str or Attribute, optional
        Role of each column (``number``, ``smooth``, ``count``, ``ordinal``, ``nominal``, ``flag``, ``date``) or a
        schema attribute with its levels, direction and expected effect. A column without one has its role read off
        its type: ordered Categorical, Categorical or text, datetime64, bool, number.
    coverage : float
        Coverage of ``predict_interval`` unless told otherwise; strictly between 0 and 1.
    interaction : bool
        Whether the interaction block (two attributes mattering together) may be used.
    tails : bool
        Whether Student-t weights may be used.
    ranges : bool
        False takes unsold bids and asking prices as bare bounds, however far off the price may be.
    lean_on : PriceModel or Core, optional
        A model of another table whose effects are expected here, the less so the more the own table says otherwise.
    lattice_points : int
        Sets of variances averaged over; 1 trusts the most probable set.

    Attributes
    ----------
    core_ : Core
        The frozen fit: all that a prediction needs.
    fit_ : Fit
        The core and how each sale stands to it.
    attributes_ : tuple of Attribute
        Role, levels and direction of each column as used.
    notes_ : tuple of Note
        What must be known about the fit.
    n_features_in_ : int
        Columns seen in ``fit``.
    feature_names_in_ : ndarray of str
        Their names, when ``X`` was a DataFrame.

    Notes
    -----
    log price = intercept + sum of attribute terms + interaction + error. See the modules of this room for the parts
    and their sources.

    Examples
    --------
    >>> import numpy as np, pandas as pd
    >>> rng = np.random.default_rng(0)
    >>> X = pd.DataFrame({"year": rng.integers(1930, 1970, 40).astype(float), "body": rng.choice(["a", "b"], 40)})
    >>> y = np.exp(10 + 0.01 * (X["year"] - 1950) + 0.2 * (X["body"] == "b") + rng.normal(0, 0.1, 40))
    >>> low, high = PriceRegressor().fit(X, y).predict_interval(X.head(1))
    >>> bool(low[0] < high[0])
    True
    """

    def __init__(
        self,
        roles: Mapping[str, str | Attribute] | None = None,
        coverage: float = 0.8,
        *,
        interaction: bool = True,
        tails: bool = True,
        ranges: bool = True,
        lean_on: Fitted | Core | None = None,
        lattice_points: int = 24,
    ) -> None:
        self.roles = roles
        self.coverage = coverage
        self.interaction = interaction
        self.tails = tails
        self.ranges = ranges
        self.lean_on = lean_on
        self.lattice_points = lattice_points

    @in_one_thread()
    def fit(self, X: Any, y: Any, venue: npt.ArrayLike | None = None) -> PriceRegressor:
        """Fit sales.

        Parameters
        ----------
        X : DataFrame or array_like, shape (n_sales, n_attributes)
            Raw cells; missing ones NaN or None.
        y : array_like, shape (n_sales,) or (n_sales, 2)
            Prices, or low/high pairs: equal when sold, (bid, inf) for a bid that was not met, (0, ask) for an
            asking price. Money, one currency.
        venue : array_like of str, shape (n_sales,), optional
            Where each row is from: unsold rows of a venue that has enough of them show how far prices lie from them.

        Raises
        ------
        TooFewSalesError
            With fewer than 12 rows, or fewer than 8 that were sold.
        RegressionError
            If a price is not positive, a pair is the wrong way round, or a column cannot take its role.
        """
        self._check_settings()
        frame = self._frame(X, reset=True)
        low, high = _price_pairs(y, len(frame))
        sold = int((low == high).sum())
        _enough(len(frame), sold)
        self.attributes_ = attributes_of(frame, self.roles)
        with np.errstate(divide="ignore"):
            log_low, log_high = np.log(low), np.log(high)
        log_high = np.where(low == high, log_low, log_high)
        source = self.lean_on if isinstance(self.lean_on, Core | None) else self.lean_on.core
        options = Options(self.interaction, self.tails, self.lattice_points, self.ranges, source)
        at = None if venue is None else np.asarray(venue, dtype=object)
        fit = fit_core(frame, log_low, log_high, self.attributes_, options, at)
        self.core_: Core = frozen(fit.core)
        self.fit_: Fit = replace(fit, core=self.core_)
        self.notes_: tuple[Note, ...] = (
            *column_notes(frame, low, high),
            *fit_notes(self.fit_, sold),
            *newest_sales_notes(self.fit_),
        )
        return self

    def predict(self, X: Any) -> FloatArray:
        """Median buyer-pays prices, shape (m,), money."""
        check_is_fitted(self)
        core = self.core_
        return np.asarray(np.exp(core.location(core.rows(self._frame(X, reset=False)))))

    def predict_interval(self, X: Any, coverage: float | None = None) -> tuple[FloatArray, FloatArray]:
        """Interval of the price of one such sale: lower and upper ends, each of shape (m,), money.

        Parameters
        ----------
        X : DataFrame or array_like, shape (m, n_attributes)
            Raw cells.
        coverage : float, optional
            The regressor's own unless told.
        """
        return self.predict_distribution(X).interval(self.coverage if coverage is None else coverage)

    def predict_distribution(self, X: Any) -> PriceDistribution:
        """Predictive distributions: cdf, quantile, mean, sample, odds above a price."""
        check_is_fitted(self)
        return self.core_.distribution(self.core_.rows(self._frame(X, reset=False)))

    def predict_mean_distribution(self, X: Any) -> PriceDistribution:
        """Distributions of the median price itself: where the average of many such sales would settle."""
        check_is_fitted(self)
        return self.core_.mean_distribution(self.core_.rows(self._frame(X, reset=False)))

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.allow_nan = True
        tags.input_tags.categorical = True
        tags.input_tags.string = True
        tags.target_tags.positive_only = True
        tags.target_tags.multi_output = False
        return tags

    def _check_settings(self) -> None:
        if not 0 < self.coverage < 1:
            raise RegressionError(f"A coverage must lie strictly between 0 and 1; found {self.coverage!r}.")
        if self.lattice_points < 1:
            raise RegressionError(f"lattice_points must be 1 or more; found {self.lattice_points!r}.")

    def _frame(self, X: Any, *, reset: bool) -> pd.DataFrame:
        """X as a DataFrame; a plain array gets columns x0, x1, ..., all numbers."""
        if isinstance(X, pd.DataFrame):
            if X.columns.has_duplicates:
                twice = sorted({str(c) for c in X.columns[X.columns.duplicated()]})
                raise RegressionError(
                    f"Cannot use a table with columns of the same name: {shortlist(twice)}. "
                    "Rename or remove one of each."
                )
            if not len(X.columns):
                raise RegressionError(
                    "Cannot use a table without columns: 0 features, and at least 1 is needed. Give an attribute."
                )
            try:
                validate_data(self, X, reset=reset, skip_check_array=True)
            except ValueError as error:
                raise RegressionError(f"Cannot estimate from these columns. {error}") from error
            return X.set_axis([str(name) for name in X.columns], axis=1)
        array = validate_data(self, X, reset=reset, dtype=np.float64, ensure_all_finite="allow-nan")
        return pd.DataFrame(array, columns=[f"x{i}" for i in range(array.shape[1])])


def _price_pairs(y: Any, rows: int) -> tuple[FloatArray, FloatArray]:
    """Low and high prices of each row."""
    try:
        prices = np.asarray(y, dtype=float)
    except (TypeError, ValueError) as error:
        raise RegressionError(f"Cannot read the prices as numbers: {error}.") from error
    if y is None or prices.ndim == 0:
        raise RegressionError("requires y to be passed, but the target y is None: give a price for each sale.")
    if prices.ndim == 2 and prices.shape[1] == 1:
        warnings.warn("A column-vector y was passed when a 1d array was expected.", DataConversionWarning, stacklevel=3)
        prices = prices[:, 0]
    if prices.ndim == 1:
        prices = np.column_stack([prices, prices])
    if prices.ndim != 2 or prices.shape[1] != 2:
        raise RegressionError(f"Prices must be one number or one low/high pair a sale; found shape {prices.shape}.")
    if len(prices) != rows:
        raise RegressionError(f"Found {rows} rows of attributes but {len(prices)} prices. Give one price a row.")
    low, high = prices[:, 0], prices[:, 1]
    _check_pairs(low, high)
    return low, high


def _check_pairs(low: FloatArray, high: FloatArray) -> None:
    if np.isnan(low).any() or np.isnan(high).any():
        raise RegressionError(_bad("is NaN (not a number)", np.isnan(low) | np.isnan(high)))
    if np.isinf(low).any():
        raise RegressionError(_bad("is infinite (inf) on its low side", np.isinf(low)))
    if (low > high).any():
        raise RegressionError(_bad("has its low side above its high side", low > high))
    if ((low < 0) | (high <= 0)).any():
        raise RegressionError(_bad("is zero or negative", (low < 0) | (high <= 0)))
    if ((low == 0) & np.isinf(high)).any():
        raise RegressionError(_bad("is open on both sides and says nothing", (low == 0) & np.isinf(high)))


def _bad(what: str, where: npt.NDArray[np.bool_]) -> str:
    rows = np.flatnonzero(where)
    which = f"the price in row {rows[0] + 1}"
    return f"Cannot use {len(rows)} of the prices: {which} {what}. Mend or leave it out."


def _enough(rows: int, sold: int) -> None:
    if rows < LEAST_SALES:
        raise TooFewSalesError(
            f"Cannot fit {counted(rows, 'usable sale')}: n_samples = {rows}, and at least "
            f"{LEAST_SALES} are needed. "
            "Add comparable sales; a related family counts, since families lend each other strength."
        )
    if sold < LEAST_SOLD:
        raise TooFewSalesError(
            f"Cannot fit {rows} usable rows of which {sold} were sold: at least {LEAST_SOLD} must be sales, "
            "since bids and asking prices alone do not say how prices scatter. Add rows with outcome 'sold'."
        )
