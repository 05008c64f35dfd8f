"""What a calibration record says in plain words, and how little a small one can say."""

from __future__ import annotations

from dataclasses import dataclass

from valuation.evidence.intervals import Measure
from valuation.notes import Note
from valuation.view import amount_text


@dataclass(frozen=True, slots=True)
class CoverageShare:
    """How many prices fell inside the intervals of one stated coverage.

    Attributes
    ----------
    coverage : float
        Stated share, between 0 and 1.
    n, inside, below, above : int
        Sales, and where their prices fell.
    low, high : float
        Exact (Clopper-Pearson) interval of the true share inside.
    """

    coverage: float
    n: int
    inside: int
    below: int
    above: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share of the prices inside."""
        return self.inside / self.n

    @property
    def words(self) -> str:
        """The record in one sentence."""
        if self.n == 1:
            fell = "fell" if self.inside else "did not fall"
            return f"The last sale, priced as if unseen, {fell} inside the {100 * self.coverage:g} % interval."
        return (
            f"Of the last {self.n} sales, priced as if unseen, {self.inside} fell inside "
            f"(the {100 * self.coverage:g} % interval promises about {self.coverage * self.n:.0f})."
        )


@dataclass(frozen=True, slots=True)
class ThirdOfPrice:
    """Coverage in one third of the price range.

    Attributes
    ----------
    name : str
        ``cheapest``, ``middle`` or ``most expensive``.
    from_price, to_price : float
        Smallest and largest price (or estimate) of the third.
    n, inside : int
        Sales, and how many prices fell inside.
    low, high : float
        Exact interval of the true share inside.
    """

    name: str
    from_price: float
    to_price: float
    n: int
    inside: int
    low: float
    high: float


def calibration_notes(
    main: CoverageShare, thirds: tuple[ThirdOfPrice, ...], miss: float, bias: Measure, confidence: float
) -> tuple[Note, ...]:
    """Read the record aloud: coverage first, then the thirds, the misses and the bias.

    Parameters
    ----------
    main : CoverageShare
        At the main coverage.
    thirds : tuple of ThirdOfPrice
        Empty for a short record.
    miss : float
        Median absolute miss, percent.
    bias : Measure
        Median of estimate over price less 1, percent.
    confidence : float
        Of the intervals, 0 to 1.
    """
    notes = [_coverage(main, confidence)]
    lopsided = _lopsided(main)
    if lopsided:
        notes.append(lopsided)
    stated = 100 * main.coverage
    for third in thirds:
        if third.high < main.coverage or third.low > main.coverage:
            word = "too narrow" if third.high < main.coverage else "wider than needed"
            notes.append(
                Note(
                    "third_off",
                    f"Among the {third.name} third ({amount_text(third.from_price)} to {amount_text(third.to_price)}) "
                    f"{third.inside} of {third.n} fell inside the {stated:g} % interval: it is {word} there.",
                )
            )
    notes.append(Note("typical_miss", f"Half of the estimates missed the price by less than {miss:.0f} %."))
    notes.append(_bias(bias))
    return tuple(notes)


def _coverage(main: CoverageShare, confidence: float) -> Note:
    truth = (
        f"the true share lies between {100 * main.low:.0f} and {100 * main.high:.0f} % ({100 * confidence:g} % sure)"
    )
    if main.high < main.coverage:
        reading = f"The intervals are too narrow: {truth}. Trust them less than they say."
        return Note("intervals_too_narrow", f"{main.words} {reading}")
    if main.low > main.coverage:
        reading = f"The intervals are wider than needed: {truth}."
        return Note("intervals_too_wide", f"{main.words} {reading}")
    if main.high - main.low > 0.25:
        return Note(
            "record_agrees_but_small",
            f"{main.words} That agrees with the promise, but a record this small shows little: {truth}.",
        )
    return Note("record_agrees", f"{main.words} That agrees with the promise: {truth}.")


def _lopsided(main: CoverageShare) -> Note | None:
    """Name the side on which most of the misses fall, when a fair coin would seldom do the same."""
    from scipy.special import bdtr

    outside = main.below + main.above
    fewer = min(main.below, main.above)
    if outside == 0 or 2 * float(bdtr(fewer, outside, 0.5)) >= 0.05:
        return None
    side, count = ("below", main.below) if main.below > main.above else ("above", main.above)
    leaning = "high" if side == "below" else "low"
    return Note(
        "misses_on_one_side",
        f"{count} of the {outside} prices outside fell {side} the interval: the intervals lie too {leaning}.",
    )


def _bias(bias: Measure) -> Note:
    if bias.high == float("inf"):
        return Note(
            "bias_unknown",
            f"The middle estimate lies {bias.value:+.0f} % from its price; the sales are too few to say whether "
            "estimates run high or low.",
        )
    where = (
        f"the middle estimate lies {bias.value:+.1f} % from its price, between {bias.low:+.1f} and {bias.high:+.1f} %"
    )
    if bias.low > 0:
        return Note("estimates_run_high", f"Estimates run high: {where}.")
    if bias.high < 0:
        return Note("estimates_run_low", f"Estimates run low: {where}.")
    return Note("no_bias_shown", f"These sales do not show that estimates run high or low: {where}.")
