"""A core as plain data and back, the same to the bit.

What a fit answers from is the core as it would come out of a file: the arrays then lie in memory alike, sums run in the
same order, and an estimate before saving equals the one after loading in every digit.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from valuation.regression.core import Core
from valuation.regression.design import Block, Design
from valuation.regression.distribution import FloatArray, ScatterMix
from valuation.regression.heteroscedasticity import Heteroscedasticity
from valuation.regression.interaction import Interaction
from valuation.regression.terms import FlagTerm, NominalTerm, NumberTerm, OrdinalTerm


def core_state(core: Core) -> dict[str, Any]:
    """The core as plain data: lists, numbers, text."""
    return {
        "terms": [term_state(term) for term in core.design.terms],
        "interaction": core.interaction.state() if core.interaction is not None else None,
        "blocks": [[block.attribute, block.kind, block.start, block.stop] for block in core.blocks],
        "centre": core.centre,
        "coefficients": core.coefficients.tolist(),
        "prior_mean": core.prior_mean.tolist(),
        "covariance_lower": core.covariance[np.tril_indices(len(core.coefficients))].tolist(),
        "noise": core.noise,
        "block_variance": core.block_variance.tolist(),
        "stretch": core.stretch.tolist(),
        "term_variance": dict(core.term_variance),
        "mix": {**asdict(core.mix), "scale": core.mix.scale.tolist(), "weight": core.mix.weight.tolist()},
        "degrees_of_freedom": core.degrees_of_freedom,
        "heteroscedasticity": asdict(core.heteroscedasticity),
    }


def core_from_state(state: dict[str, Any]) -> Core:
    """The core that ``core_state`` wrote."""
    coefficients = _array(state["coefficients"])
    return Core(
        design=Design.of(tuple(term_from_state(term) for term in state["terms"])),
        interaction=Interaction.from_state(state["interaction"]) if state["interaction"] is not None else None,
        blocks=tuple(Block(*block) for block in state["blocks"]),
        centre=state["centre"],
        coefficients=coefficients,
        prior_mean=_array(state["prior_mean"]),
        covariance=_symmetric(_array(state["covariance_lower"]), len(coefficients)),
        noise=state["noise"],
        block_variance=_array(state["block_variance"]),
        stretch=_array(state["stretch"]),
        term_variance=state["term_variance"],
        mix=ScatterMix(**{**state["mix"], **{name: _array(state["mix"][name]) for name in ("scale", "weight")}}),
        degrees_of_freedom=state["degrees_of_freedom"],
        heteroscedasticity=Heteroscedasticity(**state["heteroscedasticity"]),
    )


def frozen(core: Core) -> Core:
    """The core as it would come out of a file."""
    return core_from_state(core_state(core))


def _symmetric(lower: FloatArray, size: int) -> FloatArray:
    full = np.zeros((size, size))
    full[np.tril_indices(size)] = lower
    return full + np.tril(full, -1).T


def _array(values: list[float]) -> FloatArray:
    return np.array(values, dtype=float)


def term_state(term: Any) -> dict[str, Any]:
    """A term as plain data for a saved model."""
    state: dict[str, Any] = {"term": type(term).__name__}
    for name in term.__dataclass_fields__:
        value = getattr(term, name)
        if isinstance(value, np.ndarray):
            value = {"shape": list(value.shape), "values": value.ravel().tolist()}
        elif isinstance(value, tuple):
            value = list(value)
        state[name] = value
    return state


def term_from_state(state: dict[str, Any]) -> Any:
    """The term that ``term_state`` wrote."""
    kinds = {kind.__name__: kind for kind in (NumberTerm, OrdinalTerm, NominalTerm, FlagTerm)}
    values: dict[str, Any] = {}
    for name, value in state.items():
        if name == "term":
            continue
        if isinstance(value, dict):
            value = np.array(value["values"], dtype=float).reshape(value["shape"])
        elif isinstance(value, list):
            value = tuple(value)
        values[name] = value
    return kinds[state["term"]](**values)
