"""``valuation start FOLDER --from TABLE``: what it prints, asks and writes, and that the rest then works."""

import builtins
import io
import shutil
import sys
from pathlib import Path

import pytest

from tests.unit.drafting.conftest import sales
from valuation.cli import main
from valuation.schema import read_schema

CONDITIONS = ["project", "barn", "runs", "nice driver", "show"]
WORTH = {"project": 9_000, "barn": 10_000, "runs": 15_000, "nice driver": 24_000, "show": 41_000}


def write(path, columns, sep=","):
    import pandas as pd

    pd.DataFrame(columns).to_csv(path, index=False, sep=sep)
    return path


def priced(rows: int = 40, **more):
    columns = sales(
        rows, **{"Cond.": CONDITIONS}, Truck=["Penhurrow Haywain", "Corran Drover", "Tarrowby Linnet"], **more
    )
    conditions = columns["Cond."]
    columns["Price"] = [f"${WORTH[conditions[i]] + 97 * (i % 11):,}" for i in range(rows)]
    columns["Sold for"] = columns.pop("Price")
    return columns


@pytest.fixture
def table(tmp_path):
    return write(tmp_path / "sales.csv", priced(Result=["Sold", "Sold", "RNM", "Listed"], Remarks=["fine", "odd", ""]))


def start(*words) -> int:
    return main(["start", *map(str, words)])


def test_it_says_what_it_understood_in_a_dozen_lines_and_what_comes_next(table, tmp_path, capsys):
    assert start(tmp_path / "mine", "--from", table) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "sales.csv: 40 rows, 40 usable now."
    text = " ".join(" ".join(lines).split())
    assert "The sale date, outcome 'Result', price 'Sold for'" in text
    assert "The vehicle model_year 'Year', condition 'Cond.', family 'Truck'" in text
    assert "'barn' is project" in text
    assert "'nice driver' is driver" in text
    assert "outcome: 'RNM' is bid_not_met" in text
    assert "'Remarks' (remarks)" in text
    assert "prices in $; dates with the month first, as 40 of them show" in text
    last = "\n".join(lines).rpartition("Next: ")[2].replace("\\\n", "")
    assert last.split() == ["valuation", "check", str(tmp_path / "mine" / "comparables.csv")]
    assert len(lines) <= 16


def test_the_table_is_copied_byte_for_byte_and_the_files_work_together(table, tmp_path, capsys, monkeypatch):
    mine = tmp_path / "mine"
    assert start(mine, "--from", table) == 0
    assert (mine / "comparables.csv").read_bytes() == table.read_bytes()
    assert {file.name for file in mine.iterdir()} == {
        "comparables.csv", "schema.toml", "vehicle.toml", "shop.toml", "plan.toml",
    }  # fmt: skip
    monkeypatch.chdir(mine)
    capsys.readouterr()
    assert main(["check", "comparables.csv"]) == 0
    assert main(["estimate", "vehicle.toml"]) == 0
    assert main(["paths", "plan.toml"]) == 0


@pytest.mark.parametrize("there", ["schema.toml", "comparables.xlsx", "vehicle.toml"])
def test_what_is_there_already_stops_it(table, tmp_path, capsys, there):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / there).write_text("mine")
    assert start(mine, "--from", table) == 3
    assert f"it has {there} already" in capsys.readouterr().err
    assert [file.name for file in mine.iterdir()] == [there]


def test_a_table_that_cannot_be_read_leaves_no_folder_behind(tmp_path, capsys):
    assert start(tmp_path / "mine", "--from", tmp_path / "none.csv") == 3
    assert not (tmp_path / "mine").exists()
    assert "Cannot read the table" in capsys.readouterr().err


def test_a_sheet_without_a_table_is_refused(tmp_path, capsys):
    assert start(tmp_path / "mine", "--sheet", "Sales") == 3
    assert "they belong to --from TABLE" in capsys.readouterr().err


