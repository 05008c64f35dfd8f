"""What a ratio study says, in plain words, and what it cannot say."""

from __future__ import annotations

from valuation.errors import shortlist
from valuation.evidence.intervals import Measure
from valuation.evidence.ratio_outliers import Outlier
from valuation.notes import Note

SMALL_SAMPLE = 30
"""Below this many sales the reading is marked as weak; the IAAO asks for the median's interval there."""
VERY_EVEN = 5.0
"""COD in percent below which chosen sales are suspected; a choice of this project, far under what vehicles show."""


def ratio_notes(
    n: int,
    median: Measure,
    dispersion: Measure,
    differential: Measure,
    bias: Measure | None,
    outliers: tuple[Outlier, ...],
) -> tuple[Note, ...]:
    """Read the figures of a ratio study aloud, in the order in which they matter.

    Parameters
    ----------
    n : int
        Sales.
    median, differential : Measure
        Ratios.
    dispersion : Measure
        Percent.
    bias : Measure or None
        Share of the median ratio for each doubling of the price; None when all sales have one price.
    outliers : tuple of Outlier
        Farthest first.
    """
    notes = [
        _level(n, median),
        _spread(dispersion),
        _differential(differential),
        _bias(bias),
        Note(
            "no_standard_range",
            "Vehicles are personal property and have no standard range for these figures: they compare one year or one "
            "method with another, and neither pass nor fail one.",
        ),
    ]
    if n < SMALL_SAMPLE:
        notes.append(
            Note(
                "small_sample",
                f"{n} sales say little: read the intervals and not the figures alone. The intervals of spread and "
                "differential are themselves somewhat short at this size.",
            )
        )
    if dispersion.value < VERY_EVEN:
        notes.append(
            Note(
                "very_even",
                f"A spread of {dispersion.value:.1f} % is unusually small: make sure that the estimates were made "
                "without these very sales, and that the sales were not chosen to agree.",
            )
        )
    if outliers:
        named = shortlist([f"{outlier.name} ({outlier.ratio:.2f})" for outlier in outliers])
        notes.append(
            Note(
                "ratio_outliers",
                f"Far from the rest (more than 3 interquartile ranges outside the quartiles) and kept in: {named}. "
                "Look at these sales first: an entry mistake, a sale not at arm's length, or a vehicle like no other.",
            )
        )
    return tuple(notes)


def _level(n: int, median: Measure) -> Note:
    if median.high == float("inf"):
        return Note(
            "level",
            f"The middle estimate is {median.value:.3f} times its price. {n} sales are too few for an interval that "
            "holds whatever the shape of the ratios.",
        )
    where = (
        f"The middle estimate is {median.value:.3f} times its price (between {median.low:.3f} and {median.high:.3f})"
    )
    if median.low > 1:
        return Note("level", f"{where}: estimates run high.")
    if median.high < 1:
        return Note("level", f"{where}: estimates run low.")
    return Note("level", f"{where}: these sales do not show that estimates run high or low.")


def _spread(dispersion: Measure) -> Note:
    return Note(
        "spread",
        f"On average an estimate's ratio lies {dispersion.value:.1f} % from the middle one "
        f"(between {dispersion.low:.1f} and {dispersion.high:.1f} %).",
    )


def _differential(differential: Measure) -> Note:
    where = (
        f"The price-related differential is {differential.value:.3f} "
        f"(between {differential.low:.3f} and {differential.high:.3f})"
    )
    if differential.low > 1:
        return Note(
            "price_differential", f"{where}: expensive vehicles are estimated too low compared with cheap ones."
        )
    if differential.high < 1:
        return Note(
            "price_differential", f"{where}: expensive vehicles are estimated too high compared with cheap ones."
        )
    return Note("price_differential", f"{where}: these sales show no difference between cheap and expensive vehicles.")


def _bias(bias: Measure | None) -> Note:
    if bias is None:
        return Note(
            "price_bias",
            "All sales have one price, so nothing can be said about cheap compared with expensive vehicles.",
        )
    where = (
        f"When the price doubles, the ratio changes by {100 * bias.value:+.1f} % of its middle "
        f"(between {100 * bias.low:+.1f} and {100 * bias.high:+.1f} %)"
    )
    if bias.low > 0:
        return Note("price_bias", f"{where}: expensive vehicles are estimated too high compared with cheap ones.")
    if bias.high < 0:
        return Note("price_bias", f"{where}: expensive vehicles are estimated too low compared with cheap ones.")
    return Note("price_bias", f"{where}: no trend with the price is shown.")
