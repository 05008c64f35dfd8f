"""What the schema room exports, and what loading it costs."""

import subprocess
import sys

import valuation.schema


def test_every_exported_name_is_there():
    assert all(hasattr(valuation.schema, name) for name in valuation.schema.__all__)
    assert valuation.schema.__all__ == sorted(
        valuation.schema.__all__, key=lambda n: (not n.isupper(), not n[0].isupper(), n)
    )


def test_loading_it_and_reading_the_default_schema_needs_no_pandas():
    code = (
        "import sys, valuation.schema as s; s.default_schema().fingerprint(); "
        "print(sorted({'pandas', 'numpy', 'scipy'} & set(sys.modules)))"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
