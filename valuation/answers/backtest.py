"""How estimates of the past would have fared."""

from __future__ import annotations

from valuation.comparables.table import Comparables
from valuation.evidence.backtest import Progress, back_test
from valuation.evidence.unseen import BackTest
from valuation.text.language import say
from valuation.threads import in_one_thread


@in_one_thread()
def backtest(comparables: Comparables, coverage: float = 0.8, *, progress: Progress | None = None) -> BackTest:
    """Past sales priced as if unseen, by fits that saw earlier sales alone.

    Parameters
    ----------
    comparables : Comparables
        The table. Rows without a date take no part.
    coverage : float
        Of the intervals that are counted.
    progress : callable, optional
        Called with the number of sales priced and the number to be priced.

    Raises
    ------
    TooFewSalesError
        If no cut-off leaves enough rows to fit and enough sales to price.
    EvidenceError
        If the coverage is not a share, or something from the future reached a fit.

    Examples
    --------
    >>> import valuation as v
    >>> table = v.read_comparables("data/comparables.csv", v.read_schema("data/schema.toml"))
    >>> v.backtest(table)
    <Back-test: 73 of 90 sales inside their 80% interval>
    """
    return back_test(comparables, coverage=coverage, progress=progress)


def record_sentence(report: BackTest) -> str:
    """How many of which sales fell inside, and how far half of the estimates missed."""
    days = [one.date for one in report.sales if one.date is not None]
    return say(
        "Of {n} sales from {first} to {last}, priced as if unseen, {inside} fell inside their range ({percent} promise "
        "{promised}); half of the estimates missed by less than {miss}.",
        n=len(report.sales),
        first=min(days),
        last=max(days),
        inside=sum(one.inside for one in report.sales),
        percent=f"{100 * report.coverage:g} %",
        promised=f"{report.coverage * len(report.sales):.0f}",
        miss=f"{report.calibration.median_miss_percent:.0f} %",
    )
