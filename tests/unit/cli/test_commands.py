"""Every command on a small shop: what it prints, its JSON and its exit code."""

import json
import math
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from valuation.cli import exits, main
from valuation.cli.parser import COMMANDS, build_parser

ROOT = Path(__file__).parents[3]
AS_OF = ["--as-of", "2025-12-31"]


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    """JSON that a command prints."""
    capsys.readouterr()
    code = main([*words, "--json"])
    assert code in (exits.DONE, exits.FAULTS_FOUND)
    return json.loads(capsys.readouterr().out)


def test_help_lists_every_command() -> None:
    text = build_parser().format_help()
    assert all(re.search(rf"^    {name}\b", text, flags=re.MULTILINE) for name in COMMANDS)


def test_readme_lists_every_command_and_exit_code() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f"`valuation {name}" not in readme] == []
    codes = [value for name, value in vars(exits).items() if name.isupper()]
    assert [code for code in codes if f"| {code} |" not in readme] == []


def test_check_names_row_value_and_mend(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "check", str(shop / "comparables.csv"))
    assert (found["rows"], found["usable"]) == (45, 44)
    [fault] = [f for f in found["faults"] if f["sets_aside"]]
    assert (fault["row"], fault["column"], fault["value"]) == (46, "condition", "drvier")
    assert "driver" in fault["mend"]
    assert main(["check", str(shop / "comparables.csv"), "--all"]) == exits.FAULTS_FOUND
    assert "row 46, condition 'drvier'" in capsys.readouterr().out


def test_check_of_a_sound_table_is_done(shop: Path, tmp_path: Path) -> None:
    lines = (shop / "comparables.csv").read_text(encoding="utf-8").splitlines()[:-1]
    sound = tmp_path / "sound.csv"
    sound.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert main(["check", str(sound), "--json"]) == exits.DONE


