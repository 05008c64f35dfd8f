"""Calibration: counts by hand, words, thirds, refusals."""

import math

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.calibration import calibration
from valuation.evidence.calibration_words import CoverageShare
from valuation.evidence.intervals import median_interval, share_interval
from valuation.evidence.scores import interval_score


def said(found):
    return {note.code: note.text for note in found.notes}


def record(n, seed=0, stated=1.0, shift=0.0):
    """Prices, estimates, places and 80 % intervals when the stated spread is ``stated`` times the true 0.25."""
    rng = np.random.default_rng(seed)
    centre = rng.normal(10, 0.6, n)
    log_price = centre + rng.normal(0, 0.25, n)
    spread = 0.25 * stated
    places = ndtr((log_price - centre - shift) / spread)
    reach = spread * ndtri(0.9)
    ends = np.exp(centre + shift - reach), np.exp(centre + shift + reach)
    return np.exp(log_price), np.exp(centre + shift), places, ends


def test_the_sentence_an_owner_reads():
    prices = np.r_[np.full(33, 100.0), np.full(4, 200.0), np.full(3, 50.0)]
    found = calibration(prices, np.full(40, 100.0), intervals={0.8: (np.full(40, 80.0), np.full(40, 125.0))})
    [share] = found.shares
    assert (share.inside, share.below, share.above) == (33, 3, 4)
    assert share.share == 33 / 40
    assert "Of the last 40 sales, priced as if unseen, 33 fell inside" in share.words
    assert "promises about 32" in share.words
    note = said(found)["record_agrees_but_small"]
    assert note.startswith(share.words)
    assert "between 67 and 93 % (95 % sure)" in note


def test_places_and_intervals_agree():
    prices, estimates, places, ends = record(200)
    by_place = calibration(prices, estimates, places=places)
    by_ends = calibration(prices, estimates, intervals={0.8: ends})
    assert by_place.shares[1] == by_ends.shares[0]
    assert by_place.thirds == by_ends.thirds
    assert by_place.median_miss_percent == by_ends.median_miss_percent
    assert by_place.log_interval_score is None
    assert by_ends.log_interval_score > 0.25 * ndtri(0.9) * 2
    assert sum(by_place.pit_counts) == 200
    assert len(by_place.pit_counts) == 20
    assert by_ends.pit_counts == ()


def test_ends_and_borders_count_as_inside():
    found = calibration([80, 125, 100], [100] * 3, intervals={0.8: ([80] * 3, [125] * 3)})
    assert found.shares[0].inside == 3
    places = calibration([100] * 2, [100] * 2, places=[0.1, 0.9], coverages=(0.8,))
    assert places.shares[0].inside == 2


def test_honest_intervals_are_found_honest():
    prices, estimates, places, _ = record(400)
    found = calibration(prices, estimates, places=places)
    assert "record_agrees" in said(found)
    assert "no_bias_shown" in said(found)
    for share in found.shares:
        assert share.low < share.coverage < share.high
    assert min(found.pit_counts) > 8  # 20 expected in each bar


def test_intervals_too_narrow_or_too_wide_are_said():
    prices, estimates, places, _ = record(200, stated=0.4)
    narrow = calibration(prices, estimates, places=places)
    assert "too narrow" in said(narrow)["intervals_too_narrow"]
    assert narrow.pit_counts[0] + narrow.pit_counts[-1] > 0.3 * 200
    prices, estimates, places, _ = record(200, stated=2.5)
    wide = calibration(prices, estimates, places=places)
    assert "wider than needed" in said(wide)["intervals_too_wide"]
    assert wide.pit_counts[0] + wide.pit_counts[-1] < 0.05 * 200


@pytest.mark.parametrize(
    ("shift", "code", "leaning"), [(0.3, "estimates_run_high", "high"), (-0.3, "estimates_run_low", "low")]
)
def test_bias_is_said_with_its_side(shift, code, leaning):
    prices, estimates, places, _ = record(150, shift=shift)
    found = calibration(prices, estimates, places=places)
    assert code in said(found)
    assert f"the intervals lie too {leaning}" in said(found)["misses_on_one_side"]
    assert found.bias_percent.low < found.bias_percent.value < found.bias_percent.high


