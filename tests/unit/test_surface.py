"""The public surface: every listed name is there, and nothing loads before it is asked for."""

import ast
import importlib
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import valuation


@pytest.mark.parametrize("package", ["valuation", "valuation.regression", "valuation.evidence"])
def test_listed_names_exist(package: str) -> None:
    module = importlib.import_module(package)
    assert sorted(module.__all__) == sorted(module._HOMES)
    for name in module.__all__:
        assert getattr(module, name) is not None


PUBLIC = [
    "BackTest", "BuildPlan", "Comparables", "Draft", "Estimate", "Evidence", "Goal", "Locale", "Offer", "OfferLog",
    "PriceModel", "PriceRegressor", "Schema", "Valuation", "ValuationError", "Vehicle", "adjustment_grid", "backtest",
    "bands", "buyer_sheet", "chart", "check", "compare_paths", "consumer_price_index", "deal_sheet", "default_schema",
    "deflate", "draft", "draw", "estimate", "explain", "field", "field_card", "frame", "from_frame", "load_model",
    "mend", "offer", "parse_vehicle", "paths_workbook", "read_comparables", "read_offer_log", "read_plan",
    "read_price_index", "read_schema", "read_vehicle", "save_model", "steps", "value_file", "value_folder",
    "value_frame", "value_partitions", "workbook",
]  # fmt: skip


def test_the_public_names_are_these_and_stand_in_dir():
    assert sorted(valuation.__all__) == PUBLIC
    assert set(PUBLIC) <= set(dir(valuation))


def test_no_public_name_is_hidden_by_a_room_of_the_same_name():
    """Python puts a submodule over a function of the same name as soon as it is imported."""
    root = Path(valuation.__file__).parent
    rooms = {path.stem for path in root.iterdir() if path.suffix == ".py" or path.is_dir()}
    assert "paths" in rooms
    assert not rooms & set(PUBLIC)


@pytest.mark.parametrize("name", PUBLIC)
def test_a_public_name_has_its_own_docstring(name: str) -> None:
    found = getattr(valuation, name)
    assert inspect.getdoc(found)
    if inspect.isclass(found):
        assert found.__doc__


def test_what_types_are_told_is_what_is_loaded():
    """A type checker reads the imports, Python the table of homes: both name the same things."""
    tree = ast.parse(Path(valuation.__file__).read_text(encoding="utf-8"))
    [block] = [node for node in tree.body if isinstance(node, ast.If)]
    told = {
        alias.asname or alias.name: (node.module, alias.name)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    homes = {name: (home.partition(":")[0], home.partition(":")[2] or name) for name, home in valuation._HOMES.items()}
    assert told == homes


@pytest.mark.parametrize("package", ["valuation", "api"])
def test_both_packages_say_that_they_are_typed(package: str) -> None:
    [folder] = importlib.import_module(package).__path__
    assert (Path(folder) / "py.typed").is_file()


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'guess'"):
        valuation.guess  # noqa: B018


def test_a_saved_model_is_read_without_the_fitting_libraries() -> None:
    script = (
        "import sys, valuation.regression.saved, valuation.regression.model;"
        "heavy = {'sklearn', 'statsmodels', 'scipy.optimize', 'scipy.stats', 'scipy.linalg'} & set(sys.modules);"
        "sys.exit(' '.join(sorted(heavy)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.strip()) == (0, "")
