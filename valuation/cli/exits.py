"""Exit codes of every command; README lists the same."""

from __future__ import annotations

DONE = 0
"""The question was answered."""

FAULTS_FOUND = 1
"""``valuation check`` found rows that are set aside."""

USAGE = 2
"""Invalid arguments; the usage is printed."""

REFUSED = 3
"""The input was refused; the message says why and what to do."""

STOPPED = 130
"""Stopped from the keyboard."""
