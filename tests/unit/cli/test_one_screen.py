"""Every command opens with its answer in a sentence and fits on one screen, at any width; the rest is behind --all."""

import datetime as dt
import re
import shlex

import pytest

from valuation.cli import exits, main
from valuation.cli.parser import build_parser
from valuation.cli.show import GAP, SCREEN, one_screen, table
from valuation.notes import Note
from valuation.text.language import spoken, written

NOTES = [Note(f"n{i}", f"Note {i} " + "tells " * 30) for i in range(8)]
AS_OF = "--as-of 2025-12-31"
COMMANDS = {
    "estimate": f"estimate {{shop}}/vehicle.toml --comparables {{shop}}/comparables.csv {AS_OF}",
    "estimate in words": f"estimate family=Garrow-Wren year=1952 --model {{model}} {AS_OF}",
    "explain": f"explain {{shop}}/vehicle.toml --comparables {{shop}}/comparables.csv {AS_OF}",
    "backtest": "backtest {shop}/comparables.csv",
    "fit": "fit {shop}/comparables.csv --out {folder}/fitted.json",
    "batch": f"batch {{folder}}/fleet.csv --model {{model}} --out {{folder}}/valued.csv {AS_OF}",
    "paths": f"paths {{shop}}/plan.toml --model {{model}} {AS_OF}",
    "paths under way": f"paths {{shop}}/plan.toml --bought 6000@2025-11-01 --model {{model}} {AS_OF}",
    "steps": f"steps {{shop}}/plan.toml --model {{model}} {AS_OF}",
    "field": f"field {{shop}}/plan.toml --years 1948-1956 --model {{model}} {AS_OF}",
    "bands": f"bands {{shop}}/plan.toml --model {{model}} {AS_OF}",
    "offer": "offer {folder}/talks.json 20000 --plan {shop}/plan.toml --asked 45000 --dry-run --model {model} " + AS_OF,
    "sheet": f"sheet card {{shop}}/plan.toml --years 1950-1951 --out {{folder}}/card.pdf --model {{model}} {AS_OF}",
}
A_DAY = re.compile(
    r"\b\d{1,2} (January|February|March|April|May|June|July|August|September|October|November|December) 20"
)


def said(capsys, monkeypatch, columns, command):
    """What a command prints on a terminal of that width."""
    monkeypatch.setenv("COLUMNS", str(columns))
    capsys.readouterr()
    assert main(shlex.split(command)) == exits.DONE
    return capsys.readouterr().out


@pytest.fixture
def line(shop, model_file, tmp_path):
    fleet = "family,model_year,condition\nGarrow Wren,1950,driver\nGarrow Wren,1950,sparkling\n"
    (tmp_path / "fleet.csv").write_text(fleet, encoding="utf-8")
    return lambda command: COMMANDS[command].format(shop=shop, model=model_file, folder=tmp_path)


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("columns", [40, 80, 120])
def test_the_answer_is_a_sentence_with_its_figure_and_day_on_one_screen(command, columns, line, capsys, monkeypatch):
    text = said(capsys, monkeypatch, columns, line(command))
    paths = [word for word in line(command).split() if "/" in word]
    first = re.sub(r"\s+", " ", text.split("\n\n")[0])
    assert first[0].isupper()
    assert first.rstrip().endswith(".")
    assert re.search(r"\d", first)
    assert A_DAY.search(first), first
    wide = [one for one in text.splitlines() if len(one) > columns and not any(path in one for path in paths)]
    assert wide == []
    assert text.count("\n") <= (SCREEN if columns > 40 else 2 * SCREEN)


def next_words(text):
    """The command that the last lines name, as a shell reads it."""
    [after] = re.findall(r"^Next, .*\Z", text, flags=re.MULTILINE | re.DOTALL)
    command = after.replace("\\\n", " ").partition(": ")[2]
    return shlex.split(command.replace("AMOUNT", "20000"))


@pytest.mark.parametrize("command", [name for name in COMMANDS if name not in ("sheet", "fit", "batch")])
def test_the_next_command_is_understood_as_printed(command, line, capsys, monkeypatch):
    text = said(capsys, monkeypatch, 80, line(command))
    words = next_words(text)
    assert build_parser().parse_args(words[1:]).command == words[1]


@pytest.mark.parametrize("command", ["estimate", "paths", "steps", "bands"])
def test_the_next_command_answers(command, line, capsys, monkeypatch):
    text = said(capsys, monkeypatch, 80, line(command))
    words = next_words(text)
    assert main([*words[1:], *(["--dry-run"] if words[1] == "offer" else [])]) == exits.DONE


@pytest.mark.parametrize("command", COMMANDS)
def test_all_of_it_holds_what_the_screen_holds_and_more(command, line, capsys, monkeypatch):
    if command == "sheet":
        pytest.skip("a sheet has one line")
    short = said(capsys, monkeypatch, 100, line(command))
    whole = said(capsys, monkeypatch, 100, f"{line(command)} --all")
    assert short.split("\n\n")[0] == whole.split("\n\n")[0]
    assert "with --all" not in whole
    assert len(whole) >= len(short) - len("99 more with --all.\n\n")


