"""``valuation explain``: the reasons behind an estimate."""

from __future__ import annotations

import argparse

from valuation.answers.explain import Evidence
from valuation.answers.explain import explain as answer
from valuation.build.figures import money as whole
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for
from valuation.cli.progress import progress
from valuation.cli.show import bullet, heading, notes, print_json, table
from valuation.evidence.reasons import Effect
from valuation.schema import read_vehicle

MOST_EFFECTS = 40
"""Attributes that a terminal lists: one screen."""
MOST_SALES = 6
"""Sales and gaps that a terminal lists: those after them hardly matter."""


def explain(arguments: argparse.Namespace) -> int:
    """Say why the estimate is what it is."""
    model = model_for(arguments, near=arguments.vehicle)
    vehicle = read_vehicle(arguments.vehicle, model.schema)
    with progress("Gathering the evidence"):
        found = answer(model, vehicle, arguments.as_of, arguments.coverage)
    if arguments.json:
        print_json(found)
    else:
        show_evidence(found)
    return DONE


def show_evidence(found: Evidence) -> None:
    """Print effects, single sales, the trend and what would help."""
    unit = f" {found.currency}" if found.currency else ""
    print(f"{found.vehicle.name}: {whole(found.median)}{unit} as of {found.as_of}. Why?")
    heading("What each attribute is worth here")
    table(
        ("attribute", "from", "to", "percent", "range", "money", "from the table"),
        [_effect_row(effect) for effect in _shown(found.effects)[:MOST_EFFECTS]],
        left=3,
    )
    print("\n  'from the table': how much of this the sales say; the rest is what the schema expects.")
    if found.influence:
        heading("The sales that move it most")
        for one in found.influence[:MOST_SALES]:
            bullet(one.words)
    heading("Prices over time")
    for level in found.trend.levels:
        bullet(
            f"{level.period}: {level.level:.2f} times the level of the as-of date ({level.low:.2f} to {level.high:.2f})"
        )
    if found.gaps:
        heading("One more sale like this would narrow the interval most")
        for gap in found.gaps[:MOST_SALES]:
            bullet(gap.words)
    notes(found.notes)


def _shown(effects: tuple[Effect, ...]) -> list[Effect]:
    """Ordered scales by their steps alone: what another level is worth here is the sum of the steps between."""
    stepped = {effect.attribute for effect in effects if effect.kind == "step"}
    return [e for e in effects if e.kind != "against_subject" or e.attribute not in stepped]


def _effect_row(effect: Effect) -> tuple[str, ...]:
    return (
        effect.title,
        effect.from_level,
        effect.to_level,
        f"{effect.percent:+.0f} %",
        f"{effect.low_percent:+.0f} to {effect.high_percent:+.0f} %",
        f"{effect.money:+,.0f}",
        f"{effect.from_table:.0%}",
    )
