"""``python -m valuation`` is the command line."""

import sys

from valuation.cli import main

if __name__ == "__main__":
    sys.exit(main())
