"""Saved models: the same to the bit when loaded; everything else is refused by name."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from valuation.comparables import from_frame
from valuation.errors import ModelFileError
from valuation.regression import PriceModel, load_model, save_model, saved
from valuation.regression.saved import model_text
from valuation.schema import default_schema, parse_vehicle

ROOT = Path(__file__).parents[3]
SCHEMA = default_schema()
SUBJECT = parse_vehicle({"family": "Wren", "model_year": 1951, "condition": "driver", "paint": "fresh"}, SCHEMA, "Wren")


@pytest.fixture(scope="module")
def model() -> PriceModel:
    import pandas as pd

    rng = np.random.default_rng(3)
    n = 36
    grade = rng.integers(0, 5, n)
    table = pd.DataFrame(
        {
            "sale": [f"S{i}" for i in range(n)],
            "date": [f"20{20 + i % 5}-03-{1 + i % 28:02d}" for i in range(n)],
            "price": np.round(np.exp(9 + 0.4 * grade + rng.normal(0, 0.2, n))),
            "outcome": ["asking" if i == 5 else "sold" for i in range(n)],
            "family": ["Wren" if i % 2 else "Heron" for i in range(n)],
            "model_year": [1945 + i % 14 for i in range(n)],
            "condition": [SCHEMA.attribute("condition").level_names[g] for g in grade],
            "paint": [SCHEMA.attribute("paint").level_names[min(4, g + i % 2)] for i, g in enumerate(grade)],
        }
    )
    return PriceModel.fit(from_frame(table, SCHEMA, name="shop.csv"))


@pytest.fixture
def file(model: PriceModel, tmp_path: Path) -> Path:
    return save_model(model, tmp_path / "model.json")


def test_loaded_model_gives_the_same_estimate_to_the_bit(model: PriceModel, file: Path) -> None:
    loaded = load_model(file)
    told, read = (replace(one.value(SUBJECT), distribution=None) for one in (model, loaded))
    assert told == read
    before, after = model.distribution([SUBJECT, SUBJECT]), loaded.distribution([SUBJECT, SUBJECT])
    assert np.array_equal(before.quantile(0.137), after.quantile(0.137))
    assert model_text(loaded) == file.read_text(encoding="utf-8")


def test_a_model_file_holds_no_sale_and_no_pickle(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert "S17" not in text
    document = json.loads(text)
    assert document["table"]["fingerprint"]
    assert {"numpy", "valuation"} <= set(document["versions"])


def test_the_card_says_what_it_rests_on(file: Path) -> None:
    card = file.with_suffix(".md").read_text(encoding="utf-8")
    assert "35 sold, 0 bids that were not met, 1 asking price;" in card
    assert "not a licensed appraisal" in card
    assert "each priced as if it had not been in the table" in card


def changed(file: Path, **changes: Any) -> Path:
    document = json.loads(file.read_text(encoding="utf-8"))
    document.update(changes)
    file.write_text(json.dumps(document), encoding="utf-8")
    return file


def test_a_newer_file_is_refused_by_its_version(file: Path) -> None:
    with pytest.raises(
        ModelFileError, match=r"model\.json: it was written in format version 99, this program reads up"
    ):
        load_model(changed(file, format_version=99))


def test_a_file_from_before_the_first_release_is_refused_by_name(file):
    with pytest.raises(
        ModelFileError, match=r"format version 1, before the first release; this program reads version 3"
    ):
        load_model(changed(file, format_version=1))


def test_a_changed_file_is_refused(file: Path) -> None:
    with pytest.raises(ModelFileError, match="does not match its seal"):
        load_model(changed(file, currency="EUR"))


def test_a_foreign_file_is_refused(tmp_path: Path) -> None:
    for name, text in (("other.json", '{"format": "something else"}'), ("list.json", "[1, 2]")):
        (tmp_path / name).write_text(text, encoding="utf-8")
        with pytest.raises(ModelFileError, match=rf"Cannot use {name} as a model: found format"):
            load_model(tmp_path / name)


def test_a_cut_off_file_is_refused(file: Path) -> None:
    file.write_text(file.read_text(encoding="utf-8")[:5000], encoding="utf-8")
    with pytest.raises(ModelFileError, match=r"Cannot use the model model\.json: it is damaged"):
        load_model(file)


@pytest.mark.parametrize("version", [0, "1", None])
def test_a_file_without_a_sound_version_is_refused(file: Path, version: Any) -> None:
    with pytest.raises(ModelFileError, match="format version"):
        load_model(changed(file, format_version=version))


def test_a_missing_or_binary_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ModelFileError, match=r"Cannot read the model none\.json: No such file"):
        load_model(tmp_path / "none.json")
    (tmp_path / "binary.json").write_bytes(b"\xff\xfe\x00\x80")
    with pytest.raises(ModelFileError, match="it is not UTF-8 text"):
        load_model(tmp_path / "binary.json")


def test_an_existing_file_may_be_kept(model: PriceModel, file: Path) -> None:
    with pytest.raises(ModelFileError, match="exists already"):
        save_model(model, file, overwrite=False)


def test_a_folder_that_cannot_be_written_is_named(model: PriceModel, tmp_path: Path) -> None:
    with pytest.raises(ModelFileError, match="Cannot save the model"):
        save_model(model, tmp_path / "no" / "such" / "folder" / "model.json")


def without_a_family(core: dict[str, Any]) -> None:
    core["term_variance"].pop("family")


def a_coefficient_short(core: dict[str, Any]) -> None:
    core["coefficients"].pop()


def no_slope(core: dict[str, Any]) -> None:
    core["heteroscedasticity"]["slope"] = None


def blocks_of_text(core: dict[str, Any]) -> None:
    core["blocks"] = [[attribute, kind, str(start), str(stop)] for attribute, kind, start, stop in core["blocks"]]


def a_variance_short(core: dict[str, Any]) -> None:
    core["block_variance"].pop()


def an_endless_centre(core: dict[str, Any]) -> None:
    core["centre"] = 1e6


@pytest.mark.parametrize(
    "spoil", [without_a_family, a_coefficient_short, no_slope, blocks_of_text, a_variance_short, an_endless_centre]
)
def test_a_file_of_well_formed_parts_that_fits_no_vehicle_is_refused(file: Path, spoil: Any) -> None:
    document = json.loads(file.read_text(encoding="utf-8"))
    spoil(document["core"])
    document.pop("seal")
    file.write_text(json.dumps({**document, "seal": saved._seal(document)}), encoding="utf-8")
    with pytest.raises(ModelFileError, match=r"Cannot use the model model\.json: .* Save it again from its table\."):
        load_model(file)
