"""No command drops a note: whatever the rooms below can say is on the terminal and in the JSON answer, once."""

import ast
import json
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import valuation
import valuation.comparables
from valuation.cli import exits, main
from valuation.notes import Note

ROOMS = ("comparables", "regression", "evidence", "build", "paths", "sell")
DAYS = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2} [A-Z][a-z]+ \d{4}")
"""Of notes that differ in a day alone one is shown."""
AS_OF = ["--as-of", "2025-12-31"]
COMMANDS = {
    "check": ["check", "{table}", "--all"],
    "estimate": ["estimate", "{folder}/vehicle.toml", "--comparables", "{table}", *AS_OF, "--all"],
    "explain": ["explain", "{folder}/vehicle.toml", "--comparables", "{table}", *AS_OF, "--all"],
    "backtest": ["backtest", "{table}", "--all"],
    "paths": ["paths", "{folder}/plan.toml", "--comparables", "{table}", *AS_OF, "--all"],
    "steps": ["steps", "{folder}/plan.toml", "--comparables", "{table}", *AS_OF, "--all"],
    "field": ["field", "{folder}/plan.toml", "--years", "1950-1951", "--comparables", "{table}", *AS_OF, "--all"],
    "bands": ["bands", "{folder}/plan.toml", "--comparables", "{table}", *AS_OF, "--all"],
}


