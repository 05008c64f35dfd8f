"""Three-point figures: what is known of a cost, of hours or of a wait before the work is done."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.special import betainc, ndtri

from valuation.build.bounds import MOST_MONEY, within
from valuation.errors import PlanError
from valuation.regression.distribution import FloatArray

Shape = Literal["triangular", "pert"]
TABLE_POINTS = 513
"""Of the table that a PERT figure is read from; a line between two of them is then exact enough to print."""
MIDDLES = (np.arange(1000) + 0.5) / 1000
"""Odds at which the rest of a figure is averaged; a thousand give its mean to about a hundred-thousandth."""


@dataclass(frozen=True, slots=True)
class ThreePoint:
    """A low, a likely and a high figure, all in one unit (money, hours or weeks).

    Parameters
    ----------
    low, likely, high : float
        0 <= low <= likely <= high, all finite.
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        figures = (self.low, self.likely, self.high)
        if not all(math.isfinite(figure) for figure in figures) or self.low < 0:
            raise PlanError(
                f"Low, likely and high must be finite and 0 or more; found {_words(self)}. "
                "Write three plain numbers, or one where the figure is certain."
            )
        if not self.low <= self.likely <= self.high:
            raise PlanError(
                f"Low, likely and high must not fall; found {_words(self)}. Write the smallest figure first."
            )

    @classmethod
    def certain(cls, figure: float) -> ThreePoint:
        """One figure without spread."""
        return cls(figure, figure, figure)

    @property
    def is_certain(self) -> bool:
        """Whether there is no spread at all."""
        return self.high == self.low

    def mean(self, shape: Shape = "triangular") -> float:
        """Expected figure: (a + m + b) / 3 for the triangle, (a + 4 m + b) / 6 for PERT."""
        weight = 1.0 if shape == "triangular" else 4.0
        return (self.low + weight * self.likely + self.high) / (weight + 2)

    def variance(self, shape: Shape = "triangular") -> float:
        """Variance of the triangle, or the exact one of the beta-PERT shape, in the figure's unit squared.

        Notes
        -----
        Triangle: (a^2 + m^2 + b^2 - a m - a b - m b) / 18. Beta-PERT: (mean - a)(b - mean) / 7, which is not the
        ((b - a) / 6)^2 that network handbooks add up along a path.
        """
        a, m, b = self.low, self.likely, self.high
        if shape == "triangular":
            return max((a * a + m * m + b * b - a * m - a * b - m * b) / 18, 0.0)
        mean = self.mean("pert")
        return (mean - a) * (b - mean) / 7

    def quantile(self, probability: FloatArray, shape: Shape = "triangular") -> FloatArray:
        """Figure that is not exceeded with the given probability, same shape as ``probability``.

        Parameters
        ----------
        probability : ndarray of float
            Strictly between 0 and 1.
        shape : Shape
            Between low, likely and high.
        """
        if self.is_certain:
            return np.full(probability.shape, self.low)
        if shape == "triangular":
            return self._triangular_quantile(probability)
        return self._pert_quantile(probability)

    def odds_under(self, figure: float, shape: Shape = "triangular") -> float:
        """Odds that it comes to less than a figure, from 0 to 1: what ``quantile`` turns back.

        Parameters
        ----------
        figure : float
            In the unit of low, likely and high.
        shape : Shape
            Between low, likely and high.
        """
        a, m, b = self.low, self.likely, self.high
        if not a < figure < b:
            return float(figure >= b)
        if shape == "triangular":
            return (
                (figure - a) ** 2 / ((b - a) * (m - a)) if figure < m else 1 - (b - figure) ** 2 / ((b - a) * (b - m))
            )
        return float(np.interp((figure - a) / (b - a), *self._pert_table()))

    def after(self, used: float, shape: Shape = "triangular", scale: float = 1.0) -> ThreePoint:
        """What is left of it once so much was used up and it is not done: never below nothing.

        Parameters
        ----------
        used : float
            In the unit of low, likely and high.
        shape : Shape
            Between low, likely and high.
        scale : float
            Likely over mean, of all figures that it is added up with.

        Notes
        -----
        The figure given that it exceeds what was used, less that. Both shapes have a log-concave density, so the more
        was used, the less is left, and the more it comes to in all (Barlow and Proschan 1975, Statistical Theory of
        Reliability and Life Testing, 3.5). Beyond the highest figure nothing is left. What counts as likely falls
        as the mean does, so that the overrun of all figures together is counted from the same point.
        """
        if used <= 0:
            return self
        if used >= self.high:
            return ThreePoint.certain(0.0)
        low, high = max(self.low - used, 0.0), self.high - used
        rest = Rest(low, low, high, self, used)
        likely = self.likely - scale * (self.mean(shape) - rest.mean(shape))
        return replace(rest, likely=min(max(likely, low), high))

    def _triangular_quantile(self, u: FloatArray) -> FloatArray:
        a, m, b = self.low, self.likely, self.high
        rising = a + np.sqrt(u * (b - a) * (m - a))
        falling = b - np.sqrt((1 - u) * (b - a) * (b - m))
        return np.where(u < (m - a) / (b - a), rising, falling)

    def _pert_quantile(self, u: FloatArray) -> FloatArray:
        """Inverse of the incomplete beta function by interpolation: its exact inverse would cost the whole time."""
        share, odds = self._pert_table()
        return self.low + (self.high - self.low) * np.interp(u, odds, share)

    def _pert_table(self) -> tuple[FloatArray, FloatArray]:
        """Shares of the way from low to high, and the odds of coming to less."""
        width = self.high - self.low
        alpha = 1 + 4 * (self.likely - self.low) / width
        beta = 1 + 4 * (self.high - self.likely) / width
        share = (1 - np.cos(np.linspace(0, np.pi, TABLE_POINTS))) / 2  # dense at both ends
        return share, np.asarray(betainc(alpha, beta, share))


