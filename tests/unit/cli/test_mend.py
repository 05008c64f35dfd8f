"""``valuation mend``: at a terminal each group is asked for, elsewhere nothing is written without ``--yes``."""

import json
import os
import pty
import subprocess
import sys
import time
from pathlib import Path

import pytest

from valuation.cli import exits, main

HEADER = "sale,date,price,outcome,family,model_year,condition"
GRADES = ["derelict", "project", "runner", "driver", "show"]


@pytest.fixture
def sales(tmp_path: Path) -> Path:
    """Twenty good sales and one each: two misspelt grades, a price below zero, a slipped digit, a sale given twice."""
    lines = [HEADER]
    lines += [f"S{i},2024-0{1 + i % 9}-{1 + i:02},{20000 + 150 * i},sold,Tern,1951,{GRADES[3]}" for i in range(20)]
    lines += [
        "X1,2024-03-03,21000,sold,Tern,1951,drvier",
        "X2,2024-03-04,21100,sold,Tern,1951,drvier",
        "X3,2024-03-05,-21200,sold,Tern,1951,driver",
        "X4,2024-03-06,215000,sold,Tern,1951,driver",
        "S0,2024-01-01,20000,sold,Tern,1951,driver",
    ]
    file = tmp_path / "sales.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def at_a_terminal(words: list[str], folder: Path, answers: list[str]) -> tuple[int, str]:
    """Run a command at a pseudo-terminal, with one answer for each question; the exit code and what was shown."""
    leader, follower = pty.openpty()
    environment = {**os.environ, "COLUMNS": "100", "PYTHONPATH": str(Path(__file__).parents[3])}
    command = [sys.executable, "-m", "valuation", *words]
    process = subprocess.Popen(command, stdin=follower, stdout=follower, stderr=follower, cwd=folder, env=environment)
    os.close(follower)
    shown, waiting, end = "", list(answers), time.monotonic() + 120
    while time.monotonic() < end:
        try:
            shown += os.read(leader, 4096).decode()
        except OSError:  # the other side is closed: the command has ended
            break
        if shown.endswith(": ") and waiting:
            os.write(leader, waiting.pop(0).encode())
    os.close(leader)
    return process.wait(timeout=60), shown.replace("\r\n", "\n")


def test_each_group_is_asked_for_and_what_is_agreed_to_is_written(sales: Path) -> None:
    code, shown = at_a_terminal(["mend", "sales.csv", "--out", "out.csv"], sales.parent, ["y\n", "n\n", "r\n", "y\n"])
    assert code == exits.DONE
    assert "   2  'drvier' is driver in 'condition'" in shown
    assert "Mend? [y]es, [n]o, [o]ne by one, [a]ll that have one answer: y" in shown
    assert "row 25, price: 215000 is 21500? [y]es, [n]o, [r]ight as it is (yes in 'confirmed'): r" in shown
    assert "leave row 26 out? " in shown
    assert "3 cells were written anew. 1 row was left out. The list is out-changes.csv." in " ".join(shown.split())
    lines = (sales.parent / "out.csv").read_text().splitlines()
    assert lines[0] == f"{HEADER},confirmed"
    assert lines[21:] == [
        "X1,2024-03-03,21000,sold,Tern,1951,driver,",
        "X2,2024-03-04,21100,sold,Tern,1951,driver,",
        "X3,2024-03-05,-21200,sold,Tern,1951,driver,",
        "X4,2024-03-06,215000,sold,Tern,1951,driver,yes",
    ]


def test_one_by_one_all_and_an_answer_that_is_none(sales: Path) -> None:
    answers = ["o\n", "what\n", "y\n", "n\n", "y\n", "n\n", "n\n"]
    code, shown = at_a_terminal(["mend", "sales.csv", "--out", "out.csv"], sales.parent, answers)
    assert code == exits.DONE
    assert shown.count("row 22, condition: drvier is driver? [y]es, [n]o: ") == 2, "asked again"
    changes = (sales.parent / "out-changes.csv").read_text("utf-8-sig").splitlines()
    assert [line.partition(",")[0] for line in changes] == ["row", "22", "24"]