def codes_of(*rooms):
    """Every code with which a note is made in a room, read off its source."""
    root = Path(valuation.__file__).parent
    found = set()
    for file in (file for room in rooms for file in (root / room).rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            made = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Note" and node.args
            if made and isinstance(node.args[0], ast.Constant):
                found.add(node.args[0].value)
    return sorted(found)


def run(capsys, *words):
    """What a command prints, with its line breaks taken out."""
    capsys.readouterr()
    assert main(list(words)) in (exits.DONE, exits.FAULTS_FOUND)
    return re.sub(r"\s+", " ", capsys.readouterr().out)


def said(words, folder, table):
    return [word.format(folder=folder, table=table) for word in words]


@pytest.fixture
def remarks(monkeypatch):
    """Every note code there is, said of the table as it is read."""
    notes = tuple(Note(code, f"Remark about {code}, which is one of a kind.") for code in codes_of(*ROOMS))
    read = valuation.comparables.read_comparables
    monkeypatch.setattr(
        valuation.comparables, "read_comparables", lambda *given, **named: replace(read(*given, **named), notes=notes)
    )
    return notes


def test_the_codes_are_found():
    assert {"sheet_chosen", "few_sales", "grid_choice", "event_passed", "against_the_ask"} <= set(codes_of(*ROOMS))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_note_of_the_table_is_on_the_terminal_once_and_in_the_json(command, shop, capsys, remarks):
    words = said(COMMANDS[command], shop, shop / "comparables.csv")
    text = run(capsys, *words)
    assert {note.code: text.count(note.text) for note in remarks} == {note.code: 1 for note in remarks}
    answer = json.loads(run(capsys, *words, "--json"))
    assert {note.code for note in remarks} <= {note["code"] for note in notes_in(answer)}


def notes_in(answer):
    """All notes anywhere in a JSON answer."""
    if isinstance(answer, dict):
        own = [answer] if set(answer) == {"code", "text"} else []
        return own + [note for value in answer.values() for note in notes_in(value)]
    return [note for one in answer for note in notes_in(one)] if isinstance(answer, list) else []


@pytest.mark.parametrize("command", COMMANDS)
def test_what_the_json_says_the_terminal_says(command, shop, capsys):
    """Notes of the fit, the evidence and the deal as they arise: each that JSON has is on the terminal, once."""
    words = said(COMMANDS[command], shop, shop / "comparables.csv")
    text = run(capsys, *words)
    found = {note["text"] for note in notes_in(json.loads(run(capsys, *words, "--json")))}
    dateless = DAYS.sub("", text)
    assert {note: dateless.count(DAYS.sub("", re.sub(r"\s+", " ", note))) for note in found} == dict.fromkeys(found, 1)


@pytest.fixture(scope="module")
def workbook(shop, tmp_path_factory):
    """The shop's table as an owner keeps it: two years in two sheets, one with a title, and another matter beside."""
    table = pd.read_csv(shop / "comparables.csv", dtype=str).iloc[:-1]
    table["date"] = [f"{day[5:7]}/{2 + i % 9:02d}/{day[:4]}" for i, day in enumerate(table["date"])]
    table.loc[table.index[-1], "family"] = table["family"].iloc[-1].upper()
    file = tmp_path_factory.mktemp("book") / "sales.xlsx"
    with pd.ExcelWriter(file, engine="openpyxl") as writer:
        table.iloc[:10].to_excel(writer, sheet_name="Early", index=False)
        table.to_excel(writer, sheet_name="All", index=False, startrow=1)
        writer.sheets["All"].cell(1, 1, "What we know")
        pd.DataFrame({"who": ["x"], "owes": [5]}).to_excel(writer, sheet_name="Debts", index=False)
    return file


@pytest.mark.parametrize("command", COMMANDS)
def test_notes_of_a_messy_workbook_are_said(command, shop, workbook, capsys):
    text = run(capsys, *said(COMMANDS[command], shop, workbook))
    assert "The sheet 'All' was read; 'Early', 'Debts' were not." in text
    assert "'All' has the most usable rows" in text
    assert re.search("can be read two ways; they were read (month|day) first", text)
    assert re.search("spellings? (was|were) read as the commonest of the same word", text)
    assert "The line above the header, 'What we know', was skipped" in text


@pytest.mark.parametrize("command", COMMANDS)
def test_a_sheet_can_be_named_on_every_command_that_reads_a_table(command, shop, workbook, capsys):
    text = run(capsys, *said(COMMANDS[command], shop, workbook), "--sheet", "all")
    assert "The sheet 'All' was read" not in text
    assert main([*said(COMMANDS[command], shop, workbook), "--sheet", "Latest"]) == exits.REFUSED
    assert "it has no sheet 'Latest'. Its sheets are Early, All, Debts." in capsys.readouterr().err


def test_a_sheet_of_a_saved_model_is_refused(shop, model_file, capsys):
    words = ["estimate", str(shop / "vehicle.toml"), "--model", str(model_file), "--sheet", "All"]
    assert main(words) == exits.REFUSED
    assert "Cannot use a sheet with a saved model" in capsys.readouterr().err


def test_a_saved_model_says_how_its_table_was_read(shop, workbook, tmp_path, capsys):
    text = run(capsys, "fit", str(workbook), "--all", "--out", str(tmp_path / "model.json"))
    assert "The sheet 'All' was read" in text
    assert "The sheet 'All' was read" in (tmp_path / "model.md").read_text(encoding="utf-8")
    words = ["estimate", str(shop / "vehicle.toml"), "--model", str(tmp_path / "model.json"), *AS_OF, "--all"]
    assert "The sheet 'All' was read" in run(capsys, *words)


def test_an_index_says_on_the_terminal_what_it_moved_and_where_it_ends(shop, tmp_path, capsys):
    index = tmp_path / "index.csv"
    index.write_text("month,value\n2022-01,100\n2024-01,110\n", encoding="utf-8")
    text = run(capsys, *said(COMMANDS["estimate"], shop, shop / "comparables.csv"), "--index", str(index))
    assert text.count("Every price was moved to 2025-12 by the index") == 1
    assert text.count("ends in 2024-01; dates as far as") == 1


def test_an_offer_says_all_that_the_bands_and_the_offer_must(shop, tmp_path, capsys):
    words = ["offer", str(tmp_path / "talks.json"), "200000", "--plan", str(shop / "plan.toml"), "--asked", "50000"]
    words += ["--comparables", str(shop / "comparables.csv"), *AS_OF, "--dry-run", "--all"]
    text = run(capsys, *words)
    assert "Of the offers to expect, more than 99 in 100 would be lower." in text
    assert "The offer is 300 % over the ask of 50,000." in text
    answer = json.loads(run(capsys, *words, "--json"))
    assert all(text.count(re.sub(r"\s+", " ", note["text"])) == 1 for note in answer["notes"])
