"""``valuation paths``, ``steps`` and ``field``: the buy and build decisions."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from valuation.answers.field import field as field_answer
from valuation.answers.given import amount_in, model_years
from valuation.answers.paths import paths as paths_answer
from valuation.answers.steps import steps as steps_answer
from valuation.build.figures import money, odds_words, percent
from valuation.build.plan import BuildPlan
from valuation.build.plan_file import read_plan
from valuation.cli.exits import DONE
from valuation.cli.inputs import model_for
from valuation.cli.progress import progress
from valuation.cli.show import bullet, heading, notes, paragraph, print_json, table
from valuation.paths.compare import PathResult, PathsReport
from valuation.paths.field_table import FieldTable
from valuation.paths.steps import StepsReport
from valuation.regression.model import PriceModel


def paths(words: argparse.Namespace) -> int:
    """Compare build plans for one find."""
    model = model_for(words, near=words.plans[0])
    with progress(f"Weighing {len(words.plans)} plan(s)"):
        price = amount_in(words.price, model.currency, "--price")
        report = paths_answer(model, _plans(words.plans, model), words.as_of, price=price)
    if words.json:
        print_json(report)
    else:
        show_paths(report)
    return DONE


def steps(words: argparse.Namespace) -> int:
    """Price each step of a plan and search the best subset."""
    model = model_for(words, near=words.plan)
    [plan] = _plans([words.plan], model)
    with progress("Weighing the steps"):
        report = steps_answer(
            model,
            plan,
            words.as_of,
            price=amount_in(words.price, model.currency, "--price"),
            budget=amount_in(words.budget, model.currency, "--budget"),
            finish_by=words.finish_by,
        )
    if words.json:
        print_json(report)
    else:
        show_steps(report)
    return DONE


def field(words: argparse.Namespace) -> int:
    """Most to pay by condition and model year."""
    model = model_for(words, near=words.plans[0])
    with progress("Working out the field table"):
        report = field_answer(model, _plans(words.plans, model), model_years(words.years), words.as_of)
    if words.json:
        print_json(report)
    else:
        show_field(report)
    return DONE


def _plans(files: Sequence[str], model: PriceModel) -> list[BuildPlan]:
    return [read_plan(file, model.schema) for file in files]


def show_paths(report: PathsReport) -> None:
    """Print the paths side by side and the decision."""
    unit = f" ({report.currency})" if report.currency else ""
    if report.price is None:
        print(f"Ways to go, at no purchase price yet{unit}: outlay and profit leave it out.")
    else:
        print(f"Ways to go, bought at {money(report.price)}{unit}")
    rows = [_path_row(path) for path in report.paths]
    print()
    table(("path", "most to pay", "outlay", "sells for", "profit", "bad tenth", "odds of loss", "weeks"), rows)
    heading("Decision")
    paragraph(report.why)
    for path in report.paths:
        bullet(f"{path.name}: {path.most_to_pay_proof.proof}")
    for path in report.paths:
        bullet(f"{path.name}: {path.rule_of_thumb}")
    notes([*(note for path in report.paths for note in path.notes), *report.notes])


def _path_row(path: PathResult) -> tuple[str, ...]:
    most = path.most_to_pay
    return (
        path.name,
        money(most, error=path.most_to_pay_proof.error) if most > 0 else "walk away",
        money(path.outlay.mean, error=path.simulation_errors.get("outlay", 0.0)),
        money(path.sale_price.mean, error=path.simulation_errors.get("sale_price", 0.0)),
        money(path.expected_profit, error=path.simulation_errors.get("expected_profit", 0.0)),
        money(path.bad_tenth, error=path.simulation_errors.get("bad_tenth", 0.0)),
        percent(path.odds_of_loss),
        f"{path.weeks.mean:.0f}",
    )


def show_steps(report: StepsReport) -> None:
    """Print each step's worth and the best subsets."""
    print(f"{report.plan}: each step with the others in place" + (f" ({report.currency})" if report.currency else ""))
    print()
    rows = [
        (
            step.id,
            money(step.adds, error=step.simulation_error),
            money(step.costs),
            money(step.net, error=step.simulation_error),
            odds_words(step.odds_it_pays),
        )
        for step in report.steps
    ]
    table(("step", "adds", "costs", "net", "odds it pays"), rows)
    heading("Which steps to do")
    paragraph(report.search.words)
    for subset in (report.best_subset, *report.alternatives):
        names = ", ".join(subset.steps) or "no step"
        profit = money(subset.expected_profit, error=subset.simulation_error)
        bullet(f"{names}: costs {money(subset.steps_cost)}, expected profit {profit}. {subset.differs}".rstrip())
    notes(report.notes)


def show_field(report: FieldTable) -> None:
    """Print most to pay by condition and year."""
    rows = []
    for condition in report.conditions:
        cells = [report.cell(condition, year) for year in report.years]
        rows.append((condition, *(money(c.most_to_pay, error=c.error) if c.most_to_pay > 0 else "pass" for c in cells)))
    print(f"Most to pay. Goal: {report.goal.words}.")
    print()
    table(("as found", *(f"{year:.0f}" for year in report.years)), rows)
    notes(report.notes)