def test_all_takes_every_group_with_one_answer_and_asks_for_the_others(sales: Path) -> None:
    text = sales.read_text().replace("X2,2024-03-04,21100,sold", "X2,2024-03-04,21100,solt")
    sales.write_text(text)
    code, shown = at_a_terminal(["mend", "sales.csv", "--out", "out.csv"], sales.parent, ["a\n", "n\n", "n\n", "n\n"])
    assert code == exits.DONE
    assert shown.count("Mend? ") == 2
    assert len((sales.parent / "out-changes.csv").read_text().splitlines()) == 4


def test_where_the_input_ends_the_rest_is_no(sales: Path) -> None:
    code, shown = at_a_terminal(["mend", "sales.csv", "--out", "out.csv"], sales.parent, ["y\n", "\x04"])
    assert code == exits.DONE
    assert "2 cells were written anew" in shown


def test_nothing_agreed_to_is_nothing_written(sales: Path) -> None:
    code, shown = at_a_terminal(["mend", "sales.csv", "--out", "out.csv"], sales.parent, ["n\n"] * 4)
    assert code == exits.DONE
    assert "nothing was mended, and nothing was written" in shown
    assert [file.name for file in sales.parent.iterdir()] == ["sales.csv"]


def test_without_a_terminal_it_only_shows_what_it_would_do(sales: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = str(sales.parent / "out.csv")
    assert main(["mend", str(sales), "--out", out]) == exits.DONE
    text = capsys.readouterr().out
    assert "With one answer:\n   2  'drvier' is driver in 'condition'  rows 22, 23\n" in text
    assert "To be asked, at a terminal:" in text
    assert "20 of 25 rows can be used now, 22 then. Nothing was written." in " ".join(text.split())
    assert "--yes" in text
    assert [file.name for file in sales.parent.iterdir()] == ["sales.csv"]


def test_yes_makes_the_mends_that_have_one_answer_and_never_one_that_is_asked(
    sales: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = str(sales.parent / "out.csv")
    assert main(["mend", str(sales), "--out", out, "--yes", "--json"]) == exits.DONE
    found = json.loads(capsys.readouterr().out)
    assert [(one["row"], one["new"]) for one in found["changes"]] == [(22, "driver"), (23, "driver")]
    assert found["written"] == out
    assert {one["code"] for one in found["left"]} == {"price_negative", "slipped_digit", "duplicate_sale"}
    assert main(["mend", out, "--out", str(sales.parent / "again.csv"), "--yes"]) == exits.DONE
    assert "nothing was mended, and nothing was written" in " ".join(capsys.readouterr().out.split())


def test_in_place_is_refused(sales: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sales.read_bytes()
    assert main(["mend", str(sales), "--out", str(sales), "--yes"]) == exits.REFUSED
    assert "in place: your own file is never changed" in capsys.readouterr().err
    assert sales.read_bytes() == before


def test_a_workbook_stays_as_it_is_and_its_copy_says_that_it_holds_the_table_alone(
    sales: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, out = sales.with_suffix(".xlsx"), sales.with_name("out.xlsx")
    assert main(["mend", str(sales), "--out", str(book), "--yes"]) == exits.DONE
    broken = sales.with_name("broken.xlsx")
    import openpyxl

    sheets = openpyxl.load_workbook(book)
    sheets.worksheets[0].cell(5, 7).value = "drvier"
    sheets.create_sheet("Notes").append(["mine"])
    sheets.save(broken)
    capsys.readouterr()
    assert main(["mend", str(broken), "--out", str(out), "--yes"]) == exits.DONE
    text = " ".join(capsys.readouterr().out.split())
    assert "It holds the table alone: other sheets, formulas, looks and lines above it stay in broken.xlsx." in text
    assert openpyxl.load_workbook(out).worksheets[0].cell(5, 7).value == "driver"
