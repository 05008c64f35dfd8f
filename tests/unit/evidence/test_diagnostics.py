"""Diagnostics: each trouble planted is found and said, a clean table is left in peace."""

import numpy as np
import pandas as pd
import pytest
from sklearn.mixture import GaussianMixture

from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.diagnostics import diagnose
from valuation.evidence.residual_checks import breusch_pagan, humps, tails, white_special
from valuation.evidence.unusual import influence_figures, unusual_sales


def table(n, seed=0):
    """Two independent attributes and a fitted log price."""
    rng = np.random.default_rng(seed)
    design = rng.normal(size=(n, 2))
    return rng, design, 10 + design @ [0.4, 0.2]


def said(found):
    return {note.code: note.text for note in found.notes}


def diagnose_plain(residuals, fitted, design, **more):
    return diagnose(design, residuals, fitted, ["model year", "mileage"], **more)


def test_clean_table_gets_one_quiet_note():
    rng, design, fitted = table(60)
    found = diagnose_plain(rng.normal(0, 0.2, 60), fitted, design)
    assert list(said(found)) == ["diagnostics_quiet"]
    assert "shows only strong departures" in said(found)["diagnostics_quiet"]
    rng, design, fitted = table(150, seed=2)
    large = diagnose_plain(rng.normal(0, 0.2, 150), fitted, design)
    assert "strong departures" not in said(large)["diagnostics_quiet"]


def test_false_alarms_stay_few():
    alarms = 0
    for seed in range(60):
        rng, design, fitted = table(40, seed)
        found = diagnose_plain(rng.normal(0, 0.2, 40), fitted, design)
        alarms += list(said(found)) != ["diagnostics_quiet"]
    # Spread and shape are each tested at 5 %; 13 of 60 would have probability under 1 in 100 at 10 % together.
    assert alarms < 13


def test_spread_that_grows_with_the_price_is_said_with_its_meaning():
    rng, design, fitted = table(120)
    spread = 0.05 * np.exp(1.5 * (fitted - 10))
    found = diagnose_plain(rng.normal(0, 1, 120) * spread, fitted, design)
    text = said(found)["spread_grows"]
    assert "too wide for cheap and too narrow for expensive vehicles" in text
    cheap, middle, dear = found.typical_miss
    assert cheap < middle < dear
    assert f"above {cheap:.0f} % among the cheapest" in text
    assert found.breusch_pagan.probability < 0.01
    falling = diagnose_plain(rng.normal(0, 1, 120) / spread / 100, fitted, design)
    assert "too narrow for cheap and too wide for expensive" in said(falling)["spread_shrinks"]


def test_spread_that_is_wide_at_both_ends_is_said_without_a_direction():
    rng, design, fitted = table(200, seed=4)
    spread = 0.05 + 0.5 * (fitted - fitted.mean()) ** 2
    found = diagnose_plain(rng.normal(0, 1, 200) * spread, fitted, design)
    assert "not in one direction" in said(found)["spread_uneven"]
    assert found.white.probability < 0.01


def test_two_groups_of_misses_are_said_with_where_they_lie():
    rng, design, fitted = table(80)
    residuals = np.where(np.arange(80) < 48, -0.3, 0.45) + rng.normal(0, 0.08, 80)
    found = diagnose_plain(residuals, fitted, design)
    text = said(found)["two_humps"]
    assert "one around -26 % (60 % of the sales)" in text
    assert "something that parts the vehicles is not in the table" in text
    assert found.humps.separation > 4
    assert found.humps.shares == pytest.approx((0.6, 0.4), abs=0.01)


@pytest.mark.parametrize("n", [30, 60, 200])
def test_heavy_tails_and_skewness_are_not_taken_for_humps(n):
    rng = np.random.default_rng(1)
    for draw in (rng.standard_normal, lambda size: rng.standard_t(3, size), rng.laplace, None):
        seen = 0
        for _ in range(20):
            sample = rng.gamma(3, size=n) if draw is None else draw(size=n)
            seen += humps(sample).two
        assert seen <= 3


def test_heavy_tails_are_said():
    rng, design, fitted = table(150, seed=8)
    found = diagnose_plain(0.1 * rng.standard_t(2.5, 150), fitted, design)
    assert "the few that fall outside can miss by a lot" in said(found)["heavy_tails"]
    assert found.tails.excess_kurtosis > 1


def test_skewed_misses_are_said_on_their_side():
    rng, design, fitted = table(150, seed=9)
    skewed = 0.1 * (rng.gamma(2, size=150) - 2)
    assert "mostly above the estimate" in said(diagnose_plain(skewed, fitted, design))["skewed"]
    assert "mostly below the estimate" in said(diagnose_plain(-skewed, fitted, design))["skewed"]


