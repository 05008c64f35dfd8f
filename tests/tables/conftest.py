"""The scripts beside the tables are imported by their own names, as ``python tests/tables/make_tables.py`` does."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
