"""Pictures of a back-test: each past sale against the interval that it would have been given beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from valuation.errors import SheetError
from valuation.evidence.unseen import BackTest, UnseenSale
from valuation.files import write_file
from valuation.sheets.paper_charts import paper_svg
from valuation.sheets.sale_charts import track_picture
from valuation.text.locale import Locale

SALES_A_PICTURE = 40
"""Sales that can be told apart on one page."""


def write_pictures(
    report: BackTest, folder: str | Path, currency: str = "", locale: Locale | None = None
) -> list[Path]:
    """Write SVG pictures of a back-test, forty sales each, oldest first.

    Parameters
    ----------
    report : BackTest
        The sales priced as if unseen.
    folder : str or Path
        Made if it is not there; files of the same names are replaced.
    currency : str
        Shown on the axis.
    locale : Locale, optional
        How figures are written.

    Raises
    ------
    SheetError
        If the folder or a file cannot be written.
    """
    here, written_in = Path(folder), locale or Locale()
    written: list[Path] = []
    try:
        here.mkdir(parents=True, exist_ok=True)
        for number, start in enumerate(range(0, len(report.sales), SALES_A_PICTURE), start=1):
            pairs = sale_pairs(report.sales[start : start + SALES_A_PICTURE])
            picture = here / f"backtest-{number}.svg"
            write_file(picture, paper_svg(track_picture(pairs, currency, written_in.money), written_in, headed=True))
            written.append(picture)
    except OSError as error:
        raise SheetError(f"Cannot write pictures to {here}: {error.strerror}. Name another folder.") from error
    return written


def sale_pairs(sales: Sequence[UnseenSale]) -> list[dict[str, Any]]:
    """Sales as ``track_picture`` draws them."""
    return [
        {
            "subject": sale.sale,
            "sold_on": sale.date.isoformat() if sale.date else "no date",
            "price": sale.price,
            "median": sale.estimate,
            "low": sale.low,
            "high": sale.high,
            "inside": sale.inside,
        }
        for sale in sales
    ]
