"""General-purpose methods that a statistician would try on a small table of prices; all model log price.

Settings were chosen once, on the development collection or by common practice, before the report was run.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from benchmarks.accuracy.coding import Coding
from benchmarks.accuracy.scores import COVERAGE, Forecast

Logs = tuple[np.ndarray, np.ndarray, np.ndarray]
TAIL = (1 - COVERAGE) / 2
NORMAL_QUANTILE = 1.2815515655446004  # of 0.9


@dataclass(frozen=True)
class Peer:
    """One method: ``fit`` takes coded training rows, their log prices, coded test rows and a seed.

    It returns log of median, low and high for the test rows. ``version`` changes whenever a setting does, so that
    cached results of the old setting are not taken for the new one's.
    """

    name: str
    title: str
    fit: Callable[[np.ndarray, np.ndarray, np.ndarray, int], Logs]
    logs: bool = False
    version: str = "1"

    def __call__(
        self, train: pd.DataFrame, prices: np.ndarray, test: pd.DataFrame, roles: dict[str, str], seed: int
    ) -> Forecast:
        """Code the rows, fit, and forecast in money."""
        from sklearn.exceptions import ConvergenceWarning

        coding = Coding(roles, logs=self.logs).fit(train)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ConvergenceWarning)
            logs = self.fit(coding.transform(train), np.log(prices), coding.transform(test), seed)
        median, low, high = (np.exp(values) for values in logs)
        return Forecast(median, np.minimum(low, high), np.maximum(low, high))


def five_nearest(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Median of the five nearest; interval from their mean, deviation and a t quantile with 4 degrees of freedom."""
    from scipy.special import stdtrit
    from sklearn.neighbors import NearestNeighbors

    _, rows = NearestNeighbors(n_neighbors=5).fit(x).kneighbors(new)
    near = y[rows]
    half = stdtrit(4, 1 - TAIL) * near.std(axis=1, ddof=1) * np.sqrt(1 + 1 / 5)
    return np.median(near, axis=1), near.mean(axis=1) - half, near.mean(axis=1) + half