def test_thirds_show_where_the_interval_fails():
    rng = np.random.default_rng(4)
    centre = np.sort(rng.normal(10, 1, 150))
    spread = np.repeat([0.1, 0.3, 0.9], 50)
    prices = np.exp(centre + rng.normal(0, 1, 150) * spread)
    reach = 0.3 * ndtri(0.9)
    intervals = {0.8: (np.exp(centre - reach), np.exp(centre + reach))}
    found = calibration(prices, np.exp(centre), intervals=intervals, thirds_by="estimate")
    assert [third.name for third in found.thirds] == ["cheapest", "middle", "most expensive"]
    assert [third.n for third in found.thirds] == [50, 50, 50]
    texts = [note.text for note in found.notes if note.code == "third_off"]
    assert "cheapest" in texts[0]
    assert "wider than needed there" in texts[0]
    assert "most expensive" in texts[-1]
    assert "too narrow there" in texts[-1]
    assert found.thirds[0].to_price <= found.thirds[1].from_price
    by_price = calibration(prices, np.exp(centre), intervals=intervals)
    assert by_price.thirds[2].to_price == prices.max()


def test_small_records():
    found = calibration([110], [100], places=[0.8])
    assert found.thirds == ()
    assert found.pit_counts == (1,)
    assert "too few to say" in said(found)["bias_unknown"]
    assert (found.bias_percent.low, found.bias_percent.high) == (-100.0, math.inf)
    assert len(calibration([1.0] * 9, [1.0] * 9, places=[0.5] * 9).thirds) == 3


def test_currency_and_order_do_not_matter():
    prices, estimates, places, (low, high) = record(90)
    order = np.random.default_rng(0).permutation(90)
    first = calibration(prices, estimates, places=places, intervals={0.8: (low, high)})
    turned = calibration(
        8 * prices[order],
        8 * estimates[order],
        places=places[order],
        intervals={0.8: (8 * low[order], 8 * high[order])},
    )
    assert turned.shares == first.shares
    assert turned.pit_counts == first.pit_counts
    assert turned.bias_percent == first.bias_percent
    assert turned.log_interval_score == pytest.approx(first.log_interval_score, rel=1e-12)
    assert [third.inside for third in turned.thirds] == [third.inside for third in first.thirds]


def test_open_intervals_cover_and_score_infinitely():
    found = calibration([5, 6, 7], [6, 6, 6], intervals={0.8: ([0, 0, 0], [math.inf] * 3)})
    assert found.shares[0].inside == 3
    assert found.log_interval_score == math.inf


def test_refusals():
    with pytest.raises(TooFewSalesError, match="0 realised sales found, 1 needed"):
        calibration([], [], places=[])
    with pytest.raises(EvidenceError, match="2 prices and 1 estimates"):
        calibration([1, 2], [1], places=[0.5, 0.5])
    with pytest.raises(EvidenceError, match=r"row 2: .*above 0"):
        calibration([1, 0], [1, 1], places=[0.5, 0.5])
    with pytest.raises(EvidenceError, match="neither places in the distribution nor intervals"):
        calibration([1], [1])
    with pytest.raises(EvidenceError, match="one outside 0 to 1"):
        calibration([1], [1], places=[1.2])
    with pytest.raises(EvidenceError, match=r"intervals stated at 80 %.*low above high"):
        calibration([1], [1], intervals={0.8: ([2], [1])})
    with pytest.raises(EvidenceError, match=r"at 0\.8: only 0\.5, 0\.9 were given"):
        calibration([1], [1], places=[0.5], coverages=(0.5, 0.9))
    with pytest.raises(EvidenceError, match="Cannot use 80 as a coverage"):
        calibration([1], [1], intervals={80: ([1], [2])})
    with pytest.raises(EvidenceError, match="1 of 2 intervals: low above high"):
        interval_score([1, 3], [2, 2], 1.5, 0.8)
    with pytest.raises(EvidenceError, match="Cannot give a share of 5 in 4"):
        share_interval(5, 4)
    with pytest.raises(EvidenceError, match="median of 0 values"):
        median_interval([])


@pytest.mark.parametrize(("inside", "fell"), [(1, "fell"), (0, "did not fall")])
def test_one_sale_is_told_in_words_of_its_own(inside, fell):
    share = CoverageShare(0.8, 1, inside, 0, 1 - inside, 0.0, 1.0)
    assert share.words == f"The last sale, priced as if unseen, {fell} inside the 80 % interval."
