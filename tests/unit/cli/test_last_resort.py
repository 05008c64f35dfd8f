"""What no loader can know of: a full disk behind the output, and arguments that are numbers beyond measure."""

import subprocess
import sys
from pathlib import Path

import pytest

from valuation.cli import main


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full device")
def test_output_to_a_full_device_is_one_honest_line(shop):
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "valuation", "check", str(shop / "comparables.csv")],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 3
    assert "Traceback" not in done.stderr
    *_, last = done.stderr.strip().splitlines()  # before it may stand what was being read
    assert last == "valuation: stopped: No space left on device. Make room or choose another place."


@pytest.mark.parametrize(
    "words",
    [
        ["offer", "log.json", "9" * 400],
        ["offer", "log.json", "1e400"],
        ["paths", "plan.toml", "--price", "lots"],
        ["field", "plan.toml", "--years", "1948-1956", "--as-of", "9999-12-31"],
        ["estimate", "vehicle.toml", "--as-of", "0001-01-01"],
        ["estimate", "vehicle.toml", "--coverage", "nan"],
    ],
)
def test_numbers_beyond_measure_are_invalid_arguments(words, capsys):
    with pytest.raises(SystemExit) as stop:
        main(words)
    assert stop.value.code == 2
    assert "error: argument" in capsys.readouterr().err


@pytest.mark.parametrize("years", ["1948-99999999999999999999", "0001-0003", "9998-9999", "1948-1950.5", "x"])
def test_years_beyond_measure_are_refused(years, shop, model_file, capsys):
    words = ["field", str(shop / "plan.toml"), "--years", years, "--model", str(model_file)]
    assert main(words) == 3
    assert "Cannot read the model years" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[" * 5000, "damaged, since it"),
        ('{"a": NaN}', "holds NaN, which is not a number"),
        ('{"format": ' + "[" * 90 + "]" * 90 + "}", "nests lists or tables"),
    ],
)
def test_a_model_file_of_another_hand_is_refused(text, words, tmp_path, shop, capsys):
    file = tmp_path / "model.json"
    file.write_text(text)
    assert main(["estimate", str(shop / "vehicle.toml"), "--model", str(file)]) == 3
    assert words in capsys.readouterr().err


def test_a_plan_with_past_jobs_of_text_is_refused(tmp_path, shop, model_file, capsys):
    file = tmp_path / "plan.toml"
    file.write_text((shop / "plan.toml").read_text() + '[overrun]\npast_jobs = [["much", "more"]]\n')
    assert main(["paths", str(file), "--model", str(model_file)]) == 3
    assert "past_jobs is [['much', 'more']]. Write past_jobs = [[planned, actual]" in capsys.readouterr().err


def test_a_vehicle_of_nan_is_refused(tmp_path, model_file, capsys):
    file = tmp_path / "vehicle.toml"
    file.write_text('name = "v"\nmodel_year = nan\nfamily = "Garrow Wren"\n')
    assert main(["estimate", str(file), "--model", str(model_file)]) == 3
    assert "model_year is NaN, which is not a number" in capsys.readouterr().err