def test_estimate_json_keeps_its_promises(shop: Path, model_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table, vehicle = str(shop / "comparables.csv"), str(shop / "vehicle.toml")
    found = answer(capsys, "estimate", vehicle, "--comparables", table, *AS_OF)
    assert {
        "as_of",
        "currency",
        "median",
        "mean",
        "interval",
        "mean_interval",
        "factors",
        "base",
        "grid",
        "notes",
    } <= set(found)
    product = found["base"] * math.prod(factor["factor"] for factor in found["factors"])
    assert product == pytest.approx(found["median"], rel=1e-12)
    assert found["interval"]["low"] < found["median"] < found["interval"]["high"]
    assert found["sales_used"] == {"sold": 42, "bid_not_met": 1, "asking": 1, "set_aside": 1}
    for row in found["grid"]:
        cents = round(100 * row["price"]) + sum(round(100 * line["amount"]) for line in row["lines"])
        assert cents == round(100 * row["adjusted_price"])
    loaded = answer(capsys, "estimate", vehicle, "--model", str(model_file), *AS_OF)
    assert loaded["median"] == found["median"]
    assert loaded["grid"] == []
    assert "--comparables" in " ".join(note["text"] for note in loaded["notes"]) or any(
        "table" in note["text"] for note in loaded["notes"]
    )


def test_estimate_finds_the_table_beside_the_vehicle(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["estimate", str(shop / "vehicle.toml"), *AS_OF]) == exits.DONE
    out, err = capsys.readouterr()
    assert out.startswith("Wren of 1952: about 30,100 on 31 December 2025. 8 in 10 such sales end between")
    assert "estimating from" in err


def test_a_vehicle_is_told_in_words_as_in_a_file(
    shop: Path, model_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = ["--model", str(model_file), *AS_OF]
    words = ["family=garrow wren", "Model year=1952", "condition=driver", "paint=fresh"]
    of_file, of_words = (answer(capsys, "estimate", *told, *model) for told in ([str(shop / "vehicle.toml")], words))
    assert of_words["median"] == of_file["median"]
    assert of_words["vehicle"]["attributes"] == of_file["vehicle"]["attributes"]
    for command in ("explain", "paths", "bands"):
        of_file, of_words = (answer(capsys, command, *told, *model) for told in ([str(shop / "vehicle.toml")], words))
        assert of_words.keys() == of_file.keys()
        assert of_words.get("floor") == of_file.get("floor")
        assert of_words.get("median") == of_file.get("median")


def test_words_change_the_vehicle_of_a_file_and_that_is_said(
    shop: Path, model_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = ["--model", str(model_file), *AS_OF]
    told = [str(shop / "vehicle.toml"), "condition=show"]
    found = answer(capsys, "estimate", *told, *model)
    assert found["vehicle"]["name"] == "Wren of 1952"
    assert found["vehicle"]["attributes"]["condition"] == "show"
    assert found["vehicle"]["attributes"]["paint"] == "fresh"
    assert main(["estimate", *told, *model]) == exits.DONE
    assert "vehicle.toml with condition as told here" in capsys.readouterr().err


def test_what_is_not_told_is_named_once(model_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["estimate", "year=1952", "condition=driver", "--model", str(model_file), *AS_OF]) == exits.DONE
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert text.count("Not told, so counted: make and model line and paint as is usual in the table.") == 1
    assert "not given" not in text


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["famly=Garrow Wren"], "Did you mean 'family'?"),
        (["condition=drvier"], "'driver'"),
        (["family=Garow Wren"], "Did you mean 'Garrow Wren'?"),
        (["vehicle.toml", "plan.toml"], "a vehicle is one file, or words such as condition=driver"),
    ],
)
def test_misspelt_words_are_asked_about(
    words: list[str], text: str, shop: Path, model_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.chdir(shop)
    assert main(["estimate", *words, "--model", str(model_file)]) == exits.REFUSED
    assert text in capsys.readouterr().err


def test_a_new_word_is_taken_as_written_when_that_is_said(model_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["estimate", "family=Garow Wren", "--as-written", "--model", str(model_file), *AS_OF]
    found = answer(capsys, *words)
    assert found["vehicle"]["attributes"]["family"] == "Garow Wren"


@pytest.fixture(scope="module")
def with_premiums(shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop's table with a tenth added to every price by its venue."""
    folder = tmp_path_factory.mktemp("premiums")
    head, *rows = (shop / "comparables.csv").read_text(encoding="utf-8").splitlines()[:-1]
    lines = [f"{head},premium", *(f"{row},10 %" for row in rows)]
    (folder / "comparables.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder / "comparables.csv"


@pytest.mark.parametrize(
    "words",
    [
        ["estimate", "{vehicle}", "--comparables", "{table}", *AS_OF],
        ["estimate", "{vehicle}", "--comparables", "{table}", *AS_OF, "--all"],
        ["explain", "{vehicle}", "--comparables", "{table}", *AS_OF],
        ["backtest", "{table}"],
    ],
    ids=lambda words: " ".join(word for word in words if "{" not in word),
)
def test_a_sale_is_shown_at_its_price_as_written_with_the_premium_added(
    words: list[str],
    shop: Path,
    with_premiums: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("COLUMNS", "100")  # where no cell of a table is broken
    prices = {row.split(",")[0]: int(row.split(",")[2]) for row in with_premiums.read_text("utf-8").splitlines()[1:]}
    assert main([word.format(vehicle=shop / "vehicle.toml", table=with_premiums) for word in words]) == exits.DONE
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    shown = re.findall(r"([\d,]+) and 10 % premium: ([\d,.]+\d)", text)
    assert shown
    for written, paid in shown:
        price = int(written.replace(",", ""))
        assert price in prices.values()
        assert float(paid.replace(",", "")) == pytest.approx(1.1 * price, abs=0.01)


def test_coverage_widens_the_interval(shop: Path, model_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["estimate", str(shop / "vehicle.toml"), "--model", str(model_file), *AS_OF]
    narrow, wide = (answer(capsys, *words, "--coverage", c)["interval"] for c in ("0.5", "0.9"))
    assert wide["low"] < narrow["low"] < narrow["high"] < wide["high"]


def test_explain_gives_effects_influence_and_gaps(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    words = ["explain", str(shop / "vehicle.toml"), "--comparables", str(shop / "comparables.csv"), *AS_OF]
    found = answer(capsys, *words)
    assert {"effects", "influence", "trend", "gaps"} <= set(found)
    assert main(words) == exits.DONE
    assert "One more sale of a vehicle like this one would" in re.sub(r"\s+", " ", capsys.readouterr().out)
    assert main([*words, "--all"]) == exits.DONE
    out = capsys.readouterr().out
    assert "The sales that move it most" in out
    assert "Prices over time" in out


def test_backtest_counts_sales_inside(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["backtest", str(shop / "comparables.csv")]) == exits.DONE
    assert re.search(r"priced\s+as\s+if\s+unseen", capsys.readouterr().out)


def test_paths_steps_field_and_bands(shop: Path, model_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan, model = str(shop / "plan.toml"), ["--model", str(model_file), *AS_OF]
    found = answer(capsys, "paths", plan, *model)
    assert {"paths", "best", "goal"} <= set(found)
    assert [path["name"] for path in found["paths"]] == ["driver build", "sell as found"]
    assert {"outlay", "sale_price", "expected_profit", "odds_of_loss", "most_to_pay", "notes"} <= set(found["paths"][0])
    steps = answer(capsys, "steps", plan, *model)
    assert [step["id"] for step in steps["steps"]] == ["mechanics"]
    assert {"adds", "costs", "net", "odds_it_pays"} <= set(steps["steps"][0])
    assert answer(capsys, "field", plan, "--years", "1950-1952", *model)["years"] == [1950, 1951, 1952]
    for subject in ("plan.toml", "vehicle.toml"):
        bands = answer(capsys, "bands", str(shop / subject), *model)
        assert bands["floor"] < bands["target"] < bands["ask"]
        assert {"break_even", "expected_weeks", "buy_at_or_below", "walk_away_above"} <= set(bands)


@pytest.mark.parametrize("command", ["paths", "steps", "bands", "field"])
def test_deal_commands_print_for_people(
    command: str, shop: Path, model_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    extra = ["--years", "1950-1951"] if command == "field" else []
    assert main([command, str(shop / "plan.toml"), "--model", str(model_file), *AS_OF, *extra]) == exits.DONE
    assert re.search(r"no\s+more\s+than|floor|adds", capsys.readouterr().out, flags=re.IGNORECASE)


def test_offers_are_answered_and_logged(
    shop: Path, model_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "talks.json"
    words = ["--model", str(model_file), *AS_OF]
    first = ["offer", str(log), "20000", "--plan", str(shop / "vehicle.toml"), "--asked", "45000", *words]
    found = answer(capsys, *first)
    assert {"answer", "counter", "why", "profit", "odds_of_better"} <= set(found)
    assert main(["offer", str(log), "22000", "--dry-run", *words]) == exits.DONE
    kept = json.loads(log.read_text(encoding="utf-8"))
    assert [offer["amount"] for offer in kept["offers"]] == [20000]


def test_offer_needs_to_know_what_is_sold(model_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = main(["offer", str(tmp_path / "new.json"), "100", "--model", str(model_file)])
    assert code == exits.REFUSED
    assert "does not say what is sold" in capsys.readouterr().err


def test_start_writes_what_the_other_commands_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "new shop"
    assert main(["start", str(folder)]) == exits.DONE
    assert main(["check", str(folder / "comparables.csv")]) == exits.REFUSED  # headers alone are no sales yet
    assert main(["start", str(folder)]) == exits.REFUSED
    assert "already" in capsys.readouterr().err


def test_too_few_sales_say_how_many(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = (shop / "comparables.csv").read_text(encoding="utf-8").splitlines()[:12]
    (tmp_path / "few.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    code = main(["fit", str(tmp_path / "few.csv"), "--out", str(tmp_path / "m.json")])
    assert code == exits.REFUSED
    error = capsys.readouterr().err
    assert "comparables.too_few" in error
    assert "at least 12 are needed" in error


@pytest.mark.parametrize(
    ("words", "code", "text"),
    [
        (["estimate", "year=1951", "--model", "none.json"], exits.REFUSED, "model.refused"),
        (["estimate", "none.toml"], exits.REFUSED, "Tell the vehicle in words instead, such as year=1951"),
        (["check", "none.csv"], exits.REFUSED, "comparables.unreadable"),
        (["paths", "year=1951"], exits.REFUSED, "no table was named"),
        (["paths", "none.toml"], exits.REFUSED, "'valuation start FOLDER' writes a plan to fill in"),
        (["bands", "a.toml", "b=c"], exits.REFUSED, "Cannot read the vehicle 'a.toml'"),
    ],
)
def test_refusals_have_words_and_no_traceback(
    words: list[str],
    code: int,
    text: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == code
    error = capsys.readouterr().err
    assert text in error
    assert "Traceback" not in error


def test_invalid_arguments_exit_with_usage(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["estimate"])
    assert stop.value.code == exits.USAGE
    assert "VEHICLE|ATTRIBUTE=VALUE" in capsys.readouterr().err


def test_batch_writes_one_row_each(
    shop: Path, model_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "fleet.csv"
    table.write_text(
        "family,model_year,condition\nGarrow Wren,1950,driver\nGarrow Wren,1950,sparkling\n", encoding="utf-8"
    )
    target = tmp_path / "valued.csv"
    assert main(["batch", str(table), "--model", str(model_file), "--out", str(target), *AS_OF]) == exits.DONE
    said = capsys.readouterr().out
    told = re.sub(r"\s+", "", said)  # a long path is broken anywhere
    whole = f"Valued 1 vehicle of {table} as of 31 December 2025: {target}. 1 row could not be valued; "
    assert told.startswith(re.sub(r"\s+", "", whole))
    rows = target.read_text(encoding="utf-8").splitlines()
    assert len(rows) == 3
    assert "sparkling" in rows[2]
    assert ",,," in rows[2]


def test_batch_of_a_folder_writes_a_file_for_each_and_names_what_it_could_not_read(
    shop: Path, model_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fleet, out = tmp_path / "fleet", tmp_path / "out"
    fleet.mkdir()
    for name, grade in (("north.csv", "driver"), ("south.csv", "sparkling")):
        (fleet / name).write_text(f"family,condition\nGarrow Wren,{grade}\n", encoding="utf-8")
    (fleet / "notes.txt").write_text("not a table", encoding="utf-8")
    words = ["batch", str(fleet), "--model", str(model_file), "--out", str(out), *AS_OF]
    assert main(words) == exits.DONE
    assert re.sub(r"\s+", " ", capsys.readouterr().out).startswith(
        f"Valued the vehicles of 2 files as of 31 December 2025, 1 in all: {out}. 1 row could not be valued; the "
        "column 'remark' says why. Passed over, being neither CSV nor Parquet: notes.txt. "
    )
    (fleet / "worn.parquet").write_bytes(b"not one")
    assert main(words) == exits.REFUSED
    said = capsys.readouterr()
    assert "valuation: Cannot read the vehicles in worn.parquet" in said.err
    assert "1 file could not be valued, named above" in re.sub(r"\s+", " ", said.out)
    assert main([*words, "--json"]) == exits.REFUSED
    found = json.loads(capsys.readouterr().out)
    assert [one["rows"] for one in found["files"]] == [1, 1, 0]
    assert (found["rows"], found["refused"], found["problems"]) == (2, 1, 1)


@pytest.mark.slow
def test_batch_on_this_computers_cores_writes_the_same_bytes(shop: Path, model_file: Path, tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    table = tmp_path / "fleet.csv"
    rows = (f"Garrow Wren,{1946 + i % 12},driver\n" for i in range(300))
    table.write_text("family,model_year,condition\n" + "".join(rows), encoding="utf-8")
    words = [
        sys.executable,
        "-m",
        "valuation",
        "batch",
        str(table),
        "--model",
        str(model_file),
        "--chunk",
        "40",
        *AS_OF,
    ]
    for name, more in (("alone.csv", []), ("many.csv", ["--cluster", "local"])):
        ran = subprocess.run(
            [*words, "--out", str(tmp_path / name), *more], capture_output=True, text=True, timeout=120
        )
        said = [line for line in ran.stderr.splitlines() if not line.startswith("Valuing")]
        assert (ran.returncode, said) == (0, [])
    assert (tmp_path / "many.csv").read_bytes() == (tmp_path / "alone.csv").read_bytes()


def test_an_outside_index_moves_old_sales(shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    index = tmp_path / "index.csv"
    index.write_text("".join(f"{2020 + i},{100 * 1.1**i:.2f}\n" for i in range(7)), encoding="utf-8")
    words = ["estimate", str(shop / "vehicle.toml"), *AS_OF]
    table = ["--comparables", str(shop / "comparables.csv")]
    plain = answer(capsys, *words, *table)
    moved = answer(capsys, *words, *table, "--index", str(index))
    assert moved["median"] > 1.1 * plain["median"]  # the table has no drift; the index rises a tenth a year
    assert "prices_moved" in [note["code"] for note in moved["notes"]]
    assert main([*words, "--model", "any.json", "--index", str(index)]) == exits.REFUSED