def test_a_sheet_of_a_workbook(tmp_path, capsys):
    import pandas as pd

    book = tmp_path / "book.xlsx"
    with pd.ExcelWriter(book) as writer:
        pd.DataFrame(priced(20)).to_excel(writer, sheet_name="2024", index=False)
        pd.DataFrame(priced(30)).to_excel(writer, sheet_name="2025", index=False)
        pd.DataFrame({"Key": ["a"], "Value": ["b"]}).to_excel(writer, sheet_name="Lists", index=False)
    assert start(tmp_path / "one", "--from", book) == 0
    out = capsys.readouterr().out
    assert out.startswith("book.xlsx, sheet '2025': 30 rows, 30 usable now.")
    assert out.rstrip().endswith("comparables.xlsx")
    assert start(tmp_path / "two", "--from", book, "--sheet", "2024") == 0
    out = capsys.readouterr().out
    assert out.startswith("book.xlsx, sheet '2024': 20 rows, 20 usable now.")
    assert " ".join(out.replace("\\\n", "").split()).endswith("comparables.xlsx --sheet 2024")


class Screen(io.StringIO):
    """Output that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def typed(monkeypatch):
    """Answers typed at a terminal; what is printed is given back."""

    def answers(*lines: str) -> Screen:
        screen, given = Screen(), iter(lines)
        monkeypatch.setattr(sys, "stdout", screen)
        monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
        monkeypatch.setattr(builtins, "input", lambda prompt: (screen.write(prompt + "\n"), next(given))[1])
        return screen

    return answers


@pytest.fixture
def open_table(tmp_path):
    columns = priced(Result=["Sold", "Sold", "withdrawn", "Sold"])
    columns["Date"] = [f"{1 + i % 12:02}/{1 + (i + 3) % 12:02}/2024" for i in range(40)]
    return write(tmp_path / "open.csv", columns)


def test_on_a_terminal_it_asks_best_first_and_enter_takes_the_suggestion(open_table, tmp_path, typed):
    screen = typed("", "9", "2")
    assert start(tmp_path / "mine", "--from", open_table) == 0
    said = screen.getvalue()
    assert said.index("Which comes first in a date") < said.index("What does 'withdrawn' say")
    assert "Type a number from 1 to 4." in said
    schema = read_schema(tmp_path / "mine" / "schema.toml")
    assert schema.day_first is False
    assert "withdrawn" in schema.outcome_aliases["bid_not_met"]
    assert "open.csv: 40 rows, 30 usable now." in said
    assert "open.csv: 40 rows, 40 usable now." in said
    assert "TO FILL IN" not in (tmp_path / "mine" / "schema.toml").read_text()


def test_i_do_not_know_leaves_it_open(open_table, tmp_path, typed):
    typed("3", "4")
    assert start(tmp_path / "mine", "--from", open_table) == 0
    text = (tmp_path / "mine" / "schema.toml").read_text()
    assert "withdrawn" not in read_schema(tmp_path / "mine" / "schema.toml").outcome_aliases["bid_not_met"]
    assert "# TO FILL IN" in text


def test_without_a_terminal_nothing_is_asked_and_the_list_is_marked(open_table, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(builtins, "input", lambda prompt: pytest.fail("asked"))
    assert start(tmp_path / "mine", "--from", open_table) == 0
    out = capsys.readouterr().out
    assert "* Which comes first in a date such as 01/04/2024?" in out
    assert "* What does 'withdrawn' say of a price (10 rows)?" in out
    assert "# TO FILL IN" in (tmp_path / "mine" / "schema.toml").read_text()


def test_yes_takes_all_that_is_suggested(open_table, tmp_path, capsys):
    assert start(tmp_path / "mine", "--from", open_table, "--yes") == 0
    assert "open.csv: 40 rows, 40 usable now." in capsys.readouterr().out
    assert "TO FILL IN" not in (tmp_path / "mine" / "schema.toml").read_text()


def test_rows_that_are_no_sales_are_named(tmp_path, capsys):
    columns = priced(20)
    for header in columns:
        columns[header].append({"Truck": "Total", "Sold for": f"${390_000:,}"}.get(header, ""))
    assert start(tmp_path / "mine", "--from", write(tmp_path / "sales.csv", columns)) == 0
    assert "Passed over  row 22 (totals)" in capsys.readouterr().out


def test_readme_shows_what_is_printed(tmp_path, capsys, monkeypatch):
    root = Path(__file__).parents[3]
    shutil.copy(root / "tests" / "tables" / "files" / "yard-notebook.xlsx", tmp_path / "sales.xlsx")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    assert start("mine", "--from", "sales.xlsx") == 0
    assert f"```text\n{capsys.readouterr().out}```" in (root / "README.md").read_text(encoding="utf-8")
