"""What a part of the faults benchmark found: promise, figure, and whether it held; printed as rows of one table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """One promise put to the test.

    Attributes
    ----------
    promise : str
        What must hold.
    figure : str
        What was measured, with how much was tried.
    held : bool
    """

    promise: str
    figure: str
    held: bool


def tell(findings: Sequence[Finding]) -> int:
    """Print the findings as a table in Markdown; exit status 1 where one did not hold."""
    print("| promise | measured | held |\n| --- | --- | --- |")
    for one in findings:
        print(f"| {one.promise} | {one.figure.replace('|', '/')} | {'yes' if one.held else '**no**'} |")
    return 0 if all(one.held for one in findings) else 1


def part(measure: Callable[[], Sequence[Finding]]) -> None:
    """Run one part as a command: its table on standard output, its exit status whether all held."""
    raise SystemExit(tell(measure()))
