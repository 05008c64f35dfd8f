"""``valuation explain``: the reasons behind an estimate."""

from __future__ import annotations

import argparse

from valuation.answers import estimate_words as words
from valuation.answers.explain import Evidence
from valuation.answers.explain import explain as answer
from valuation.build.figures import about
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for, next_command, vehicle_of
from valuation.cli.progress import progress
from valuation.cli.show import bullet, heading, one_screen, paragraph, print_json, table
from valuation.evidence.reasons import Effect
from valuation.text.language import say

MOST_EFFECTS = 6
"""Effects that the first screen lists: what a decision needs."""
MOST_SALES = 6
"""Sales and gaps that are listed with all of it: those after them hardly matter."""


def explain(arguments: argparse.Namespace) -> int:
    """Say why the estimate is what it is."""
    told = vehicle_of(arguments)
    model = model_for(arguments, near=told.file)
    vehicle = told.vehicle(model)
    with progress("Gathering the evidence"):
        found = answer(model, vehicle, arguments.as_of, arguments.coverage)
    if arguments.json:
        print_json(found)
    else:
        command = next_command("estimate", arguments, told.spoken, "--all")
        then = say("Next, for the sales beside it: {command}", command=command)
        show_evidence(found, then, all_of_it=arguments.all)
    return DONE


def show_evidence(found: Evidence, then: str = "", *, all_of_it: bool = False) -> None:
    """Print effects, single sales and what would help; with all of it, each of them and the trend.

    Parameters
    ----------
    found : Evidence
        The answer.
    then : str
        What usually comes next.
    all_of_it : bool
        Not only what fits on a screen.
    """
    effects = found.effects_each_once if all_of_it else found.effects_beside
    with one_screen(found.notes, then, all_of_them=all_of_it) as more:
        paragraph(" ".join(filter(None, [words.price_sentence(found), words.strongest(found)])))
        print()
        _show_effects(found, effects if all_of_it else effects[:MOST_EFFECTS])
        if all_of_it:
            _show_reasons(found)
            return
        sentences = [one.words for one in found.influence[:1]] + [one.words for one in found.gaps[:1]]
        for sentence in filter(None, [*sentences, words.not_told(found)]):
            more(sentence)


def _show_effects(found: Evidence, effects: tuple[Effect, ...]) -> None:
    own = {one.attribute: one.level for one in found.factors}
    rows = [
        (
            one.title,
            _change(one, own.get(one.attribute, "")),
            f"{one.percent:+.0f} %",
            about(one.money, sign=True),
            say("{low} to {high}", low=f"{one.low_percent:+.0f}", high=f"{one.high_percent:+.0f} %"),
            f"{100 * one.from_table:.0f} %",
        )
        for one in effects
    ]
    reach = say("{percent} range", percent=f"{100 * found.interval.coverage:g} %")
    table(
        (say("attribute"), say("change"), say("adds"), say("in money"), reach, say("from the table")),
        rows,
        left=2,
        spare=(5, 4, 3),
    )


def _change(one: Effect, own: str) -> str:
    """A change as seen from this vehicle, where it is one of its own."""
    if one.from_level == own:
        return say("to {level}", level=one.to_level)
    if one.to_level == own:
        return say("from {level}", level=one.from_level)
    return say("{level} to {other}", level=one.from_level, other=one.to_level)


def _show_reasons(found: Evidence) -> None:
    """Single sales, the trend and the sales that would help, one by one."""
    print()
    paragraph(
        say("'From the table': how much of an effect the sales say; the rest is what the schema expects."), indent="  "
    )
    if found.influence:
        heading(say("The sales that move it most"))
        for one in found.influence[:MOST_SALES]:
            bullet(one.words)
    heading(say("Prices over time"))
    for level in found.trend.levels:
        bullet(
            say(
                "{period}: {level} times the level of the day above ({low} to {high})",
                period=level.period,
                level=f"{level.level:.2f}",
                low=f"{level.low:.2f}",
                high=f"{level.high:.2f}",
            )
        )
    if found.gaps:
        heading(say("One more sale like this would narrow the interval most"))
        for gap in found.gaps[:MOST_SALES]:
            bullet(gap.words)
    for sentence in (words.not_told(found), words.evidence_used(found)):
        if sentence:
            print()
            paragraph(sentence)