def test_attributes_that_move_together_are_named_once_as_a_pair():
    rng = np.random.default_rng(5)
    year = rng.normal(size=60)
    design = pd.DataFrame({"y": year, "m": -year + rng.normal(0, 0.2, 60), "c": rng.normal(size=60)})
    found = diagnose(design, rng.normal(0, 0.2, 60), 10 + year, ["model year", "mileage", "condition"])
    texts = [note.text for note in found.notes if note.code == "attributes_move_together"]
    assert len(texts) == 1
    assert "model year and mileage go together" in texts[0] or "mileage and model year go together" in texts[0]
    by_name = {block.block: block for block in found.collinearity}
    assert by_name["model year"].inflation > 10 > 2 > by_name["condition"].inflation
    assert by_name["model year"].partner == "mileage"


def test_attribute_that_follows_from_several_others():
    rng = np.random.default_rng(6)
    parts = rng.normal(size=(80, 3))
    design = np.column_stack([parts, parts.sum(axis=1) + rng.normal(0, 0.3, 80)])
    found = diagnose(design, rng.normal(0, 0.2, 80), 10 + parts[:, 0], ["a", "b", "c", "sum"])
    texts = " ".join(note.text for note in found.notes if note.code == "attribute_follows_from_others")
    assert "sum follows largely from the other attributes together" in texts


def test_full_sets_of_level_columns_do_no_harm():
    rng = np.random.default_rng(7)
    body = rng.integers(0, 3, 50)
    levels = np.eye(3)[body]  # one column for each level: they sum to 1
    design = np.column_stack([levels, rng.normal(size=50), np.full(50, 4.0)])
    found = diagnose(design, rng.normal(0, 0.2, 50), 10 + design[:, 3], ["body"] * 3 + ["model year", "constant"])
    assert [(block.block, block.columns) for block in found.collinearity] == [("body", 2), ("model year", 1)]
    assert all(block.inflation < 2 for block in found.collinearity)
    assert found.condition_number == np.inf


def test_one_attribute_that_is_another_is_infinitely_inflated():
    rng = np.random.default_rng(8)
    year = rng.normal(size=40)
    found = diagnose(np.c_[year, 2 * year - 3], rng.normal(size=40), year, ["a", "b"])
    assert [block.inflation for block in found.collinearity] == [np.inf, np.inf]
    assert "overlap 100 %" in said(found)["attributes_move_together"]


def test_more_columns_than_sales_leans_on_the_penalty():
    rng = np.random.default_rng(9)
    design = rng.normal(size=(15, 20))
    found = diagnose(design, rng.normal(0, 0.2, 15), design[:, 0], [f"x{i // 5}" for i in range(20)])
    assert "lean on the penalty" in said(found)["more_columns_than_sales"]
    assert "attributes_move_together" not in said(found)


def test_unusual_sales_are_named_when_leverages_are_given():
    rng, design, fitted = table(50)
    residuals = rng.normal(0, 0.1, 50)
    residuals[7] = 1.2
    names = [f"Lot {i}" for i in range(50)]
    found = diagnose_plain(residuals, fitted, design, leverage=np.full(50, 3 / 50), names=names)
    assert [sale.name for sale in found.unusual] == ["Lot 7"]
    assert "Lot 7 (3.32 times what the table explains)" in said(found)["unusual_sales"]
    unnamed = diagnose_plain(residuals, fitted, design, leverage=np.full(50, 3 / 50))
    assert unnamed.unusual[0].name == "row 8"


def test_prices_that_are_all_equal_have_no_misses_to_check():
    _, design, _ = table(20)
    found = diagnose_plain(np.zeros(20), np.full(20, 9.0), design, leverage=np.full(20, 0.1))
    assert "Every sale is met exactly" in said(found)["no_misses"]
    assert (found.breusch_pagan, found.tails, found.humps, found.unusual) == (None, None, None, ())


def test_fitted_prices_that_are_all_equal_leave_the_spread_out():
    rng, design, _ = table(30)
    found = diagnose_plain(rng.normal(size=30), np.full(30, 9.0), design)
    assert found.breusch_pagan is None
    assert found.tails is not None


def test_misses_of_one_size_have_an_even_spread():
    found = breusch_pagan(np.resize([0.1, -0.1], 20), np.arange(20.0))
    assert (found.statistic, found.probability) == (0.0, 1.0)


def test_misses_that_are_all_nothing_influence_nothing():
    figures = influence_figures(np.zeros(10), np.full(10, 0.2), parameters=2)
    assert not figures.cook.any()
    assert not figures.external.any()


