"""Which attributes the interaction is mostly about, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from valuation.evidence.grid_rows import INTERACTION_TITLE
from valuation.text.language import english

if TYPE_CHECKING:
    from valuation.evidence.subject import Subject


def interaction_title(subject: Subject) -> str:
    """The two attributes that count most in the interaction, such as ``Make and model line in company with Body``.

    The block is one smooth function of all attributes without a direction, each weighted by how much it moves prices on
    its own; the two of the largest weight say what it mostly tells apart.
    """
    core = subject.model.core
    if core.interaction is None:
        return INTERACTION_TITLE
    weights, at = {}, 0
    for term in core.design.terms:
        width = subject.rows.encoded[term.attribute].coordinates.shape[1]
        weights[term.attribute] = max(core.interaction.weight[at : at + width], default=0.0)
        at += width
    first, second = sorted(weights, key=lambda name: -weights[name])[:2]
    titles = {attribute.name: attribute.title for attribute in subject.model.attributes}
    return english("{one} in company with {other}", one=titles[first], other=titles[second])
