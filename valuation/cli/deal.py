"""``valuation paths``, ``steps`` and ``field``: the buy and build decisions."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from valuation.answers.field import field as field_answer
from valuation.answers.given import amount_in, model_years, plan_of_file
from valuation.answers.paths import paths as paths_answer
from valuation.answers.steps import steps as steps_answer
from valuation.build.figures import about, at_most, day_words, money, odds_words
from valuation.build.plan import BuildPlan
from valuation.build.under_way import with_progress
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for
from valuation.cli.progress import progress
from valuation.cli.show import one_screen, paragraph, print_json, table
from valuation.paths.compare import PathResult, PathsReport
from valuation.paths.field_table import FieldCell, FieldTable
from valuation.paths.steps import Bundle, StepsReport
from valuation.paths.today import Today
from valuation.regression.model import PriceModel
from valuation.text.spelling import counted

MOST_NAMED = 4
"""Steps of a result that a line of the table names."""


def paths(arguments: argparse.Namespace) -> int:
    """Compare build plans for one find."""
    model = model_for(arguments, near=arguments.plans[0])
    with progress(f"Weighing {counted(len(arguments.plans), 'plan')}"):
        price = amount_in(arguments.price, model.currency, "--price")
        report = paths_answer(model, _plans(arguments.plans, model, arguments), arguments.as_of, price=price)
    if arguments.json:
        print_json(report)
    else:
        then = "Next: valuation steps PLAN (which steps to do), valuation bands PLAN (what to ask)."
        show_paths(report, then, all_of_it=arguments.all)
    return DONE


def steps(arguments: argparse.Namespace) -> int:
    """Which steps of a plan to do, and what each result is worth."""
    model = model_for(arguments, near=arguments.plan)
    [plan] = _plans([arguments.plan], model, arguments)
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
        _show_steps(report, all_of_it=arguments.all)
    return DONE


def field(arguments: argparse.Namespace) -> int:
    """Most to pay by condition and model year."""
    model = model_for(arguments, near=arguments.plans[0])
    with progress("Working out the field table"):
        report = field_answer(
            model, _plans(arguments.plans, model, arguments), model_years(arguments.years), arguments.as_of
        )
    if arguments.json:
        print_json(report)
    else:
        _show_field(report, all_of_it=arguments.all)
    return DONE


def _plans(files: Sequence[str], model: PriceModel, arguments: argparse.Namespace) -> list[BuildPlan]:
    """Build plans as far as they are done, and vehicles as they stand as plans without steps."""
    plans = [plan_of_file(file, model) for file in files]
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
    with one_screen(report.all_notes, then, all_of_them=all_of_it):
        paragraph(report.why if report.today else " ".join(filter(None, [report.why, nearest.ready])))
        for one in report.today:
            _show_today(one)
        if not report.today:
            _show_paths_table(report, nearest)


def _show_paths_table(report: PathsReport, nearest: PathResult) -> None:
    print()
    table(
        ("path", "pay at most", "all in", "sells for", "expect", "loses", "weeks"),
        [
            _path_row(path)
            for path in sorted(report.paths, key=lambda path: (path is not nearest, -path.expected_profit))
        ],
    )
    print()
    paragraph(f"The goal: {report.goal.words}. {nearest.most_to_pay_proof.proof}")
    paragraph(report.rule_of_thumb)


def _show_today(one: Today) -> None:
    """Where a build under way stands, and the ways to go on."""
    print()
    rows = [
        (
            way.name,
            about(way.to_go),
            about(way.brings),
            about(way.better_by, sign=True),
            about(way.profit_in_all, sign=True),
            "" if way.finish is None else day_words(way.finish.likely),
            "" if way.odds_of_event is None else odds_words(way.odds_of_event).removeprefix("about "),
        )
        for way in one.ways
    ]
    table((one.state.plan, "still goes in", "comes back", "better by", "in all", "ready", "show"), rows)
    print()
    paragraph(f"{one.state.words} What was spent does not count in the choice.")


def _path_row(path: PathResult) -> tuple[str, ...]:
    most, errors = path.most_to_pay, path.simulation_errors
    return (
        path.name,
        at_most(most) + "*" * bool(path.counted_as_nothing) if most > 0 else "walk away",
        path.outlay.words,
        path.sale_price.words,
        money(path.expected_profit, error=errors["expected_profit"]),
        odds_words(path.odds_of_loss).removeprefix("about "),
        f"{path.weeks.mean:.0f}",
    )


def _show_steps(report: StepsReport, *, all_of_it: bool) -> None:
    """Print which steps to do, and each result with all that it needs."""
    then = "Next: valuation paths PLAN... (what to pay for each way)."
    rows = [
        (
            one.name,
            _needed(one),
            money(one.adds, error=one.simulation_error),
            money(one.costs, error=one.simulation_error),
            f"{'+' if one.net > 0 else ''}{money(one.net, error=one.simulation_error)}",
            odds_words(one.odds_it_pays).removeprefix("about "),
            "" if one.do else "leave out",
        )
        for one in report.results
    ]
    losses = [f"{one.id} {money(one.net, error=one.simulation_error)}" for one in report.steps if one.do]
    with one_screen(report.notes, then, all_of_them=all_of_it):
        paragraph(report.why)
        print()
        table(("result", "needs", "adds", "costs", "worth", "pays", ""), rows, left=2)
        print()
        if losses:
            paragraph(f"Left out with all that hangs on it, a step loses: {', '.join(losses)}.")
        paragraph(report.search.words)


def _needed(one: Bundle) -> str:
    """The steps of a result, those in brackets that are done for another as well."""
    others = [name for name in one.needs if name not in one.of_these]
    return _shortened(one.of_these) + (f" ({_shortened(others)})" if others else "")


def _shortened(names: Sequence[str]) -> str:
    shown = ", ".join(names[:MOST_NAMED])
    return f"{shown} and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else shown


def _show_field(report: FieldTable, *, all_of_it: bool) -> None:
    """Print most to pay by condition and year, and what each row assumes."""
    then = "Next: valuation sheet card PLAN... --out card.pdf (the same for the pocket)."
    bare = {one.condition: one for one in report.without_engine}
    rows = [
        (
            condition,
            *(_limit(report.cell(condition, year)) for year in report.years),
            *([_limit(bare.get(condition))] if bare else []),
        )
        for condition in report.conditions
    ]
    its_year = sorted({one.model_year for one in report.without_engine})
    last = [f"{', '.join(f'{year:.0f}' for year in its_year)} without engine"] if bare else []
    with one_screen(report.notes, then, all_of_them=all_of_it):
        paragraph(report.why)
        print()
        table(("as found", *(f"{year:.0f}" for year in report.years), *last), rows)
        print()
        for one in report.assumed:
            built = f" Built: {one.as_built}." if one.as_built else ""
            paragraph(f"Assumed of a {one.condition}: {one.as_found}.{built}")
        if any(cell.most_to_pay is None for cell in report.cells):
            paragraph("A row left blank has no plan: give one (or a vehicle file) for a vehicle found so.")
        paragraph(f"The goal: {report.goal.words}.")


def _limit(cell: FieldCell | None) -> str:
    if cell is None or cell.most_to_pay is None:
        return ""
    return at_most(cell.most_to_pay) if cell.most_to_pay > 0 else "walk away"
