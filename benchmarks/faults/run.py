"""``python -m benchmarks.faults.run``: every part in turn, written to ``benchmarks/results/faults.md``.

``--only NAME...`` runs some of them and leaves what the results say of the others as it stands.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import time
from importlib.util import find_spec
from pathlib import Path

from benchmarks.measure import stamp

PARTS = {
    "ledger": "Killed, full, locked and shared ledgers",
    "load": "Many clients at once",
    "memory": "Memory over many estimates",
    "uploads": "Large uploads and bombs",
    "slow": "Slow clients",
    "requests": "Made-up requests",
    "fuzz": "Mutated files",
}
"""Each part is the module of its name: a command that prints its table and ends with 0 when all of it held."""

RESULTS = Path(__file__).parents[1] / "results" / "faults.md"
LIBRARIES = ("numpy", "pandas", "scipy", "fastapi", "uvicorn", "sqlalchemy", "schemathesis")


def main() -> int:
    """Run the parts that are there; 1 where something did not hold."""
    words = argparse.ArgumentParser(description="Run every part of the faults benchmark.")
    words.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS), help="run these parts alone")
    only = words.parse_args().only
    told = sections(RESULTS.read_text(encoding="utf-8") if RESULTS.exists() else "")
    failed = []
    for name in only:
        if find_spec(f"benchmarks.faults.{name}") is None:
            told[name] = "This part is not there yet; nothing was measured."
            continue
        begun = time.monotonic()
        done = subprocess.run([sys.executable, "-m", f"benchmarks.faults.{name}"], stdout=subprocess.PIPE, text=True)
        minutes = (time.monotonic() - begun) / 60
        end = "" if done.returncode in (0, 1) else f"\n\nThe part broke off with exit status {done.returncode}."
        told[name] = f"{stamp(LIBRARIES)} {minutes:.1f} minutes.\n\n{done.stdout.strip()}{end}"
        failed += [name] if done.returncode else []
        RESULTS.write_text(page(told), encoding="utf-8")
        print(f"{name}: {'held' if done.returncode == 0 else 'did not hold'} ({minutes:.1f} minutes)", flush=True)
    return 1 if failed else 0


def page(told: dict[str, str]) -> str:
    """The results as one page."""
    parts = [f"## {title} (`{name}`)\n\n{told[name]}\n" for name, title in PARTS.items() if name in told]
    return "# Faults\n\nWhat is done and promised: [the folder's README](../faults/README.md).\n\n" + "\n".join(parts)


def sections(text: str) -> dict[str, str]:
    """What a page of results says of each part."""
    found = re.split(r"^## .+ \(`(\w+)`\)$", text, flags=re.MULTILINE)[1:]
    return {name: body.strip() for name, body in zip(found[::2], found[1::2], strict=True)}


if __name__ == "__main__":
    raise SystemExit(main())
