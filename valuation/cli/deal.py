"""``valuation paths``, ``steps`` and ``field``: the buy and build decisions."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Sequence

from valuation.answers.field import field as field_answer
from valuation.answers.given import Told, amount_in, model_years, told_plans
from valuation.answers.paths import paths as paths_answer
from valuation.answers.steps import steps as steps_answer
from valuation.build.figures import about, at_most, chance
from valuation.build.plan import AS_FOUND, BuildPlan
from valuation.build.under_way import with_progress
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for, next_command, progress_words, quoted
from valuation.cli.progress import progress
from valuation.cli.show import fits, one_screen, paragraph, print_json, table
from valuation.day import day_of
from valuation.paths.compare import PathResult, PathsReport
from valuation.paths.deal_path import AS_IT_STANDS
from valuation.paths.field_table import FieldCell, FieldTable
from valuation.paths.steps import Bundle, StepsReport
from valuation.paths.today import Today
from valuation.regression.model import PriceModel
from valuation.text.language import say, written
from valuation.text.spelling import counted

MOST_ROWS = 8
"""Results that the first screen lists."""
MOST_NAMED = 4
"""Steps of a result that a line of the table names."""


def paths(arguments: argparse.Namespace) -> int:
    """Compare build plans for one find."""
    told = told_plans(arguments.plans, as_written=arguments.as_written)
    model = model_for(arguments, near=told[0].file)
    with progress(f"Weighing {counted(len(told), 'plan')}"):
        price = amount_in(arguments.price, model.currency, "--price")
        plans = _plans(told, model, arguments)
        report = paths_answer(model, plans, arguments.as_of, price=price)
    if arguments.json:
        print_json(report)
    else:
        show_paths(report, _after_paths(report, plans, arguments), all_of_it=arguments.all)
    return DONE


def _after_paths(report: PathsReport, plans: Sequence[BuildPlan], arguments: argparse.Namespace) -> str:
    """The command that usually comes next: the steps of the nearest path, or what to ask for a vehicle as it stands."""
    if not any(plan.steps for plan in plans):
        return say("Next, what to ask: {command}", command=next_command("bands", arguments, quoted(arguments.plans)))
    files = [file for plan, file in zip(plans, arguments.plans, strict=True) if plan.name == report.nearest.name]
    then = next_command("steps", arguments, quoted(files[:1] or arguments.plans[:1]), *progress_words(arguments))
    return say("Next, which steps to do: {command}", command=then)


def steps(arguments: argparse.Namespace) -> int:
    """Which steps of a plan to do, and what each result is worth."""
    told = told_plans([arguments.plan])
    model = model_for(arguments, near=arguments.plan)
    [plan] = _plans(told, model, arguments)
    with progress("Weighing the steps"):
        report = steps_answer(
            model,
            plan,
            arguments.as_of,
            price=amount_in(arguments.price, model.currency, "--price"),
            budget=amount_in(arguments.budget, model.currency, "--budget"),
            finish_by=arguments.finish_by,
        )
    if arguments.json:
        print_json(report)
    else:
        then = next_command("paths", arguments, quoted([arguments.plan]), *progress_words(arguments))
        then = say("Next, what to pay for it: {command}", command=then)
        _show_steps(report, then, day_of(arguments.as_of), all_of_it=arguments.all)
    return DONE


def field(arguments: argparse.Namespace) -> int:
    """Most to pay by condition and model year."""
    told = told_plans(arguments.plans)
    model = model_for(arguments, near=arguments.plans[0])
    with progress("Working out the field table"):
        report = field_answer(model, _plans(told, model, arguments), model_years(arguments.years), arguments.as_of)
    if arguments.json:
        print_json(report)
    else:
        words = quoted(arguments.plans), "--years", arguments.years, "--out card.pdf"
        then = say("Next, for the pocket: {command}", command=next_command("sheet card", arguments, *words))
        _show_field(report, then, day_of(arguments.as_of), all_of_it=arguments.all)
    return DONE


def _plans(told: Sequence[Told], model: PriceModel, arguments: argparse.Namespace) -> list[BuildPlan]:
    """Build plans as far as they are done, and vehicles as they stand as plans without steps."""
    plans = [one.plan(model) for one in told]
    return with_progress(plans, getattr(arguments, "bought", None), getattr(arguments, "done", []), model.currency)


def show_paths(report: PathsReport, then: str = "", *, all_of_it: bool = False) -> None:
    """Print the decision, the paths side by side, and what it rests on.

    Parameters
    ----------
    report : PathsReport
        The answer.
    then : str
        What usually comes next.
    all_of_it : bool
        Every note, not only those that fit on a screen.
    """
    nearest = report.nearest
    day = "" if nearest.ready and not report.today else say("This holds on {day}.", day=report.as_of)
    with one_screen(report.all_notes, then, all_of_them=all_of_it) as more:
        paragraph(" ".join(filter(None, [report.why, "" if report.today else nearest.ready, day])))
        for one in report.today:
            _show_today(one)
        if not report.today:
            _show_paths_table(report, nearest)
            proof = nearest.most_to_pay_proof.proof if all_of_it else ""
            more(f"{say('The goal: {goal}.', goal=report.goal.words)} {proof}".rstrip())
            more(report.rule_of_thumb)


def _show_paths_table(report: PathsReport, nearest: PathResult) -> None:
    print()
    table(
        (
            say("path"),
            say("pay at most"),
            say("all in"),
            say("sells for"),
            say("expect"),
            say("loses"),
            say("weeks"),
        ),
        [
            _path_row(path)
            for path in sorted(report.paths, key=lambda path: (path is not nearest, -path.expected_profit))
        ],
        spare=(6, 2, 3),
    )


def _show_today(one: Today) -> None:
    """Where a build under way stands, and the ways to go on."""
    print()
    rows = [
        (
            say("sell as it stands") if way.name == AS_IT_STANDS else way.name,
            about(way.to_go),
            about(way.brings),
            about(way.better_by, sign=True),
            about(way.profit_in_all, sign=True),
            "" if way.finish is None else written(way.finish.likely),
            "" if way.odds_of_event is None else chance(way.odds_of_event),
        )
        for way in one.ways
    ]
    table(
        (
            one.state.plan,
            say("still goes in"),
            say("comes back"),
            say("better by"),
            say("in all"),
            say("ready"),
            say("show"),
        ),
        rows,
        spare=(6, 5, 1),
    )
    print()
    paragraph(f"{one.state.words} {say('What was spent does not count in the choice.')}")


def _path_row(path: PathResult) -> tuple[str, ...]:
    most, errors = path.most_to_pay, path.simulation_errors
    return (
        say("sell as found") if path.name == AS_FOUND else path.name,
        at_most(most) + "*" * bool(path.counted_as_nothing) if most > 0 else say("walk away"),
        path.outlay.words,
        path.sale_price.words,
        about(path.expected_profit, sign=True, error=errors["expected_profit"]),
        chance(path.odds_of_loss),
        f"{path.weeks.mean:.0f}",
    )


def _show_steps(report: StepsReport, then: str, day: dt.date, *, all_of_it: bool) -> None:
    """Print which steps to do, and each result with all that it needs."""
    rows = [
        (
            one.name,
            _needed(one),
            about(one.adds, error=one.simulation_error),
            about(one.costs, error=one.simulation_error),
            about(one.net, sign=True, error=one.simulation_error),
            chance(one.odds_it_pays),
            "" if one.do else say("leave out"),
        )
        for one in report.results
    ]
    losses = [
        say("{step} {amount}", step=one.id, amount=about(one.net, error=one.simulation_error))
        for one in report.steps
        if one.do
    ]
    with one_screen(report.notes, then, all_of_them=all_of_it) as more:
        paragraph(f"{report.why} {say('This holds on {day}.', day=day)}")
        print()
        table(
            (say("result"), say("needs"), say("adds"), say("costs"), say("worth"), say("pays"), ""),
            rows if all_of_it else rows[:MOST_ROWS],
            left=2,
            spare=(1, 2, 3),
        )
        if not all_of_it and len(rows) > MOST_ROWS:
            more(say("{n} further results with --all.", n=len(rows) - MOST_ROWS))
        if losses:
            more(say("Left out with all that hangs on it, a step loses: {losses}.", losses=", ".join(losses)))
        more(report.search.words)


def _needed(one: Bundle) -> str:
    """The steps of a result, those in brackets that are done for another as well."""
    others = [name for name in one.needs if name not in one.of_these]
    return _shortened(one.of_these) + (f" ({_shortened(others)})" if others else "")


def _shortened(names: Sequence[str]) -> str:
    if len(names) <= MOST_NAMED:
        return ", ".join(names)
    return say("{names} and {n} more", names=", ".join(names[:MOST_NAMED]), n=len(names) - MOST_NAMED)


def _show_field(report: FieldTable, then: str, day: dt.date, *, all_of_it: bool) -> None:
    """Print most to pay by condition and year, and what each row assumes."""
    bare = {one.condition: one for one in report.without_engine}
    rows = [
        (
            condition,
            *(_limit(report.cell(condition, year)) for year in report.years),
            *([_limit(bare.get(condition))] if bare else []),
        )
        for condition in report.conditions
    ]
    its_year = ", ".join(f"{year:.0f}" for year in sorted({one.model_year for one in report.without_engine}))
    last = [say("{year} without engine", year=its_year)] if bare else []
    header = (say("as found"), *(f"{year:.0f}" for year in report.years), *last)
    with one_screen(report.notes, then, all_of_them=all_of_it) as more:
        paragraph(f"{report.why} {say('This holds on {day}.', day=day)}")
        print()
        if fits(header, rows):
            table(header, rows)
        else:  # years one below the other, for the conditions that have a plan
            planned = [row for row in rows if any(row[1:])]
            years = list(zip(header[1:], *(row[1:] for row in planned), strict=True))
            table((say("model year"), *(row[0] for row in planned)), years)
        for one in report.assumed:
            built = f" {say('Built: {steps}.', steps=one.as_built)}" if one.as_built else ""
            more(f"{say('Assumed of a {condition}: {what}.', condition=one.condition, what=one.as_found)}{built}")
        if any(cell.most_to_pay is None for cell in report.cells):
            more(say("A row left blank has no plan: give one (or a vehicle file) for a vehicle found so."))
        more(say("The goal: {goal}.", goal=report.goal.words))


def _limit(cell: FieldCell | None) -> str:
    if cell is None or cell.most_to_pay is None:
        return ""
    return at_most(cell.most_to_pay) if cell.most_to_pay > 0 else say("walk away")
