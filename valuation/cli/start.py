"""``valuation start``: a table, its schema, a vehicle and a build plan to begin with, empty or from one's own table."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

from valuation.answers.draft import Draft, draft, refuse_started, start_folder
from valuation.answers.given import TABLE_NAMES
from valuation.build.plan_template import write_plan_template
from valuation.build.shop_file import SHOP_TEMPLATE
from valuation.cli.exits import DONE
from valuation.cli.progress import progress
from valuation.cli.show import bullet, command_lines, wrapped
from valuation.comparables import write_template
from valuation.drafting.question import Question
from valuation.drafting.questions import agreed
from valuation.errors import TableError
from valuation.schema import VINTAGE_FILE, default_schema
from valuation.text.language import say, say_count

VEHICLE_TEMPLATE = """\
# The vehicle to be valued, in the words of schema.toml. Leave out what you do not know: the interval widens for it.
# Invented, write your own.
name = "Haywain pickup in the long barn"

family = "Penhurrow Haywain"
model_year = 1954
body = "pickup"
condition = "project"
drivetrain = "original"
paint = "worn"
awards = "none"
"""

NAMES = (*TABLE_NAMES, "schema.toml", "vehicle.toml", "shop.toml", "plan.toml")
"""Files that a folder to begin in must not have yet."""

_LABEL = 13
"""Characters of the first column of what was understood."""


def start(arguments: argparse.Namespace) -> int:
    """Write the files; what is there already stays as it is and stops the command."""
    folder = Path(arguments.folder)
    if arguments.table:
        _from_table(folder, Path(arguments.table), arguments.sheet, take_all=arguments.yes)
    elif arguments.sheet or arguments.yes:
        raise TableError("Cannot start an empty table with --sheet or --yes: they belong to --from TABLE. Name it.")
    else:
        _empty(folder)
    return DONE


def _empty(folder: Path) -> None:
    refuse_started(folder, NAMES)
    texts: dict[str, str | bytes] = {
        "schema.toml": VINTAGE_FILE.read_bytes(),
        "vehicle.toml": VEHICLE_TEMPLATE,
        "shop.toml": SHOP_TEMPLATE,
    }
    start_folder(folder, texts)
    write_template(folder / "comparables.csv", default_schema())
    write_plan_template(folder / "plan.toml")
    for name, what in {
        "comparables.csv": "your sales, one a row",
        "schema.toml": "what the columns mean; change what does not fit",
        "vehicle.toml": "the vehicle in question",
        "shop.toml": "your rates, bays and usual steps, for all plans",
        "plan.toml": "one way to build it",
    }.items():
        print(f"  {folder / name}: {what}")
    then = shlex.join(["valuation", "check", str(folder / "comparables.csv")])
    print("", *command_lines(f"Fill in the sales, then: {then}"), sep="\n")


def _from_table(folder: Path, table: Path, sheet: str | None, *, take_all: bool) -> None:
    refuse_started(folder, NAMES)
    with progress(say("Reading {name}", name=table.name)):
        found = draft(table, sheet=sheet)
    told: dict[str, str] = {}
    if take_all and (told := agreed(found.questions)):
        found = draft(table, sheet=sheet, told=told)
    _show(found, told)
    if found.questions and sys.stdin.isatty() and sys.stdout.isatty() and not take_all:
        told = _asked(found.questions)
        found = draft(table, sheet=sheet, told=told)
        print("\n" + found.answer)
    elif found.questions:
        _show_open(found, folder)
    texts = {"schema.toml": found.schema_text, "vehicle.toml": found.vehicle_text, "shop.toml": found.shop_text,
             "plan.toml": found.plan_text}  # fmt: skip
    start_folder(folder, {**texts, found.table_file: table.read_bytes()})
    print("\n" + say("Written to {folder}: {names}.", folder=folder, names=", ".join([*texts, found.table_file])))
    words = ["valuation", "check", str(folder / found.table_file)]
    words += ["--sheet", found.sheet] if found.sheet_named else []
    print(*command_lines(say("Next: {command}", command=shlex.join(words))), sep="\n")


def _show(found: Draft, told: Mapping[str, str]) -> None:
    """Print what was understood, in about a dozen lines."""
    print(found.answer)
    for title, columns in found.taken.items():
        _line(title, columns)
    _line(say("Words"), found.words, "; ")
    _line(say("Habits"), found.habits, "; ")
    _line(say("Left out"), found.left_out)
    _line(say("Passed over"), found.passed_over)
    for note in found.notes:
        _line(say("Read"), [note.text])
    if told:
        _line(say("Taken"), [say_count("{n} suggestion", "{n} suggestions", len(told))])


def _line(title: str, items: Iterable[str], between: str = ", ") -> None:
    if text := between.join(items):
        print(wrapped(text, f"  {title:{_LABEL}}", " " * (_LABEL + 2)))


def _show_open(found: Draft, folder: Path) -> None:
    print("\n" + say("Would help to know (marked TO FILL IN in {file}):", file=folder / "schema.toml"))
    for question in found.questions:
        bullet(question.text)
    if more := found.open_questions - len(found.questions):
        print("  * " + say_count("and {n} more there", "and {n} more there", more))


def _asked(questions: Iterable[Question]) -> dict[str, str]:
    """Ask each question; an empty line takes the suggestion, or leaves the question open where there is none."""
    return {question.key: _ask(question) for question in questions}


def _ask(question: Question) -> str:
    print("\n" + question.text)
    for number, choice in enumerate(question.choices, start=1):
        print(f"  {number}  {choice.text}")
    if not question.choices:
        return input(say("A number, or Enter if you do not know: ")).strip()
    unknown = len(question.choices) + 1
    print(f"  {unknown}  " + say("I do not know"))
    values = [choice.value for choice in question.choices]
    usual = values.index(question.suggestion) + 1 if question.suggestion in values else unknown
    while True:
        answer = input(say("Your answer ({usual}): ", usual=usual)).strip() or str(usual)
        if answer.isdecimal() and 1 <= int(answer) <= unknown:
            return values[int(answer) - 1] if int(answer) < unknown else ""
        print(say("Type a number from 1 to {last}.", last=unknown))
