"""The benchmark's scores against printed and hand-worked values."""

import numpy as np
import pandas as pd
import pytest

from benchmarks.accuracy import report
from benchmarks.accuracy.scores import THIRDS, Forecast, interval_score, mdape, price_thirds, score


# Gneiting and Raftery (2007), JASA 102, 359-378, eq. 43: the first case is printed there, the rest worked by hand.
@pytest.mark.parametrize(
    ("low", "high", "truth", "alpha", "expected"),
    [(0, 0.4, 0.1, 0.5, 0.4), (10, 20, 8, 0.1, 50), (10, 20, 23, 0.2, 40), (10, 20, 20, 0.2, 10)],
)
def test_interval_score(low: float, high: float, truth: float, alpha: float, expected: float) -> None:
    assert interval_score(np.array(low), np.array(high), np.array(truth), alpha) == pytest.approx(expected, abs=1e-12)


def test_mdape_is_a_percentage_of_the_true_price() -> None:
    assert mdape(np.array([90.0, 130.0, 50.0]), np.array([100.0, 100.0, 100.0])) == pytest.approx(30.0)


def test_score_counts_hits_by_third_of_the_whole_table() -> None:
    thirds = price_thirds(np.arange(1.0, 10.0))
    truth = np.array([1.0, 2.0, 5.0, 9.0])
    low, high = np.array([1.0, 3.0, 4.0, 1.0]), np.array([1.0, 4.0, 6.0, 2.0])
    found = score(Forecast(truth, low, high), truth, thirds)
    assert found["inside"] == 2
    assert [found[f"tests_{third}"] for third in THIRDS] == [2, 1, 1]
    assert [found[f"inside_{third}"] for third in THIRDS] == [1, 1, 0]
    by_hand = np.mean([0, np.log(4 / 3) + 10 * np.log(3 / 2), np.log(6 / 4), np.log(2) + 10 * np.log(9 / 2)])
    assert found["interval_score"] == pytest.approx(by_hand)


def _raw(scores: dict[int, list[float]]) -> pd.DataFrame:
    rows = [
        {"data": "a", "n": n, "split": split, "mdape": value, "interval_score": value, "seconds": 1.0, "tests": 3.0}
        | {"inside": 2.0}
        | {f"{what}_{third}": 1.0 for what in ("tests", "inside") for third in THIRDS}
        for n, values in scores.items()
        for split, value in enumerate(values)
    ]
    return pd.DataFrame(rows)


def test_ratios_are_to_the_best_peer_and_average_geometrically() -> None:
    raw = {
        "bayesian-ridge": _raw({20: [1, 3], 25: [8, 8]}),
        "least-squares": _raw({20: [4, 4], 25: [4, 4]}),
        "ours": _raw({20: [1, 1], 25: [2, 2]}),
    }
    table = report.cells(report.common_splits(raw))
    found = report.summary(table, "mdape")
    # 20 rows count with 25; the best peer has 2 at n = 20 and 4 at n = 25, and ours is never its own yardstick.
    assert list(found.columns) == [25, "all"]
    assert found.loc["ours", "all"] == pytest.approx(0.5)
    assert found.loc["bayesian-ridge", "all"] == pytest.approx(np.sqrt(1 * 2))
    assert found.loc["least-squares", 25] == pytest.approx(np.sqrt(2 * 1))


def test_methods_are_compared_over_the_splits_that_all_have() -> None:
    shared = report.common_splits({"ours": _raw({25: [1, 1]}), "least-squares": _raw({25: [1, 1, 9]})})
    assert len(shared["least-squares"]) == 2
    assert report.cells(shared).set_index("method").loc["least-squares", "mdape"] == 1
