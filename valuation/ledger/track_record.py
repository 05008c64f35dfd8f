"""The track record: how good the estimates were, by the sales realised since, and how little a short one can say."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import asdict, dataclass
from datetime import date
from functools import cache
from typing import Any

from valuation.errors import shortlist
from valuation.evidence.intervals import Measure, median_interval, share_interval
from valuation.evidence.ratio_study import RatioStudy, ratio_study
from valuation.ledger.matching import Pair, SetAside, match
from valuation.ledger.readings import Readings
from valuation.ledger.records import EstimateRecord, SaleRecord
from valuation.notes import Note

FAR_DAYS = 180
"""An estimate for a day farther from the sale than this is said to be so."""
LEAST_FOR_RATIOS = 3
"""Sales that a ratio study needs."""


@dataclass(frozen=True, slots=True)
class Inside:
    """How many prices fell inside intervals of one stated coverage.

    Attributes
    ----------
    coverage : float
        What the intervals promised, a share.
    inside, n : int
        Prices inside, of how many.
    low, high : float
        Exact (Clopper-Pearson) interval of the true share.
    confidence : float
        Coverage of that interval.
    """

    coverage: float
    inside: int
    n: int
    low: float
    high: float
    confidence: float

    @property
    def share(self) -> float:
        """The share inside."""
        return self.inside / self.n


@dataclass(frozen=True)
class TrackRecord:
    """Estimates against the prices realised after them.

    Attributes
    ----------
    pairs : tuple of Pair
        Each sale with the estimate made before it, in the order in which the sales were written.
    set_aside : tuple of SetAside
        The other recorded sales, each with its reason.
    inside : tuple of Inside
        Share inside the interval, one for each stated coverage that occurs.
    median_error : Measure or None
        Median of the error without its sign, percent of the price; ``None`` without a pair.
    bias : Measure or None
        Median of the error with its sign, percent of the price; above 0 when estimates run high.
    ratio_study : RatioStudy or None
        ``None`` below three pairs, or when they are not all in one currency.
    notes : tuple of Note
        What the figures say and how little, in plain words.
    """

    pairs: tuple[Pair, ...]
    set_aside: tuple[SetAside, ...]
    inside: tuple[Inside, ...]
    median_error: Measure | None
    bias: Measure | None
    ratio_study: RatioStudy | None
    notes: tuple[Note, ...]

    def as_dict(self) -> dict[str, Any]:
        """The whole as plain JSON values; an end that is open becomes ``None``."""
        whole: dict[str, Any] = _plain(asdict(self))
        for pair, values in zip(self.pairs, whole["pairs"], strict=True):
            values |= {"inside": pair.inside, "error": pair.error}
        for group, values in zip(self.inside, whole["inside"], strict=True):
            values["share"] = group.share
        return whole


def track_record(ledger: Readings, confidence: float = 0.95) -> TrackRecord:
    """Set every realised sale against the newest estimate of that vehicle made before it.

    Parameters
    ----------
    ledger : Ledger
    confidence : float
        Coverage of the intervals of the figures, a share.

    Returns
    -------
    TrackRecord
        Also for an empty ledger, with a note that says so.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    EvidenceError
        If ``confidence`` is not a share.

    References
    ----------
    .. [1] C. J. Clopper and E. S. Pearson (1934), Biometrika 26, 404-413 (share inside).
    .. [2] IAAO, Standard on Ratio Studies, 2013 (ratio study).
    """
    recorded = ledger.records(SaleRecord, withdrawn=True)
    standing = [sale for sale in recorded if not sale.withdrawn]
    pairs, aside = match(standing, ledger.all_written(EstimateRecord))
    errors = [pair.error for pair in pairs]
    median_error = bias = study = None
    if pairs:
        size = median_interval([abs(error) for error in errors], confidence)
        median_error = Measure(size.value, max(size.low, 0.0), size.high, size.coverage, size.method)
        bias = median_interval(errors, confidence)
    if len(pairs) >= LEAST_FOR_RATIOS and len({pair.currency for pair in pairs}) == 1:
        study = ratio_study(
            [pair.median for pair in pairs],
            [pair.price for pair in pairs],
            confidence,
            names=[f"{pair.subject} (sale {pair.sale_id})" for pair in pairs],
        )
    inside = _inside(pairs, confidence)
    notes = [
        *(_inside_note(group) for group in inside),
        *_error_notes(len(pairs), median_error, bias),
        *_gap_notes(pairs, aside, withdrawn=len(recorded) - len(standing)),
    ]
    return TrackRecord(pairs, aside, inside, median_error, bias, study, tuple(notes))


@cache
def sales_needed(coverage: float, confidence: float, within: float = 0.1) -> int:
    """How many sales it takes to know the share inside to ``within`` either way, when it is what was promised.

    Examples
    --------
    >>> 60 < sales_needed(0.8, 0.95) < 80
    True
    """
    n = 1
    while True:
        low, high = share_interval(round(coverage * n), n, confidence)
        if high - low <= 2 * within:
            return n
        n += 1


def _inside(pairs: tuple[Pair, ...], confidence: float) -> tuple[Inside, ...]:
    groups: dict[float, list[bool]] = defaultdict(list)
    for pair in pairs:
        groups[pair.coverage].append(pair.inside)
    return tuple(
        Inside(coverage, sum(found), len(found), *share_interval(sum(found), len(found), confidence), confidence)
        for coverage, found in sorted(groups.items())
    )


def _inside_note(group: Inside) -> Note:
    promised = f"{100 * group.coverage:g} %"
    found = (
        f"Of {_sales(group.n)}, {group.inside} fell inside the {promised} interval stated before. By these alone the "
        f"true share may lie anywhere from {100 * group.low:.0f} to {100 * group.high:.0f} %"
    )
    if group.high < group.coverage:
        return Note("too_few_inside", f"{found}: less than promised. Take the intervals as too narrow.")
    if group.low > group.coverage:
        return Note("too_many_inside", f"{found}: more than promised. The intervals are wider than they need to be.")
    needed = sales_needed(group.coverage, group.confidence)
    if group.n >= needed:
        return Note("inside_as_promised", f"{found}, which agrees with the {promised}.")
    return Note(
        "inside_not_known",
        f"{found}, so this can neither confirm nor deny the {promised}: it takes about {needed} sales to know the "
        "share to 10 points either way.",
    )


def _error_notes(n: int, error: Measure | None, bias: Measure | None) -> list[Note]:
    if error is None or bias is None:
        return [
            Note(
                "no_record_yet",
                "No sale can be set against an estimate made before it yet. Record each sale when it is made: some "
                f"{sales_needed(0.8, 0.95)} sales say how far an 80 % interval can be trusted; a handful says little.",
            )
        ]
    if math.isinf(bias.high):
        return [
            Note(
                "too_few_for_bias",
                f"Half of the estimates were off by {error.value:.1f} % of the price or more, and the middle one by "
                f"{bias.value:+.1f} %. {_sales(n)} cannot say more: it takes six to bound the middle error with 95 % "
                "confidence.",
            )
        ]
    reach = (
        f"Half of the estimates were off by {error.value:.1f} % of the price or more (between {error.low:.1f} and "
        f"{error.high:.1f} % on more sales like these). The middle one was {bias.value:+.1f} % off (between "
        f"{bias.low:+.1f} and {bias.high:+.1f} %)"
    )
    if bias.low > 0:
        return [Note("runs_high", f"{reach}: the estimates run high.")]
    if bias.high < 0:
        return [Note("runs_low", f"{reach}: the estimates run low.")]
    return [Note("no_bias_shown", f"{reach}: {_sales(n)} do not show that they run high or low.")]


def _gap_notes(pairs: tuple[Pair, ...], aside: tuple[SetAside, ...], withdrawn: int) -> list[Note]:
    notes = []
    far = [pair.subject for pair in pairs if abs((pair.sold_on - pair.as_of).days) > FAR_DAYS]
    if far:
        notes.append(
            Note(
                "another_date",
                f"Estimated for a day more than {FAR_DAYS} days from the sale, so that the market may have moved: "
                f"{shortlist(far)}.",
            )
        )
    if len({pair.currency for pair in pairs}) > 1:
        notes.append(Note("mixed_currencies", "The sales are in several currencies, so there is no ratio study."))
    if aside:
        why = shortlist([one.why.rstrip(".") for one in aside], limit=5)
        notes.append(Note("sales_left_out", f"Recorded sales not counted: {len(aside)}. {why}."))
    if withdrawn:
        notes.append(Note("sales_withdrawn", f"Sales recorded and withdrawn since, not counted: {withdrawn}."))
    return notes


def _sales(n: int) -> str:
    return "1 sale" if n == 1 else f"{n} sales"


def _plain(value: object) -> Any:
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
