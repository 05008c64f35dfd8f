"""What the comparables room exports."""

import subprocess
import sys

import valuation.comparables


def test_every_exported_name_is_there():
    assert all(hasattr(valuation.comparables, name) for name in valuation.comparables.__all__)


def test_loading_it_brings_no_reader_of_workbooks():
    code = (
        "import sys, valuation.comparables; "
        "print(sorted({'openpyxl', 'odf', 'pyarrow', 'xlsxwriter', 'scipy', 'sklearn'} & set(sys.modules)))"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set(answer.stdout.strip("[]\n").replace("'", "").split(", ")) <= {"", "pyarrow"}  # pandas may load pyarrow
