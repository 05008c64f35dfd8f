"""Effects: what each attribute is worth here, in percent and in money, and how much of that the table says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from valuation.evidence.contrasts import StateRows, States, contrasts, half_width
from valuation.evidence.reasons import Effect, EffectKind
from valuation.evidence.subject import Subject
from valuation.regression.factors import level_text
from valuation.regression.terms import FlagTerm, NominalTerm, NumberTerm, OrdinalTerm, Term
from valuation.year import DAYS_PER_YEAR

if TYPE_CHECKING:
    from valuation.regression.model import PriceModel
    from valuation.schema.attributes import Attribute
    from valuation.schema.vehicle import Vehicle

_LEAST_DAYS = 90
"""A table whose sales span less than this cannot say what a year does to prices."""


@dataclass(frozen=True, slots=True)
class _Question:
    """A contrast to be asked: states to go from and to, and by how many years to divide it."""

    attribute: str
    kind: EffectKind
    start: int
    end: int
    from_level: str
    to_level: str
    years: float = 1.0


def effects(
    model: PriceModel, vehicle: Vehicle, as_of: dt.date | None = None, coverage: float = 0.8
) -> tuple[Effect, ...]:
    """Effects of every attribute around one vehicle.

    Parameters
    ----------
    model : PriceModel
        The fit; one loaded from a file will do.
    vehicle : Vehicle
        The subject. Effects hold at its other attributes, the interaction among them.
    as_of : date, optional
        As for ``PriceModel.value``.
    coverage : float
        Of the intervals; strictly between 0 and 1.

    Returns
    -------
    tuple of Effect
        In the order of the schema, the sale date last. For an ordinal each step up and each other level against the
        subject's; for a nominal each other level; for a flag yes against no; for a number a round change of about one
        standard deviation up and down; for the sale date the drift per year over the table and over its last year.

    Raises
    ------
    EvidenceError
        If the coverage does not lie strictly between 0 and 1.

    Notes
    -----
    The variance of a contrast c'b is c'Vc with V the posterior covariance of the coefficients; ``from_table`` is 1 -
    c'Vc / c'Pc with P the prior covariance. What is unknown about a level that no sale has is added to the interval.
    """
    states = States(Subject.of(model, vehicle, as_of).cells)
    answer = ask_effects(model, states, coverage)
    return answer(states.encode(model.core))


def ask_effects(model: PriceModel, states: States, coverage: float) -> Callable[[StateRows], tuple[Effect, ...]]:
    """Add the states that effects need; the answer is given once they are encoded.

    Parameters
    ----------
    model : PriceModel
        The fit.
    states : States
        Gets the states that effects need.
    coverage : float
        Of the intervals.
    """
    half = half_width(model.core, coverage)
    asked = [question for term in model.core.design.terms for question in _questions(model, term, states)]
    return lambda encoded: _effects(model, asked, encoded, half, coverage) if asked else ()


def _effects(
    model: PriceModel, asked: list[_Question], encoded: StateRows, half: float, coverage: float
) -> tuple[Effect, ...]:
    found = contrasts(encoded, [q.start for q in asked], [q.end for q in asked])
    answer = []
    for place, question in enumerate(asked):
        log_effect, sd = found.effect[place], np.sqrt(found.variance[place])
        logs = (log_effect, log_effect - half * sd, log_effect + half * sd, found.expected[place])
        percent, low, high, expected = (float(100 * np.expm1(log / question.years)) for log in logs)
        start = float(np.exp(found.start[place]))
        answer.append(
            Effect(
                attribute=question.attribute,
                title=model.attribute_by_name[question.attribute].title,
                kind=question.kind,
                from_level=question.from_level,
                to_level=question.to_level,
                percent=percent,
                low_percent=low,
                high_percent=high,
                money=start * percent / 100,
                low_money=start * low / 100,
                high_money=start * high / 100,
                expected_percent=expected,
                from_table=float(found.from_table[place]),
                held=bool(found.held[place]),
                coverage=coverage,
            )
        )
    return tuple(answer)


def _questions(model: PriceModel, term: Term, states: States) -> Iterator[_Question]:
    attribute = model.attribute_by_name[term.attribute]
    if isinstance(term, OrdinalTerm):
        yield from _steps(term, states)
        yield from _levels(term, attribute, states)
    elif isinstance(term, NominalTerm):
        yield from _levels(term, attribute, states)
    elif isinstance(term, FlagTerm):
        no, yes = states.add(term.attribute, 0.0), states.add(term.attribute, 1.0)
        yield _Question(term.attribute, "yes_no", no, yes, "no", "yes")
    elif isinstance(term, NumberTerm) and term.is_date:
        yield from _drift(model, term, states)
    elif isinstance(term, NumberTerm):
        yield from _changes(term, attribute, states)


def _steps(term: OrdinalTerm, states: States) -> Iterator[_Question]:
    for below, above in zip(term.levels, term.levels[1:], strict=False):
        start, end = states.add(term.attribute, below), states.add(term.attribute, above)
        yield _Question(term.attribute, "step", start, end, below, above)


def _levels(term: OrdinalTerm | NominalTerm, attribute: Attribute, states: States) -> Iterator[_Question]:
    own = level_text(states.own(term.attribute), attribute)
    for level in term.levels:
        if level != own:
            yield _Question(term.attribute, "against_subject", 0, states.add(term.attribute, level), own, level)


def _changes(term: NumberTerm, attribute: Attribute, states: States) -> Iterator[_Question]:
    """Up and down by a round step, as far as the table reaches."""
    low, high = (_natural(term, end) for end in (term.low, term.high))
    if not high > low:
        return
    own = states.own(term.attribute)
    at = _natural(term, 0.0) if pd.isna(own) else float(own)
    # In logs one standard deviation may be a manifold; up to half of the number itself is still a change.
    step = round_step(at * min(term.scale, 0.5) if term.logged else term.scale)
    if attribute.role != "number":
        step = max(round(step), 1.0)
    ends = [end for end in (at - step, at + step) if low <= end <= high]
    for end in ends or [low if abs(at - low) > abs(at - high) else high]:
        to = level_text(float(f"{end:.6g}"), attribute)
        state = states.add(term.attribute, float(end))
        yield _Question(term.attribute, "change", 0, state, level_text(own, attribute), to)


def _natural(term: NumberTerm, standard: float) -> float:
    """A place on the standardised axis in the attribute's own unit."""
    value = standard * term.scale + term.centre
    return float(np.exp(value)) if term.logged else value


def _drift(model: PriceModel, term: NumberTerm, states: States) -> Iterator[_Question]:
    # A fit that has the sale date among its attributes knows the first and the last sale.
    first, last = pd.Timestamp(model.first_sale or 0), pd.Timestamp(model.last_sale or 0)
    starts = [first]
    if (last - first).days > 1.5 * DAYS_PER_YEAR:
        starts.append(last - pd.Timedelta(days=365))
    for begin in starts:
        days = (last - begin).days
        if days < _LEAST_DAYS:
            continue
        start, end = states.add(term.attribute, begin), states.add(term.attribute, last)
        yield _Question(
            term.attribute, "per_year", start, end, f"{begin:%Y-%m-%d}", f"{last:%Y-%m-%d}", days / DAYS_PER_YEAR
        )


def round_step(size: float) -> float:
    """The largest of 1, 2, 5, 10, 20, 50, ... (and their tenths) that is at most ``size``; size > 0.

    Examples
    --------
    >>> round_step(7.3), round_step(23000.0), round_step(0.3)
    (5.0, 20000.0, 0.2)
    """
    power = 10.0 ** np.floor(np.log10(size))
    return float(power * max(times for times in (1, 2, 5) if times * power <= size * (1 + 1e-12)))
