"""Measure speed and write the results anew.

OMP_NUM_THREADS=1 python -m benchmarks.speed.run
OMP_NUM_THREADS=1 python -m benchmarks.speed.run --only fit batch
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from benchmarks.speed.figures import keep

PARTS = {
    "leave_one_out": "Leave-one-out in closed form",
    "fit": "Fit with penalties chosen",
    "estimate": "One estimate",
    "batch": "A million vehicles",
    "start_up": "Start-up",
    "deal": "The deal",
}


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure the parts asked for, print each figure and keep it."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.speed.run", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--only", nargs="*", choices=list(PARTS), default=list(PARTS), metavar="PART")
    parser.add_argument("--dry-run", action="store_true", help="print the figures and write no file")
    options = parser.parse_args(arguments)
    if os.environ.get("OMP_NUM_THREADS") != "1":
        raise SystemExit("Set OMP_NUM_THREADS=1: figures are processor seconds of one thread.")
    for part in options.only:
        figures = import_module(f"benchmarks.speed.{part}").measure()
        for figure in figures:
            line = f"{PARTS[part]}: {figure.what}: {figure.value:.4g} {figure.unit} {figure.aim} {figure.met}"
            sys.stdout.write(line.rstrip() + "\n")
            sys.stdout.flush()
        if not options.dry_run:
            keep(PARTS[part], figures)


if __name__ == "__main__":
    main()
