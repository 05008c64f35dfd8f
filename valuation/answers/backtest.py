"""How estimates of the past would have fared."""

from __future__ import annotations

from valuation.comparables.table import Comparables
from valuation.evidence.backtest import Progress, back_test
from valuation.evidence.unseen import BackTest
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
