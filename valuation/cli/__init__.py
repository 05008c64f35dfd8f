"""The command line: one command a question. Faces only translate; the answers come from the rooms below."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and answer its exit code (see ``valuation.cli.exits``)."""
    from valuation.cli.run import run

    return run(argv)
