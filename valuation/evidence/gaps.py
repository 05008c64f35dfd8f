"""Gaps of the table: which sale, if it were added, would narrow the subject's interval most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.evidence.contrasts import StateRows, States
from valuation.evidence.reasons import Gap
from valuation.evidence.remembered import remembered
from valuation.evidence.subject import SALE_DATE, Subject
from valuation.regression.factors import level_text
from valuation.regression.terms import Term
from valuation.schema.attributes import Role
from valuation.text.rounding import rounded
from valuation.view import amount_text

if TYPE_CHECKING:
    from valuation.regression.model import PriceModel

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Candidate:
    kind: str
    attribute: str
    level: str
    state: int


def ask_gaps(subject: Subject, states: States, coverage: float) -> Callable[[StateRows], tuple[Gap, ...]]:
    """Sales that the table lacks, those first that would narrow the interval of the subject most.

    Parameters
    ----------
    subject : Subject
        The vehicle and the fit; one loaded from a file will do.
    states : States
        Gets the states of the sales that might be added.
    coverage : float
        Of the interval.

    Returns
    -------
    callable
        Gives the gaps once the states are encoded.

    Notes
    -----
    With x the subject, z the added sale, V the covariance of the coefficients and s^2 the variance of one sale, the
    variance of the subject's fitted log price falls by (x'Vz)^2 / (z'Vz + s^2): a rank-one update, in which the price
    of the added sale does not matter. Whatever is unknown about a level that no sale has yet counts with x and z
    alike. The shape of the error and the variances are taken as they are.
    """
    model = subject.model
    asked = [_Candidate("twin", "", "", 0)]
    for term in model.core.design.terms:
        asked += _shared_only(model, term, states)
    return lambda encoded: _gaps(subject, asked, encoded, coverage)


def _gaps(subject: Subject, candidates: list[_Candidate], encoded: StateRows, coverage: float) -> tuple[Gap, ...]:
    model = subject.model
    shared = _shared_covariance(encoded)
    places = np.array([candidate.state for candidate in candidates])
    with_subject, own = shared[0, places], np.diag(shared)[places]
    core, location = model.core, np.full(len(places) + 1, subject.location)
    gain = with_subject**2 / (own + core.noise)
    now = core.doubt(subject.rows) ** 2
    doubt = np.sqrt(np.maximum(now - np.append(gain, 0.0), 1e-16))
    lows, highs = core.around(location, doubt, core.scatter(subject.rows)).interval(coverage)
    widths = np.log(highs / lows)
    answer = []
    for place in np.argsort(widths[:-1], kind="stable").tolist():
        candidate = candidates[place]
        low, high = float(lows[place]), float(highs[place])
        narrows = 100 * (1 - float(widths[place] / widths[-1]))
        known = _sales_with(model, candidate)
        words = _words(model, candidate, narrows, low, high, coverage, known)
        answer.append(Gap(candidate.kind, candidate.attribute, candidate.level, narrows, low, high, known, words))
    return tuple(answer)


def _shared_only(model: PriceModel, term: Term, states: States) -> Iterator[_Candidate]:
    """A sale that shares this attribute with the subject and is average otherwise."""
    own = states.own(term.attribute)
    if pd.isna(own) or term.attribute == SALE_DATE:
        return
    empty = {name: None for name in states.cells if name not in (term.attribute, SALE_DATE)}
    level = level_text(own, model.attribute_by_name[term.attribute])
    yield _Candidate("same", term.attribute, level, states.add_changes(empty))


def _shared_covariance(encoded: StateRows) -> Array:
    """Covariance of what is unknown about each row's log median and other vehicles share, shape (m, m).

    An empty cell is the vehicle's own secret: what it adds is not shared and no sale of another vehicle removes it.
    """
    core, rows = encoded.core, encoded.rows
    covariance = rows.matrix @ core.covariance @ rows.matrix.T
    for name, extra in core.unknown_variance(rows).items():
        root = np.sqrt(np.where(rows.encoded[name].missing, 0.0, extra))
        covariance = covariance + np.outer(root, root)
    return np.asarray(covariance)


def _sales_with(model: PriceModel, candidate: _Candidate) -> int | None:
    """Rows of the table with the candidate's level; None for a number, whose single values mean little."""
    table = model.comparables
    if table is None or candidate.attribute not in table.attributes:
        return None
    attribute = model.attribute_by_name[candidate.attribute]
    if attribute.role not in (Role.ORDINAL, Role.NOMINAL, Role.FLAG):
        return None

    def counted() -> Counter[str]:
        return Counter(level_text(value, attribute) for value in table.attributes[attribute.name].tolist())

    counts = remembered(table, f"levels of {attribute.name}", counted)
    return counts[candidate.level]


def _words(
    model: PriceModel,
    candidate: _Candidate,
    narrows: float,
    low: float,
    high: float,
    coverage: float,
    known: int | None,
) -> str:
    if candidate.kind == "twin":
        what = "of a vehicle like this one"
    else:
        title = model.attribute_by_name[candidate.attribute].title.lower()
        now = "" if known is None else f", {known} in the table"
        what = f"with {title} {candidate.level}{now}, average otherwise"
    if narrows < 0.05:
        return f"One more sale {what} would hardly narrow the {100 * coverage:g} % interval."
    return (
        f"One more sale {what} would narrow the {100 * coverage:g} % interval by about {narrows:.1f} %, to "
        f"{amount_text(rounded(low))} to {amount_text(rounded(high))}, if it sells near what is expected; far from "
        "that it may widen it."
    )
