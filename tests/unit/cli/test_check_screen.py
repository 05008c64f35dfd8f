"""``check`` on one screen: the answer, the one thing to do next as a command that works, the causes, the rest."""

import json
import shlex
from pathlib import Path

import pytest

from valuation.cli import exits, main
from valuation.cli.screen import fitting, with_command
from valuation.cli.show import SCREEN
from valuation.schema import VINTAGE_FILE

HEADER = ["sale", "date", "price", "outcome", "family", "model_year", "condition", "paint", "mileage", "premium"]
GOOD = ["", "2024-05-01", "24500", "sold", "Tern", "1951", "driver", "worn", "45000", ""]
BAD = {
    "date": ["2024-02-30", "2099-01-01", "1957-05-31", "3 Feburuary 2024", ""],
    "price": ["lots", "-5000", "0", "24,5OO"],
    "outcome": ["solt", "what"],
    "model_year": ["l951", "2051", "early"],
    "condition": ["drvier", "zebra", "a word of our own", "shoow"],
    "paint": ["woorn", "shiny"],
    "mileage": ["inf"],
    "premium": ["10", "60 %"],
}


def table(folder: Path, count: int, name: str = "sales.csv") -> Path:
    """A table with so many faults of all kinds, and sixty good rows."""
    bad = [(column, text) for column, texts in BAD.items() for text in texts]
    rows = [",".join(HEADER)]
    for i in range(60 + count):
        cells = [*GOOD]
        cells[0], cells[1], cells[8] = f"S{i}", f"20{20 + i % 5}-{1 + i % 12:02}-{1 + i % 27:02}", f"{1000 + i}"
        if i >= 60:
            column, text = bad[i % len(bad)]
            cells[HEADER.index(column)] = text
        rows.append(",".join(f'"{cell}"' for cell in cells))
    file = folder / name
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return file


@pytest.mark.parametrize("columns", [40, 80])
@pytest.mark.parametrize("count", [0, 3, 300])
def test_whatever_is_wrong_it_fits_on_one_screen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int, count: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    file = table(tmp_path, count)
    monkeypatch.chdir(tmp_path)
    code = main(["check", file.name])
    text = capsys.readouterr().out
    lines = text.splitlines()
    assert code == (exits.FAULTS_FOUND if count else exits.DONE)
    assert len(lines) <= SCREEN
    assert max(map(len, lines)) <= max(50, min(columns, 100))
    assert lines[0].startswith(f"sales.csv: {60 + count} rows, ")
    if count == 300:
        assert "more causes with --all" in text


def test_all_of_it_is_printed_when_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = table(tmp_path, 300)
    main(["check", str(file), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert len(found["faults"]) >= 300
    assert len(found["groups"]) >= 12
    main(["check", str(file), "--all"])
    text = capsys.readouterr().out
    assert text.count("  * row ") == len(found["faults"])
    assert "--all" not in text.partition("\n\n")[2]


def test_the_first_line_says_what_can_be_used_and_the_second_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path)
    lines = table(tmp_path, 0).read_text().splitlines()
    lines[3] = lines[3].replace("driver", "drvier")
    lines[4] = lines[4].replace("driver", "drvier")
    lines[5] = lines[5].replace("24500", "0")
    (tmp_path / "sales.csv").write_text("\n".join(lines))
    main(["check", "sales.csv"])
    assert capsys.readouterr().out.splitlines()[:5] == [
        "sales.csv: 60 rows, 57 usable now, 2 more after mends that have one answer, 1 to decide or to mend",
        "by hand.",
        "Mend the 2:  valuation mend sales.csv --out sales-mended.csv",
        "",
        "   2  'drvier' is driver in 'condition'  rows 4, 5",
    ]


@pytest.mark.parametrize("elsewhere", [False, True])
def test_the_commands_that_are_printed_work_as_they_are_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, elsewhere: bool
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.chdir(tmp_path)
    own = tmp_path / "our shop"
    own.mkdir()
    table(own, 40, "my sales.csv")
    schema = VINTAGE_FILE.read_text(encoding="utf-8").replace('["good driver"', '["zebra"')
    (own / "schema.toml").write_text(schema, encoding="utf-8")
    main(["check", "our shop/my sales.csv"])
    command = printed_command(capsys.readouterr().out)
    assert command[:2] == ["valuation", "mend"]
    if elsewhere:
        command[command.index("--out") + 1] = "mended.csv"
    assert main([*command[1:], "--yes"]) == exits.DONE
    command = printed_command(capsys.readouterr().out)
    assert command[:2] == ["valuation", "check"]
    assert ("--schema" in command) is elsewhere
    assert main(command[1:]) == exits.FAULTS_FOUND
    assert "zebra" not in capsys.readouterr().out, "the same schema is used"


def printed_command(text: str) -> list[str]:
    """The last command in a text, as a shell would split it."""
    at = text.rindex("valuation ")
    return shlex.split(text[at:].partition("\n\n")[0].replace("\\\n", " ").partition("\n")[0])


def test_a_table_of_its_own_columns_is_sent_to_a_schema_drafted_from_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path)
    file = table(tmp_path, 0)
    file.write_text(file.read_text(encoding="utf-8").replace("condition", "Shape it is in"), encoding="utf-8")
    assert main(["check", "sales.csv"]) == exits.FAULTS_FOUND
    text = capsys.readouterr().out
    assert "valuation start sales-shop --from sales.csv" in text
    assert text.index("start sales-shop") < text.index("the table has no column 'condition'")
    assert "Is it 'Shape it is in'?" in text
    file.write_text(file.read_text(encoding="utf-8").replace("price", "What it made"), encoding="utf-8")
    assert main(["check", "sales.csv"]) == exits.REFUSED
    error = capsys.readouterr().err
    assert "no price column" in error
    assert "Or have a schema drafted from the table: valuation start sales-shop --from sales.csv" in error
    (tmp_path / "schema.toml").write_text(VINTAGE_FILE.read_text().replace('"derelict"', '"wreck"'), encoding="utf-8")
    assert main(["check", "sales.csv"]) == exits.REFUSED
    assert "valuation start" not in capsys.readouterr().err, "the owner has a schema of his own"


def test_a_file_that_is_no_table_is_not_sent_to_a_draft(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sales.csv").write_text("")
    assert main(["check", str(tmp_path / "sales.csv")]) == exits.REFUSED
    assert "valuation start" not in capsys.readouterr().err


def test_a_long_command_is_broken_where_a_shell_joins_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    words = ["valuation", "mend", "a table with a long name.csv", "--out", "another with a long name.csv"]
    text = with_command("Mend:", words)
    assert shlex.split(text.partition("\n")[2].replace("\\\n", "")) == words
    assert with_command("Mend:", words[:2]) == "Mend:  valuation mend"


def test_causes_that_do_not_fit_are_counted() -> None:
    assert fitting(["a", "b", "c"], 3) == ["a", "b", "c"]
    assert fitting(["a", "b", "c"], 2) == ["a", "      and 2 more causes with --all"]
    assert fitting(["a", "b"], 1) == ["a", "      and 1 more cause with --all"]
