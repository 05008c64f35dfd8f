"""Measuring: processor time of a call or of a new process, and the machine that it was measured on."""

from __future__ import annotations

import datetime
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from importlib.metadata import version
from pathlib import Path

import numpy as np


def cpu_seconds(work: Callable[[], object], repeats: int) -> float:
    """Least processor seconds of several runs: what the work costs when nothing else disturbs the caches."""
    best = np.inf
    for _ in range(repeats):
        began = time.process_time()
        work()
        best = min(best, time.process_time() - began)
    return float(best)


def cpu_seconds_each(work: Callable[[], object], times: int, repeats: int = 5) -> float:
    """Processor seconds of one call, from the least of several rounds of ``times`` calls."""

    def round_of_calls() -> None:
        for _ in range(times):
            work()

    return cpu_seconds(round_of_calls, repeats) / times


def process_seconds(
    commands: Mapping[str, Sequence[str]], repeats: int, folder: str | None = None
) -> dict[str, list[float]]:
    """Processor seconds of new processes, the commands taken in turn so that all meet the machine alike."""
    found: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(repeats):
        for name, command in commands.items():
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(command, check=True, capture_output=True, cwd=folder)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            found[name].append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    return found


def peak_megabytes() -> float:
    """Largest resident memory of this process since it was started, in MiB.

    Linux alone: ``ru_maxrss`` would count what the parent held when it started this process.
    """
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    raise OSError("this system does not say how much memory a process has held at most")


def stamp(libraries: Sequence[str]) -> str:
    """Date, versions and machine size, for the head of a results file."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    versions = ", ".join(f"{name} {version(name)}" for name in libraries)
    return (
        f"{datetime.date.today().isoformat()}. Python {platform.python_version()}, {versions}. "
        f"{os.cpu_count()} processor cores, {memory:.0f} GiB of memory; one thread."
    )


def python(code: str) -> list[str]:
    """The command that runs a piece of code in a new interpreter."""
    return [sys.executable, "-c", code]
