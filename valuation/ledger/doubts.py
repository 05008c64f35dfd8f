"""What has to be confirmed before it is written: figures far from the estimate, and days ahead of the clock."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from statistics import NormalDist

import sqlalchemy as sa

from valuation.build.figures import money
from valuation.errors import UnlikelyError
from valuation.ledger.layout import TABLES
from valuation.ledger.records import EstimateRecord, Record
from valuation.notes import Note
from valuation.text.language import english_day
from valuation.view import with_currency

SURE = 0.999
"""A figure is far when it lies outside the range that would hold this share of such sales; chosen."""
LEAST_FACTOR, MOST_FACTOR = 3.0, 10.0
"""Within the first nothing is asked, since an honest low offer may be a third of the estimate; from the second on
always, since that is what a slipped digit makes, however wide the range."""


def usual_range(estimate: EstimateRecord) -> tuple[float, float]:
    """From where to where a figure for this vehicle is taken without a question; money.

    The prediction interval is stretched to ``SURE``, as it would be for a log-normal price; an open end is as far from
    the estimate as the other one.

    Parameters
    ----------
    estimate : EstimateRecord
    """
    ends = [estimate.median / estimate.low if estimate.low else None]
    ends.append(estimate.high / estimate.median if estimate.high else None)
    known = [end for end in ends if end is not None] or [MOST_FACTOR]
    stretch = min(_quantile(SURE) / _quantile(estimate.coverage), 5.0)
    factors = (min(known[0] if end is None else end, MOST_FACTOR) ** stretch for end in ends)
    down, up = (min(max(factor, LEAST_FACTOR), MOST_FACTOR) for factor in factors)
    return estimate.median / down, estimate.median * up


def ask_about_money(what: str, amount: float, currency: str, estimate: EstimateRecord, *, where: str) -> None:
    """Refuse a figure that is far from the estimate, with the question that it raises.

    Parameters
    ----------
    what : str
        Such as ``a price``.
    amount : float
        Money.
    currency : str
        Of the amount.
    estimate : EstimateRecord
        Of the vehicle.
    where : str
        The field that a form shows the question beside.

    Raises
    ------
    UnlikelyError
        If the figure lies outside `usual_range`; one in another currency cannot be compared.
    """
    low, high = usual_range(estimate)
    if currency.casefold() == estimate.currency.casefold() and not low <= amount <= high:
        said = with_currency(money(amount), currency)
        raise UnlikelyError(
            f"Is {said} right? The estimate of '{estimate.subject}' is "
            f"{with_currency(_about(estimate.median), currency)}, "
            f"and {what} under {_about(low)} or over {_about(high)} has to be confirmed. Nothing was written yet: "
            "confirm the figure, or correct it.",
            where=where,
        )


def ask_about_day(what: str, day: date, now: datetime, newest: datetime | None, *, where: str) -> None:
    """Refuse a day ahead of the clock with a question, unless the ledger itself shows that the clock is behind.

    Parameters
    ----------
    what : str
        Such as ``sale``.
    day : date
        The day to be written.
    now : datetime
        What the clock says.
    newest : datetime or None
        When the newest records were written; see `newest_moment`.
    where : str
        The field that a form shows the question beside.

    Raises
    ------
    UnlikelyError
        If the day lies after tomorrow.
    """
    # One day of grace: the shop's calendar may be ahead of the clock that writes.
    if day > now.date() + timedelta(days=1) and clock_note(now, newest) is None:
        raise UnlikelyError(
            f"Cannot write the {what} to the ledger yet: its date {english_day(day)} lies in the future (this "
            f"computer's clock says {english_day(now.date())}). Correct the date, or the clock; "
            "or confirm the date if it is right.",
            where=where,
        )


def clock_note(now: datetime, newest: datetime | None) -> Note | None:
    """The note that the clock is behind the newest record, so that it was set back since or ran ahead then.

    Parameters
    ----------
    now : datetime
        What the clock says.
    newest : datetime or None
        When the newest records were written; see `newest_moment`.
    """
    if newest is None or newest - now <= timedelta(hours=1):
        return None
    return Note(
        "clock_behind",
        f"This computer's clock says {now:%Y-%m-%d %H:%M}, but a record in the ledger was written on "
        f"{newest:%Y-%m-%d %H:%M}: the clock has been set back since, or was ahead then. Set it right. Sales and "
        "offers keep the dates that you enter; an estimate made meanwhile may count as older than a sale "
        "that came before it.",
    )


def newest_moment(connection: sa.Connection, but: Record | None = None) -> datetime | None:
    """The latest time that stands on the last record of any kind, so that one wrong hour long ago says nothing.

    Parameters
    ----------
    connection : Connection
    but : Record, optional
        One that is just being written and is left out.
    """
    moments = (
        connection.scalar(
            sa.select(table.c.written_at)
            .where(table.c.id != but.id if but and isinstance(but, kind) else sa.true())
            .order_by(table.c.id.desc())
            .limit(1)
        )
        for kind, table in TABLES.items()
    )
    return max((moment for moment in moments if moment is not None), default=None)


def _quantile(coverage: float) -> float:
    return NormalDist().inv_cdf((1 + coverage) / 2)


def _about(amount: float) -> str:
    return money(float(f"{amount:.3g}"))
