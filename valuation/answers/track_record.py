"""The track record: how good the estimates were, by the sales realised since, and how little a short one can say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import accumulate

from valuation.errors import shortlist
from valuation.evidence.calibration import Calibration, calibration
from valuation.evidence.intervals import check_share, share_interval
from valuation.evidence.ratio_study import RatioStudy, ratio_study
from valuation.ledger.matching import Pair, SetAside, match
from valuation.ledger.reader import Reader
from valuation.ledger.records import EstimateRecord, SaleRecord
from valuation.notes import Note

FAR_DAYS = 180
"""An estimate for a day farther from the sale than this, half a year, is said to be so; chosen."""
LEAST_FOR_RATIOS = 3
"""Sales that a ratio study needs (``evidence.ratio_study``)."""


@dataclass(frozen=True)
class TrackGroup:
    """The sales whose estimates stated one coverage in one currency, so that their figures may be put together.

    Attributes
    ----------
    coverage : float
        What the intervals promised, a share.
    currency : str
        Of the estimates and the prices.
    calibration : Calibration
        Share inside with its exact interval, median error and bias.
    ratio_study : RatioStudy or None
        ``None`` below three sales.
    """

    coverage: float
    currency: str
    calibration: Calibration
    ratio_study: RatioStudy | None


@dataclass(frozen=True)
class TrackRecord:
    """Estimates against the prices realised after them.

    Attributes
    ----------
    pairs : tuple of Pair
        Each sale with the estimate made before it, in the order in which the sales were written.
    set_aside : tuple of SetAside
        The other recorded sales, each with its reason.
    groups : tuple of TrackGroup
        The figures; as a rule one group, and the largest first where there are several.
    notes : tuple of Note
        What the figures say and how little, in plain words.
    sentence : str
        How the largest group stands.
    """

    pairs: tuple[Pair, ...]
    set_aside: tuple[SetAside, ...]
    groups: tuple[TrackGroup, ...]
    notes: tuple[Note, ...]
    sentence: str = field(init=False, default="No recorded sale has an estimate made before it yet.")

    def __post_init__(self) -> None:
        if not self.groups:
            return
        main, promise = self.groups[0].calibration, 100 * self.groups[0].coverage
        (share,) = main.shares
        sales = "the 1 sale" if share.n == 1 else f"the {share.n} sales"
        sentence = (
            f"Of {sales} with an estimate made before, {share.inside} ended inside the {promise:g} % range; half of "
            f"the estimates missed the price by less than {main.median_miss_percent:.0f} %."
        )
        object.__setattr__(self, "sentence", sentence)


def track_record(ledger: Reader, confidence: float = 0.95) -> TrackRecord:
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
    """
    check_share("the confidence of an interval", confidence)
    recorded = ledger.records(SaleRecord, withdrawn=True)
    standing = [sale for sale in recorded if not sale.withdrawn]
    estimates = ledger.all_written(EstimateRecord)
    pairs, aside = match(standing, estimates)
    groups = _groups(pairs, confidence)
    notes = [
        *_how_little(groups, confidence),
        *(note for group in groups for note in group.calibration.notes),
        *_gaps(pairs, aside, groups, withdrawn=len(recorded) - len(standing)),
        *_corrected(standing),
        *_behind(pairs, estimates),
    ]
    return TrackRecord(pairs, aside, groups, tuple(notes))


@cache
def sales_needed(coverage: float, confidence: float, within: float = 0.1) -> int:
    """How many sales it takes to know the share inside to ``within`` either way, when it is what was promised.

    Parameters
    ----------
    coverage : float
        What the intervals promise, a share.
    confidence : float
        Coverage of the interval for the share, a share.
    within : float
        Half the width to reach, a share.

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


def _groups(pairs: Sequence[Pair], confidence: float) -> tuple[TrackGroup, ...]:
    alike: dict[tuple[float, str], list[Pair]] = defaultdict(list)
    for pair in pairs:
        alike[pair.coverage, pair.currency].append(pair)
    return tuple(_group(alike[basis], *basis, confidence) for basis in sorted(alike, key=lambda b: (-len(alike[b]), b)))


def _group(pairs: list[Pair], coverage: float, currency: str, confidence: float) -> TrackGroup:
    prices, estimates = [pair.price for pair in pairs], [pair.median for pair in pairs]
    found = calibration(
        prices,
        estimates,
        intervals={coverage: ([pair.low for pair in pairs], [pair.high for pair in pairs])},
        main_coverage=coverage,
        confidence=confidence,
        thirds_by="estimate",
    )
    study = None
    if len(pairs) >= LEAST_FOR_RATIOS:
        names = [f"{pair.subject} (sale {pair.sale_id})" for pair in pairs]
        study = ratio_study(estimates, prices, confidence, names=names)
    return TrackGroup(coverage, currency, found, study)


def _how_little(groups: tuple[TrackGroup, ...], confidence: float) -> list[Note]:
    """What the number of sales allows to be said, before anything is said."""
    if not groups:
        return [
            Note(
                "no_record_yet",
                "No recorded sale has an estimate made before it yet. Record each sale when it is made: about "
                f"{sales_needed(0.8, confidence)} sales show how far an 80 % interval can be trusted; a handful shows "
                "little.",
            )
        ]
    notes = []
    for group in groups:
        (share,) = group.calibration.shares
        needed = sales_needed(group.coverage, confidence)
        if share.n < needed:
            sales = "1 sale tells" if share.n == 1 else f"{share.n} sales tell"
            notes.append(
                Note(
                    "short_record",
                    f"{sales} little: by these alone the true share inside the {100 * group.coverage:g} % interval may "
                    f"be anywhere from {100 * share.low:.0f} to {100 * share.high:.0f} %. It takes about {needed} to "
                    "know it within 10 points either way.",
                )
            )
    return notes


def _gaps(
    pairs: tuple[Pair, ...], aside: tuple[SetAside, ...], groups: tuple[TrackGroup, ...], withdrawn: int
) -> list[Note]:
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
    if len(groups) > 1:
        kinds = [f"{100 * group.coverage:g} % in {group.currency or 'no named currency'}" for group in groups]
        notes.append(Note("several_groups", f"Counted apart, since they cannot be put together: {shortlist(kinds)}."))
    if aside:
        why = shortlist([one.why.rstrip(".") for one in aside], limit=5)
        notes.append(Note("sales_left_out", f"Recorded sales not counted: {len(aside)}. {why}."))
    if withdrawn:
        notes.append(
            Note("sales_withdrawn", f"Sales withdrawn since they were recorded, and not counted: {withdrawn}.")
        )
    return notes


def _corrected(sales: Sequence[SaleRecord]) -> list[Note]:
    corrected = [f"{sale.subject} (sale {sale.id})" for sale in sales if sale.history]
    if not corrected:
        return []
    return [
        Note(
            "sales_corrected", f"Corrected since they were recorded, and counted as corrected: {shortlist(corrected)}."
        )
    ]


def _behind(pairs: Sequence[Pair], estimates: Sequence[EstimateRecord]) -> list[Note]:
    """Estimates that say they were written before an earlier one: the clock was behind, and their day proves little."""
    moments = accumulate((estimate.written_at for estimate in estimates), max)
    behind = {one.id for one, latest in zip(estimates, moments, strict=True) if one.written_at < latest}
    named = [f"{pair.subject} (estimate {pair.estimate_id})" for pair in pairs if pair.estimate_id in behind]
    if not named:
        return []
    return [
        Note(
            "clock_behind",
            "Written while the computer's clock was behind that of an earlier estimate, so perhaps made after the "
            f"sale: {shortlist(named)}.",
        )
    ]