def least_squares(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Ordinary least squares (pseudo-inverse) with the t interval for a new observation."""
    import statsmodels.api as sm
    from statsmodels.tools.sm_exceptions import SingularMatrixWarning

    # One column for each level beside a constant is rank-deficient by design; the pseudo-inverse is meant for it.
    warnings.simplefilter("ignore", SingularMatrixWarning)
    result = sm.OLS(y, sm.add_constant(x, has_constant="add")).fit()
    frame = result.get_prediction(sm.add_constant(new, has_constant="add")).summary_frame(alpha=1 - COVERAGE)
    return frame["mean"].to_numpy(), frame["obs_ci_lower"].to_numpy(), frame["obs_ci_upper"].to_numpy()


def bayesian_ridge(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """BayesianRidge with its own normal predictive distribution."""
    from sklearn.linear_model import BayesianRidge

    mean, deviation = BayesianRidge().fit(x, y).predict(new, return_std=True)
    return mean, mean - NORMAL_QUANTILE * deviation, mean + NORMAL_QUANTILE * deviation


def jackknife_plus_ridge(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Jackknife+ over RidgeCV, whose penalty is chosen anew for each row left out."""
    from mapie.regression import CrossConformalRegressor
    from sklearn.linear_model import RidgeCV
    from sklearn.model_selection import LeaveOneOut

    ridge = RidgeCV(alphas=np.logspace(-3, 4, 15))
    model = CrossConformalRegressor(ridge, confidence_level=COVERAGE, method="plus", cv=LeaveOneOut())
    return _mapie(model.fit_conformalize(x, y), new)


def cv_plus_forest(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """CV+ with ten folds over a random forest; thirty trees in each of the eleven forests."""
    from mapie.regression import CrossConformalRegressor
    from sklearn.ensemble import RandomForestRegressor
    from sklearn.model_selection import KFold

    forest = RandomForestRegressor(n_estimators=30, random_state=seed)
    folds = KFold(10, shuffle=True, random_state=seed)
    model = CrossConformalRegressor(forest, confidence_level=COVERAGE, method="plus", cv=folds)
    return _mapie(model.fit_conformalize(x, y), new)


def _mapie(model: object, new: np.ndarray) -> Logs:
    """Median from the model on all rows, bounds by the method's own rule."""
    point, bounds = model.predict_interval(new, aggregate_point_predictions=None)  # type: ignore[attr-defined]
    return point, bounds[:, 0, 0], bounds[:, 1, 0]


def quantile_forest(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Quantile regression forest (Meinshausen 2006)."""
    from quantile_forest import RandomForestQuantileRegressor

    forest = RandomForestQuantileRegressor(n_estimators=100, random_state=seed).fit(x, y)
    low, median, high = forest.predict(new, quantiles=[TAIL, 0.5, 1 - TAIL]).T
    return median, low, high


def gaussian_process(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Gaussian process: linear, plus a squared exponential with a length for each input, plus noise."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import RBF, ConstantKernel, DotProduct, WhiteKernel

    columns = x.shape[1]
    kernel = (
        ConstantKernel(0.1, (1e-5, 1e2)) * DotProduct(1.0, (1e-2, 1e2))
        + ConstantKernel(0.5, (1e-4, 1e2)) * RBF(np.full(columns, 4.0), (2.0, 1e3))
        + WhiteKernel(0.2, (1e-3, 2.0))
    )
    model = GaussianProcessRegressor(
        kernel, normalize_y=True, n_restarts_optimizer=1, optimizer=_climb, random_state=seed
    )
    mean, deviation = model.fit(x, y).predict(new, return_std=True)
    return mean, mean - NORMAL_QUANTILE * deviation, mean + NORMAL_QUANTILE * deviation


def _climb(objective: Callable[..., object], start: np.ndarray, bounds: np.ndarray) -> tuple[np.ndarray, float]:
    """L-BFGS-B, stopped at a relative gain of 1e-6: on the development tables no worse than the default, and faster."""
    from scipy.optimize import minimize

    found = minimize(objective, start, method="L-BFGS-B", jac=True, bounds=bounds, options={"ftol": 1e-6})
    return found.x, found.fun


def boosted_quantiles(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Gradient-boosted trees on the pinball loss of each of the three quantiles."""
    from sklearn.ensemble import GradientBoostingRegressor

    median, low, high = (
        GradientBoostingRegressor(
            loss="quantile",
            alpha=level,
            n_estimators=100,
            learning_rate=0.1,
            max_depth=2,
            min_samples_leaf=5,
            subsample=0.8,
            random_state=seed,
        )
        .fit(x, y)
        .predict(new)
        for level in (0.5, TAIL, 1 - TAIL)
    )
    return median, low, high


def elastic_net_split(x: np.ndarray, y: np.ndarray, new: np.ndarray, seed: int) -> Logs:
    """Elastic net, penalty and mix by five-fold cross-validation; split conformal on a third (at least 8 rows)."""
    from mapie.regression import SplitConformalRegressor
    from sklearn.linear_model import ElasticNetCV
    from sklearn.model_selection import KFold

    order = np.random.default_rng(seed).permutation(len(y))
    calibration, proper = np.split(order, [max(8, len(y) // 3)])
    folds = KFold(5, shuffle=True, random_state=seed)
    net = ElasticNetCV(l1_ratio=[0.1, 0.5, 1.0], alphas=50, cv=folds, random_state=seed, max_iter=5000)
    model = SplitConformalRegressor(net, confidence_level=COVERAGE, prefit=False)
    model.fit(x[proper], y[proper]).conformalize(x[calibration], y[calibration])
    point, bounds = model.predict_interval(new)
    return point, bounds[:, 0, 0], bounds[:, 1, 0]


PEERS: tuple[Peer, ...] = (
    Peer("five-nearest", "median of the five nearest", five_nearest),
    Peer("least-squares", "least squares, t interval", least_squares),
    Peer("bayesian-ridge", "BayesianRidge", bayesian_ridge),
    Peer("jackknife-plus", "jackknife+ over RidgeCV", jackknife_plus_ridge),
    Peer("jackknife-plus-log", "jackknife+ over RidgeCV, log inputs", jackknife_plus_ridge, logs=True),
    Peer("cv-plus-forest", "CV+ over a random forest", cv_plus_forest),
    Peer("quantile-forest", "quantile forest", quantile_forest),
    Peer("gaussian-process", "Gaussian process", gaussian_process),
    Peer("gaussian-process-log", "Gaussian process, log inputs", gaussian_process, logs=True),
    Peer("boosted-quantiles", "gradient-boosted quantiles", boosted_quantiles),
    Peer("elastic-net-split", "elastic net, split conformal", elastic_net_split),
)
