"""The public surface: every listed name is there, and nothing loads before it is asked for."""

import importlib
import subprocess
import sys

import pytest

import valuation


@pytest.mark.parametrize("package", ["valuation", "valuation.regression", "valuation.evidence"])
def test_listed_names_exist(package: str) -> None:
    module = importlib.import_module(package)
    assert sorted(module.__all__) == sorted(module._HOMES)
    for name in module.__all__:
        assert getattr(module, name) is not None


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