@pytest.mark.parametrize("lines", [2, 9, 14, 30])
def test_notes_fill_the_screen_and_the_rest_is_counted(capsys, lines):
    with one_screen(NOTES, "Next: go on.", all_of_them=False):
        print("line\n" * lines, end="")
    text = capsys.readouterr().out
    shown = text.count("  * ")
    assert text.count("\n") <= max(SCREEN, lines + 5)
    left = f"  {len(NOTES) - shown} more with --all.\n" if shown else "\n8 more with --all.\n"
    assert text.endswith(f"{left}\nNext: go on.\n")
    assert (shown > 0) == (lines < 30)


def test_further_sentences_come_before_the_notes_and_are_counted_with_them(capsys):
    with one_screen(NOTES, all_of_them=False) as more:
        more("A further sentence.")
        print("answer")
        for _ in range(30):
            more("And one too many.")
    text = capsys.readouterr().out
    assert text.startswith("answer\n\nA further sentence.\n")
    assert text.endswith(f"\n{31 + len(NOTES) - text.count('sentence.') - text.count('many.')} more with --all.\n")
    assert text.count("\n") <= SCREEN


def test_all_of_them_are_shown_when_asked_for(capsys):
    with one_screen(NOTES, all_of_them=True):
        print("answer")
    text = capsys.readouterr().out
    assert text.count("  * ") == len(NOTES)
    assert "--all" not in text


ROWS = [
    ("the long barn's pickup", "engine, brakes, cab and a good deal more", "12,345", "9 in 10"),
    ("b", "c", "1", ""),
]


@pytest.mark.parametrize("columns", [30, 40, 60, 80, 120])
def test_a_table_never_runs_over_and_loses_no_cell_in_silence(capsys, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    table(("what", "needs", "pays", "odds of it"), ROWS, left=2, spare=(3,))
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= columns
    told = re.sub(r"\s+", " ", text)
    assert "12,345" in told
    assert all(word in told for word in ROWS[0][1].split())
    assert ("9 in 10" in told) or "Left out at this width: odds of it." in told


def test_a_table_without_room_for_columns_is_told_row_by_row(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "30")
    table(("what", *"abcdef"), [("row", *["12,345"] * 6)])
    text = capsys.readouterr().out
    assert text.startswith(f"{GAP}row: a 12,345; b 12,345;")
    assert max(map(len, text.splitlines())) <= 30


def test_the_head_of_a_column_stands_on_it(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "30")
    table(("where", "one in ten under"), [("private sale", "35,400")])
    assert [one.split() for one in capsys.readouterr().out.splitlines()] == [
        ["one", "in", "ten"],
        ["where", "under"],
        ["-" * 12, "-" * 14],
        ["private", "sale", "35,400"],
    ]


with spoken("de"):
    GERMAN_MONTHS = "|".join(written(dt.date(2026, month, 1)).split()[1] for month in range(1, 13))


@pytest.mark.parametrize("command", [name for name in COMMANDS if name != "sheet"])
def test_in_german_the_answer_and_what_comes_next_are_german_with_figures_as_germans_write_them(
    command, line, capsys, monkeypatch
):
    monkeypatch.setenv("VALUATION_LANGUAGE", "de")
    text = said(capsys, monkeypatch, 80, line(command))
    first = re.sub(r"\s+", " ", text.split("\n\n")[0])
    assert re.search(rf"\b\d{{1,2}}\. ({GERMAN_MONTHS}) 20", first), first
    assert not re.search(r"\d,\d{3}\b", first), first
    assert not re.search(r"\b(the|and|about|sales|expect)\b", re.sub(r"\S*/\S*", "", first)), first
    if command != "batch":
        assert text.rpartition("\n\n")[2].startswith("Als Nächstes, ")  # codespell:ignore


def test_json_is_english_in_any_language(line, capsys, monkeypatch):
    english = said(capsys, monkeypatch, 80, f"{line('paths')} --json")
    monkeypatch.setenv("VALUATION_LANGUAGE", "de")
    assert said(capsys, monkeypatch, 80, f"{line('paths')} --json") == english


def test_a_language_that_is_not_there_is_said_and_english_answers(line, capsys, monkeypatch):
    monkeypatch.setenv("VALUATION_LANGUAGE", "deutsch")
    assert main(shlex.split(line("estimate in words"))) == exits.DONE
    out, err = capsys.readouterr()
    assert "such sales end" in out
    assert "VALUATION_LANGUAGE is 'deutsch'. Set it to one of en, de." in err


def test_a_cell_of_a_table_is_translated_with_its_figures(line, capsys, monkeypatch):
    monkeypatch.setenv("VALUATION_LANGUAGE", "de")
    text = said(capsys, monkeypatch, 80, line("bands"))
    assert re.search(r"^  Untergrenze +\d\d\.\d00  \w+ \w+ \w+ mehr wert; \d\d\.\d00 ab ", text, re.MULTILINE)
    assert "auction" not in text.partition("Gut zu wissen")[0]


def test_paper_and_records_are_english_in_any_language(line, capsys, monkeypatch):
    monkeypatch.setenv("VALUATION_LANGUAGE", "de")
    assert said(capsys, monkeypatch, 80, line("sheet")).startswith("Wrote ")
