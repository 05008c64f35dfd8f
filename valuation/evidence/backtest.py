"""Back-test: past sales priced as if unseen, by fits that only ever look backwards in time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.comparables.price_basis import as_written
from valuation.errors import EvidenceError, TooFewSalesError, shortlist
from valuation.evidence.calibration import calibration
from valuation.evidence.deflation import index_factors, sale_dates
from valuation.evidence.intervals import check_share
from valuation.evidence.ratio_study import ratio_study
from valuation.evidence.unseen import BackTest, UnseenSale
from valuation.notes import Note
from valuation.text.spelling import counted

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.regression.distribution import PriceDistribution
    from valuation.regression.model import PriceModel

Progress = Callable[[int, int], None]
Fitter = Callable[["Comparables"], "PriceModel"]

CUT_OFFS = 10
"""Days from which later sales are predicted; each costs one fit."""
FIRST_SHARE = 1 / 3
"""Share of the sold rows that the first fit may see."""

LEAST_TESTED = 3
"""Sales that must be left to be priced: a ratio study takes three."""


def back_test(
    comparables: Comparables,
    *,
    coverage: float = 0.8,
    cut_offs: int = CUT_OFFS,
    progress: Progress | None = None,
    fit: Fitter | None = None,
    **settings: Any,
) -> BackTest:
    """Price past sales by fits that saw nothing from the day of the cut-off on.

    Parameters
    ----------
    comparables : Comparables
        The table. Rows without a date take no part.
    coverage : float
        Of the intervals that are counted.
    cut_offs : int
        How many times a fit is made, at least 1. The first cut-off lies where a third of the sold rows (and as many
        as a fit needs) are before it; the others part the rest evenly.
    progress : callable, optional
        Called with the number of sales priced and the number to be priced.
    fit : callable, optional
        Makes a model from the comparables before a cut-off; ``PriceModel.fit`` when left out.
    **settings
        Passed to ``PriceModel.fit``.

    Returns
    -------
    BackTest

    Raises
    ------
    TooFewSalesError
        If no cut-off leaves enough rows to fit and enough sales to price.
    EvidenceError
        If something from the future reached a fit: a row sold on or after the cut-off, or a date column that tells
        of days on or after it.

    Notes
    -----
    Everything that a fit learns (levels, knots, variances, the shape of the error) it learns from rows before the
    cut-off. One thing looks at the whole table: the reading itself, which sets aside duplicates and slipped digits.
    """
    check_share("the coverage of an interval", coverage)
    if cut_offs < 1:
        raise EvidenceError(f"Cannot back-test with {cut_offs!r} cut-offs: at least 1 is needed. Give 1 or more.")
    make = fit or _plain_fit(settings)
    dates = sale_dates(comparables)
    days = _cut_off_days(comparables, dates, cut_offs)
    sold = comparables.sales["outcome"] == "sold"
    total = int((sold & (dates >= days[0])).sum())
    tested: list[UnseenSale] = []
    for day, until in zip(days, [*days[1:], None], strict=True):
        before = earlier(comparables, day)
        model = make(before)
        _refuse_leaks(model, before, day)
        rows = sold & (dates >= day) & (dates < until if until is not None else True)
        tested += _priced(model, comparables, np.flatnonzero(rows.to_numpy()), coverage, day)
        if progress is not None:
            progress(len(tested), total)
    tested.sort(key=lambda sale: sale.date or dt.date.min)
    undated = int(dates.isna().sum())
    notes = [
        Note(
            "backtest_rolling",
            f"{len(tested)} sales from {days[0]:%Y-%m-%d} on were priced by {len(days)} fits, each of which saw only "
            "rows sold, bid or asked before its cut-off. The first fits saw few sales, so this is harder than the "
            "work of a fit to the whole table.",
        )
    ]
    if undated:
        notes.append(Note("backtest_undated", f"{counted(undated, 'row')} without a date took no part."))
    return _report("rolling", tested, coverage, [*notes, *comparables.notes])


def left_out_check(model: PriceModel, coverage: float = 0.8) -> BackTest:
    """Each sold row priced from all others, in closed form: for tables that are too small to look back in time.

    Parameters
    ----------
    model : PriceModel
        A model fitted in this session.
    coverage : float
        Of the intervals that are counted.

    Raises
    ------
    EvidenceError
        If the model was loaded from a file and holds no sales.

    Notes
    -----
    The variances stay those of the whole table, re-weighted without the row, and so does the shape of the error, which
    was learned from these very misses: coverage is a point or so better than it will be on new sales. A sale is also
    priced with later ones in sight.
    """
    check_share("the coverage of an interval", coverage)
    fit, table = model.fit_result, model.comparables
    if fit is None or table is None:
        raise EvidenceError(
            "Cannot price each sale as if unseen: the model was loaded from a file and holds no sales. A model fitted "
            "to its table is needed. Fit the table of comparables again."
        )
    rows = np.flatnonzero(fit.exact)
    found = fit.left_out_prices(rows)
    tested = _unseen(table, rows, found, coverage, None, len(fit.response) - 1)
    note = Note(
        "left_out",
        f"Each of the {len(rows)} sold rows was priced from all others, later ones among them; the variances and the "
        "shape of the error are those of the whole table, so coverage comes out a point or so too good.",
    )
    return _report("leave_one_out", tested, coverage, [note, *table.notes])


def earlier(comparables: Comparables, day: pd.Timestamp) -> Comparables:
    """The comparables sold, bid or asked before a day, as a table of their own.

    Parameters
    ----------
    comparables : Comparables
        The table.
    day : Timestamp
        Rows of this day and later are left out, and so are rows without a date.
    """
    keep = (sale_dates(comparables) < day).to_numpy()
    count = int(keep.sum())
    # Nothing of the rest is handed on: neither faults, which name later rows, nor the fingerprint of the whole.
    return replace(
        comparables,
        attributes=comparables.attributes[keep],
        sales=comparables.sales[keep],
        set_aside=comparables.set_aside.iloc[:0],
        extra=comparables.extra[keep] if len(comparables.extra) == len(keep) else comparables.extra.iloc[:0],
        faults=(),
        rows=count,
        fingerprint="",
    )


def _plain_fit(settings: dict[str, Any]) -> Fitter:
    from valuation.regression.model import PriceModel

    return lambda table: PriceModel.fit(table, **settings)


def _cut_off_days(comparables: Comparables, dates: pd.Series[pd.Timestamp], cut_offs: int) -> list[pd.Timestamp]:
    """Days from which on sales are priced, oldest first."""
    from valuation.regression.regressor import LEAST_SALES, LEAST_SOLD

    sold = comparables.sales["outcome"] == "sold"
    days = np.sort(dates.dropna().unique())
    sold_days = np.sort(dates[sold].dropna().to_numpy())
    all_days = np.sort(dates.dropna().to_numpy())
    enough = max(LEAST_SOLD, int(np.ceil(FIRST_SHARE * len(sold_days))))
    possible = [
        day
        for day in days
        if np.searchsorted(sold_days, day) >= enough
        and np.searchsorted(all_days, day) >= LEAST_SALES
        and len(sold_days) - np.searchsorted(sold_days, day) >= 1
    ]
    if not possible or len(sold_days) - np.searchsorted(sold_days, possible[0]) < LEAST_TESTED:
        raise TooFewSalesError(
            f"Cannot back-test: {len(sold_days)} dated sales among {len(all_days)} dated rows found. The first fit "
            f"needs {LEAST_SALES} rows, {enough} of them sold, and {LEAST_TESTED} sales must follow. Add sales, or use "
            "the leave-one-out check."
        )
    ahead = sold_days[np.searchsorted(sold_days, possible[0]) :]
    places = [len(ahead) * k // cut_offs for k in range(cut_offs)]
    return [pd.Timestamp(day) for day in sorted({possible[0], *(ahead[place] for place in places)})]


def _refuse_leaks(model: PriceModel, before: Comparables, day: pd.Timestamp) -> None:
    """Refuse a fit that saw a row of the cut-off's day or later, or a date column that tells of such days."""
    seen = model.comparables if model.comparables is not None else before
    dates = sale_dates(seen)
    late = seen.sales.loc[~(dates < day), "sale"].astype(str).tolist()
    if late:
        raise EvidenceError(
            f"Cannot back-test: the fit for the cut-off {day:%Y-%m-%d} saw {shortlist(late)}, sold on that day or "
            "later. A fit may see earlier rows only. Fit the comparables that it is handed and no others."
        )
    for attribute in seen.schema.attributes:
        if attribute.role != "date" or attribute.name not in seen.attributes:
            continue
        ahead = seen.attributes[attribute.name] >= day
        if ahead.any():
            named = seen.sales.loc[ahead, "sale"].astype(str).tolist()
            raise EvidenceError(
                f"Cannot back-test: the column '{attribute.name}' of {shortlist(named)} tells of days on or after the "
                f"cut-off {day:%Y-%m-%d}, which nobody knew then. Only what was known at the sale may be a column. "
                "Leave that column out of the schema."
            )


