"""Overlap and humps against general-purpose libraries."""

import numpy as np
import pytest
import statsmodels.api as sm
from sklearn.cross_decomposition import CCA
from sklearn.mixture import GaussianMixture

from valuation.evidence.collinearity import overlaps
from valuation.evidence.humps import VARIANCE_FLOOR, two_normals


def test_overlap_on_longley():
    columns = sm.datasets.longley.load_pandas().exog
    found = {(pair.first, pair.second): pair.share for pair in overlaps(columns, list(columns.columns))}
    correlation = np.corrcoef(columns.to_numpy().T) ** 2
    names = list(columns.columns)
    assert found[("GNP", "YEAR")] == pytest.approx(0.9906, abs=0.00005)
    for (one, other), share in found.items():
        assert share == pytest.approx(correlation[names.index(one), names.index(other)], rel=1e-9)


def test_overlap_of_two_blocks_is_the_largest_canonical_correlation():
    rng = np.random.default_rng(3)
    shared = rng.normal(size=60)
    one = np.column_stack([shared + 0.2 * rng.normal(size=60), rng.normal(size=60)])
    other = np.column_stack([rng.normal(size=60), shared, rng.normal(size=60)])
    [pair] = overlaps(np.hstack([one, other]), ["a", "a", "b", "b", "b"])
    theirs = CCA(n_components=1, max_iter=5000, tol=1e-12).fit(one, other).transform(one, other)
    assert pair.share == pytest.approx(np.corrcoef(theirs[0][:, 0], theirs[1][:, 0])[0, 1] ** 2, rel=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_two_normals_reach_the_likelihood_of_scikit_learn(seed):
    rng = np.random.default_rng(seed)
    values = np.r_[rng.normal(-1, 0.4, 40), rng.normal(1.5, 0.7, 60)]
    ordered = np.sort((values - values.mean()) / values.std())
    weights, means, variances, log_likelihood = two_normals(ordered)
    mixture = GaussianMixture(2, reg_covar=VARIANCE_FLOOR, n_init=10, tol=1e-8, max_iter=2000, random_state=0)
    mixture.fit(ordered[:, None])
    order = np.argsort(mixture.means_[:, 0])
    assert log_likelihood / 100 == pytest.approx(mixture.score(ordered[:, None]), abs=1e-4)
    assert means == pytest.approx(mixture.means_[order, 0], abs=0.01)
    assert weights == pytest.approx(mixture.weights_[order], abs=0.01)
    assert variances == pytest.approx(mixture.covariances_[order, 0, 0], abs=0.01)