@dataclass(frozen=True, slots=True)
class Rest(ThreePoint):
    """What is left of a figure of which some was used up; see ``ThreePoint.after``.

    Parameters
    ----------
    low, likely, high : float
        Of the rest.
    whole : ThreePoint
        The figure as it was planned.
    used : float
        So far, above 0 and under the highest figure.
    """

    whole: ThreePoint
    used: float

    def mean(self, shape: Shape = "triangular") -> float:
        """Expected rest."""
        return float(self.quantile(MIDDLES, shape).mean())

    def variance(self, shape: Shape = "triangular") -> float:
        """Variance of the rest, in the figure's unit squared."""
        return float(self.quantile(MIDDLES, shape).var())

    def quantile(self, probability: FloatArray, shape: Shape = "triangular") -> FloatArray:
        """Rest that is not exceeded with the given probability, same shape as ``probability``.

        Parameters
        ----------
        probability : ndarray of float
            Strictly between 0 and 1.
        shape : Shape
            Between low, likely and high of the whole.
        """
        gone = self.whole.odds_under(self.used, shape)
        return np.maximum(self.whole.quantile(gone + (1 - gone) * probability, shape) - self.used, 0.0)


@dataclass(frozen=True, slots=True)
class Overrun:
    """What all steps' costs and hours are multiplied by together, so that bad luck comes together.

    Parameters
    ----------
    typical : float
        Middle factor, > 0: 1.1 says that half of the builds end more than 10 % over their likely figures, all that the
        steps' ranges add included.
    one_in_ten : float
        Factor that one build in ten exceeds; >= typical.

    Notes
    -----
    Log-normal. The default is common practice, no source: builds run over more often than under. ``from_jobs``
    replaces it by the shop's own record.
    """

    typical: float = 1.1
    one_in_ten: float = 1.35

    def __post_init__(self) -> None:
        within("overrun", self)
        if self.one_in_ten < self.typical:
            raise PlanError(
                f"The overrun that one build in ten exceeds must not be under the typical one ({self.typical}); found "
                f"{self.one_in_ten!r}. Write the same figure twice where there is no spread."
            )

    @classmethod
    def none(cls) -> Overrun:
        """No overrun is stated: every build costs what its steps' ranges say."""
        return cls(1.0, 1.0)

    @classmethod
    def of_log(cls, mean: float, spread: float) -> Overrun:
        """The overrun whose log has that mean and standard deviation.

        Parameters
        ----------
        mean : float
            Of the log of the factor.
        spread : float
            Standard deviation of that log.
        """
        return cls(math.exp(mean), math.exp(mean + spread * float(ndtri(0.9))))

    @classmethod
    def from_jobs(cls, planned: list[float], actual: list[float]) -> Overrun:
        """The overrun of the shop's own finished jobs, drawn towards the default where they are few.

        Parameters
        ----------
        planned, actual : list of float, same length >= 1
            The likely figures of all steps together, and what they came to, job by job; money, > 0.

        Notes
        -----
        Mean and variance of log(actual / planned), each averaged with the default's as if that were three jobs.
        """
        if len(planned) != len(actual) or not planned:
            raise PlanError(
                f"Past jobs need a planned and an actual figure each; found {len(planned)} planned and "
                f"{len(actual)} actual. Write past_jobs = [[planned, actual], ...]."
            )
        if not all(0 < x <= MOST_MONEY for x in [*planned, *actual]):
            raise PlanError(
                f"Past jobs must be money above 0 and at most {MOST_MONEY:,.0f}. Leave out a job whose figures are not "
                "known."
            )
        default = cls()
        logs = np.log(np.asarray(actual, dtype=float) / np.asarray(planned, dtype=float))
        prior_jobs = 3
        mean = (float(logs.sum()) + prior_jobs * math.log(default.typical)) / (len(logs) + prior_jobs)
        squares = float(((logs - mean) ** 2).sum()) + prior_jobs * default.log_spread**2
        spread = math.sqrt(squares / (len(logs) + prior_jobs))
        return cls.of_log(mean, spread)

    @property
    def log_spread(self) -> float:
        """Standard deviation of the factor's log."""
        return math.log(self.one_in_ten / self.typical) / float(ndtri(0.9))

    @property
    def mean(self) -> float:
        """Expected factor."""
        return self.typical * math.exp(self.log_spread**2 / 2)

    def factor(self, normal_scores: FloatArray) -> FloatArray:
        """The factor at given standard normal scores, same shape."""
        return np.asarray(self.typical * np.exp(self.log_spread * normal_scores))


def _words(figures: ThreePoint) -> str:
    return f"low {figures.low:g}, likely {figures.likely:g}, high {figures.high:g}"