def _priced(
    model: PriceModel, comparables: Comparables, rows: npt.NDArray[np.intp], coverage: float, day: pd.Timestamp
) -> list[UnseenSale]:
    cells = comparables.features().iloc[rows].reindex(columns=[attribute.name for attribute in model.attributes])
    found = model.core.distribution(model.core.rows(cells))
    return _unseen(comparables, rows, found, coverage, day.date(), sum(_seen(model).values()))


def _seen(model: PriceModel) -> dict[str, int]:
    return {name: count for name, count in model.sales_used.items() if name != "set_aside"}


def _unseen(
    table: Comparables,
    rows: npt.NDArray[np.intp],
    found: PriceDistribution,
    coverage: float,
    cut_off: dt.date | None,
    sales_seen: int,
) -> list[UnseenSale]:
    names, prices = table.sales["sale"].iloc[rows].tolist(), table.sales["low"].to_numpy(dtype=float)[rows]
    days = sale_dates(table).iloc[rows].tolist()
    estimates, places = found.median(), found.cdf(prices)
    low, high = found.interval(coverage)
    inside = (low <= prices) & (prices <= high)
    moved = index_factors(table)
    return [
        UnseenSale(
            sale=str(names[k]),
            date=None if pd.isna(days[k]) else days[k].date(),
            price=float(prices[k]),
            estimate=float(estimates[k]),
            low=float(low[k]),
            high=float(high[k]),
            place=float(places[k]),
            inside=bool(inside[k]),
            cut_off=cut_off,
            sales_seen=sales_seen,
            as_written="" if inside[k] else as_written(table, int(table.sales.index[row]), float(moved[row])),
        )
        for k, row in enumerate(rows.tolist())
    ]


def _report(
    method: Literal["rolling", "leave_one_out"], tested: list[UnseenSale], coverage: float, notes: list[Note]
) -> BackTest:
    prices = np.array([sale.price for sale in tested])
    estimates = np.array([sale.estimate for sale in tested])
    ends = np.array([sale.low for sale in tested]), np.array([sale.high for sale in tested])
    record = calibration(
        prices,
        estimates,
        places=[sale.place for sale in tested],
        intervals={coverage: ends},
        main_coverage=coverage,
    )
    study = ratio_study(estimates, prices, names=[sale.sale for sale in tested])
    return BackTest(
        method=method,
        coverage=coverage,
        sales=tuple(tested),
        calibration=record,
        ratio_study=study,
        notes=tuple(notes),
    )
