"""Which estimate a realised sale is set against: the newest one of that vehicle that was made before the sale."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from valuation.ledger.records import EstimateRecord, SaleRecord
from valuation.text.language import english_day
from valuation.text.plain import OpenSide


@dataclass(frozen=True, slots=True)
class Pair:
    """A realised sale and the estimate made before it.

    Attributes
    ----------
    sale_id, estimate_id : int
        Their numbers in the ledger.
    subject : str
        The vehicle.
    sold_on, estimated_on, as_of : date
        Day of the sale, day on which the estimate was made, and the day for which it was made.
    price, median : float
        Realised buyer-pays price and estimate, money in ``currency``.
    low, high : float
        Prediction interval, money; 0 or inf where that side is open.
    coverage : float
        Stated coverage of the interval, a share.
    currency : str
        Of all the money here.
    inside : bool
        Whether the price fell inside the prediction interval, its ends counted in.
    error : float
        By how many percent of the price the estimate was too high (below 0: too low).
    """

    sale_id: int
    estimate_id: int
    subject: str
    sold_on: date
    estimated_on: date
    as_of: date
    price: float
    median: float
    low: OpenSide
    high: OpenSide
    coverage: float
    currency: str
    inside: bool = field(init=False, default=False)
    error: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "inside", self.low <= self.price <= self.high)
        object.__setattr__(self, "error", 100 * (self.median / self.price - 1))


@dataclass(frozen=True, slots=True)
class SetAside:
    """A recorded sale that no estimate can be held against, and why."""

    sale_id: int
    subject: str
    why: str


def match(
    sales: Sequence[SaleRecord], estimates: Iterable[EstimateRecord]
) -> tuple[tuple[Pair, ...], tuple[SetAside, ...]]:
    """Set each standing sale against the newest estimate of its vehicle made before the day of the sale.

    Parameters
    ----------
    sales : sequence of SaleRecord
        The standing ones.
    estimates : iterable of EstimateRecord
        Every one ever written, corrected and withdrawn ones too: what was believed before a sale is what counts, and a
        later correction or withdrawal does not undo it.

    Returns
    -------
    pairs, set_aside
        Every sale is in one of the two.

    Notes
    -----
    A sale names one estimate of the vehicle as sold. The estimates that count are that one's chain of corrections and
    those of the same subject with the same attributes: an estimate of the vehicle as it was found is not one of
    the vehicle as it was finished. An estimate made on the very day of the sale does not count, since nobody can say
    which came first; the day is that of the clock which wrote the estimate.
    """
    written = {estimate.id: estimate for estimate in estimates}
    chains: dict[int, list[EstimateRecord]] = defaultdict(list)
    for estimate in written.values():
        chains[_first(estimate, written)].append(estimate)
    by_subject: dict[str, list[int]] = defaultdict(list)
    for first in chains:
        by_subject[written[first].subject].append(first)

    pairs: list[Pair] = []
    aside: list[SetAside] = []
    seen: dict[tuple[str, date], int] = {}
    for sale in sales:
        named = written[sale.estimate_id]
        own = _first(named, written)
        before = [
            standing
            for first in sorted({own, *by_subject[sale.subject]})
            if (standing := _standing_before(chains[first], sale.sold_on))
            and (first == own or (standing.subject, standing.vehicle) == (named.subject, named.vehicle))
        ]
        newest = max(before, key=lambda estimate: estimate.id, default=None)
        twin = seen.setdefault((sale.subject, sale.sold_on), sale.id)
        if twin != sale.id:
            aside.append(_set_aside(sale, f"sale {twin} is of the same vehicle on the same day"))
        elif not sale.arms_length:
            aside.append(_set_aside(sale, "it was not at arm's length"))
        elif newest is None:
            aside.append(_set_aside(sale, f"no estimate of it was made before {english_day(sale.sold_on)}"))
        elif newest.currency != sale.currency:
            found = f"its price is in {_named(sale.currency)} and the estimate in {_named(newest.currency)}"
            aside.append(_set_aside(sale, found))
        else:
            pairs.append(_pair(sale, newest))
    return tuple(pairs), tuple(aside)


def _first(estimate: EstimateRecord, written: dict[int, EstimateRecord]) -> int:
    """Number of the first estimate of the chain."""
    while estimate.corrects is not None:
        estimate = written[estimate.corrects]
    return estimate.id


def _standing_before(chain: list[EstimateRecord], day: date) -> EstimateRecord | None:
    """What a chain said at the end of the day before; nothing if it was not begun or was withdrawn by then."""
    made = [estimate for estimate in chain if estimate.written_at.date() < day]
    last = max(made, key=lambda estimate: estimate.id, default=None)
    return None if last is None or last.withdrawn else last


def _named(currency: str) -> str:
    return currency or "no named currency"


def _set_aside(sale: SaleRecord, why: str) -> SetAside:
    return SetAside(sale.id, sale.subject, f"Sale {sale.id} of {sale.subject} is left out: {why}.")


def _pair(sale: SaleRecord, estimate: EstimateRecord) -> Pair:
    return Pair(
        sale_id=sale.id,
        estimate_id=estimate.id,
        subject=sale.subject,
        sold_on=sale.sold_on,
        estimated_on=estimate.written_at.date(),
        as_of=estimate.as_of,
        price=sale.price,
        median=estimate.median,
        low=0.0 if estimate.low is None else estimate.low,
        high=float("inf") if estimate.high is None else estimate.high,
        coverage=estimate.coverage,
        currency=sale.currency,
    )
