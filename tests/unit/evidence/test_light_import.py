"""Importing the evidence modules must stay cheap: heavy libraries load with the first call that needs them."""

import subprocess
import sys

HEAVY = ("statsmodels", "sklearn", "scipy.stats", "scipy.optimize", "scipy.special", "matplotlib", "sqlalchemy")
MODULES = (
    "calibration",
    "collinearity",
    "humps",
    "intervals",
    "price_index",
    "ratio_study",
    "scores",
)


def test_no_heavy_library_is_loaded():
    imports = "; ".join(f"import valuation.evidence.{module}" for module in MODULES)
    code = f"import sys; {imports}; print([name for name in {HEAVY!r} if name in sys.modules])"
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
