"""Pictures of answers, for a notebook: the desk's own charts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from valuation.answers.estimate import Estimate
from valuation.answers.explain import Evidence
from valuation.comparables.plain_sales import plain_sales
from valuation.comparables.table import Comparables
from valuation.errors import SheetError
from valuation.evidence.unseen import BackTest
from valuation.paths.compare import PathsReport
from valuation.paths.steps import StepsReport
from valuation.regression.model import Valuation
from valuation.regression.price_curve import CurvePoint, price_curve
from valuation.sell.bands import PriceBands
from valuation.sheets.backtest_pictures import sale_pairs
from valuation.sheets.chart_style import Chart, Money
from valuation.text.locale import Locale
from valuation.text.plain import plain


def chart(answer: Any, what: str = "", locale: Locale | None = None) -> Chart:
    """The picture of an answer; a notebook shows it as it is, and ``.svg()`` gives its text.

    Parameters
    ----------
    answer : Comparables, Valuation, Estimate, Evidence, BackTest, PathsReport, StepsReport or PriceBands
    what : str
        Of an estimate: ``"price"`` (unless told), ``"factors"``; of evidence also ``"influence"``.
    locale : Locale, optional
        How figures are written.

    Returns
    -------
    Chart
        The Vega-Lite specification, what the picture says in words, and its table.

    Raises
    ------
    SheetError
        If there is no such picture: names those that there are.
    """
    pictures = _pictures(answer, locale or Locale())
    if not pictures:
        raise SheetError(
            f"Cannot draw {type(answer).__name__!r}. Give comparables, an estimate, evidence, a back-test, paths, "
            "steps or bands."
        )
    if what and what not in pictures:
        raise SheetError(f"Cannot draw {what!r} of {type(answer).__name__!r}. Give one of {', '.join(pictures)}.")
    return pictures[what or next(iter(pictures))]()


def _pictures(answer: Any, locale: Locale) -> dict[str, Callable[[], Chart]]:
    """The pictures of an answer by name, the usual one first."""
    from valuation.sheets import bands_chart, deal_charts, sale_charts

    money, about = locale.money, locale.about
    if isinstance(answer, Valuation):
        return {"price": lambda: _price(answer, price_curve(answer.distribution), (), about)}
    if isinstance(answer, Estimate):
        return _of_estimate(answer, about)
    if isinstance(answer, Comparables):
        return {"prices": lambda: sale_charts.price_by_date(plain_sales(answer), None, answer.currency, money)}
    if isinstance(answer, BackTest):
        return {"sales": lambda: sale_charts.track_picture(sale_pairs(answer.sales), "", money)}
    if isinstance(answer, PathsReport):
        return {"paths": lambda: deal_charts.paths_picture(plain(answer.paths), answer.currency, money)}
    if isinstance(answer, StepsReport):
        return {"steps": lambda: deal_charts.steps_picture(plain(answer.results), answer.currency, money)}
    if isinstance(answer, PriceBands):
        return {"bands": lambda: bands_chart.bands_picture((), plain(answer), (), answer.currency, locale)}
    return {}


def _of_estimate(found: Estimate, money: Money) -> dict[str, Callable[[], Chart]]:
    from valuation.sheets.charts import effects_picture, influence_picture

    named = [{**plain(one), "title": found.titles[one.attribute]} for one in found.factors]
    pictures = {
        "price": lambda: _price(found, found.curve, plain(found.grid), money),
        "factors": lambda: effects_picture(found.base, named, found.median, found.currency, money),
    }
    if isinstance(found, Evidence) and found.influence:
        pictures["influence"] = lambda: influence_picture(plain(found.influence), found.median, found.currency, money)
    return pictures


def _price(found: Estimate | Valuation, curve: Sequence[CurvePoint], grid: Any, money: Money) -> Chart:
    from valuation.sheets.charts import estimate_picture

    interval = found.interval
    shown = {"coverage": interval.coverage, "low": interval.low, "high": interval.high}
    return estimate_picture(plain(curve), shown, found.median, grid, found.currency, money)