def test_one_sale_that_alone_makes_the_error_is_infinitely_unusual():
    residuals = np.zeros(10)
    residuals[4] = 0.8
    figures = influence_figures(residuals, np.full(10, 0.2), parameters=2)
    assert figures.external[4] == np.inf
    assert unusual_sales(residuals, np.full(10, 0.2), 2, [str(i) for i in range(10)])[0].name == "4"


def test_light_tails_alone_are_no_finding():
    # Evenly spread misses with rounded ends: platykurtic, one group.
    rng, design, fitted = table(400, seed=12)
    found = diagnose_plain(0.1 * (rng.random(400) + rng.random(400) - 1), fitted, design)
    assert found.tails.excess_kurtosis < 0
    assert found.tails.probability < 0.05
    assert list(said(found)) == ["diagnostics_quiet"]


def test_order_of_rows_and_units_do_not_matter():
    rng, design, fitted = table(70, seed=3)
    residuals = np.where(rng.random(70) < 0.5, -0.3, 0.3) + rng.normal(0, 0.1, 70)
    order = rng.permutation(70)
    first = diagnose_plain(residuals, fitted, design)
    second = diagnose_plain(residuals[order], fitted[order], design[order] * [1000, 0.001])
    assert second.humps == first.humps
    assert second.notes == first.notes
    assert second.breusch_pagan.statistic == pytest.approx(first.breusch_pagan.statistic, rel=1e-9)
    assert [b.inflation for b in second.collinearity] == pytest.approx([b.inflation for b in first.collinearity])
    # A fitted price in another currency is shifted in logs.
    assert white_special(residuals, fitted + 3).statistic == pytest.approx(first.white.statistic, rel=1e-9)


def test_refusals():
    rng, design, fitted = table(30)
    residuals = rng.normal(size=30)
    with pytest.raises(TooFewSalesError, match="5 sold rows found, 8 needed"):
        diagnose_plain(residuals[:5], fitted[:5], design[:5])
    with pytest.raises(EvidenceError, match=r"30 residuals, 29 fitted values and a design of shape \(30, 2\)"):
        diagnose_plain(residuals, fitted[:29], design)
    with pytest.raises(EvidenceError, match="a residual or a fitted value is not finite"):
        diagnose_plain(residuals, np.where(fitted > 10, np.inf, fitted), design)
    with pytest.raises(EvidenceError, match=r"shape \(30, 2\) with 3 labels"):
        diagnose(design, residuals, fitted, ["a", "b", "c"])
    with pytest.raises(EvidenceError, match="1 names for 30 sales"):
        diagnose_plain(residuals, fitted, design, leverage=np.full(30, 0.1), names=["x"])
    with pytest.raises(EvidenceError, match="30 leverages found, or a leverage outside"):
        diagnose_plain(residuals, fitted, design, leverage=np.ones(30))
    with pytest.raises(EvidenceError, match="no degree of freedom"):
        diagnose_plain(residuals, fitted, design, leverage=np.full(30, 0.98))
    with pytest.raises(EvidenceError, match="an explanatory column is constant"):
        breusch_pagan(residuals, np.ones(30))
    with pytest.raises(EvidenceError, match="30 residuals and 15 rows"):
        breusch_pagan(residuals, np.ones((15, 2)))
    with pytest.raises(TooFewSalesError, match="4 sales found, 5 needed for 3 columns"):
        breusch_pagan(residuals[:4], rng.normal(size=(4, 3)))
    with pytest.raises(EvidenceError, match="1 of 3 are not finite"):
        tails([0.1, np.nan, 0.2])
    with pytest.raises(TooFewSalesError, match="all equal or fewer than 3"):
        humps([0.1, 0.1, 0.1, 0.1])


@pytest.mark.parametrize(("n", "apart"), [(40, 4.0), (90, 2.5), (200, 5.0)])
def test_the_gain_in_bic_is_that_of_scikit_learns_mixtures(n, apart):
    """With the same floor under the variances; both start from the same two groups, so both find the same top."""
    rng = np.random.default_rng(n)
    values = rng.normal(0, 1, n) + apart * (np.arange(n) < n // 3)
    z = ((values - values.mean()) / values.std())[:, None]
    start = [[z.min() / 2], [z.max() / 2]]
    one = GaussianMixture(1, reg_covar=0.01).fit(z)
    two = GaussianMixture(2, reg_covar=0.01, means_init=start, tol=1e-9, max_iter=5000).fit(z)
    assert humps(values).bic_gain == pytest.approx(one.bic(z) - two.bic(z), abs=0.05)
