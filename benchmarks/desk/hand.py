"""An owner's hand on a page: every tap and key is counted as it is made in a real browser."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

POINT, PRESS, KEY, THINK = 1.1, 0.2, 0.28, 1.35
"""Seconds to reach a target, to press it, to type a character as an average typist, and to decide: the keystroke-level
model of Card, Moran and Newell (1980), The keystroke-level model for user performance time with interactive systems,
Communications of the ACM 23(7), 396-410."""


@dataclass
class Hand:
    """Taps and keys so far.

    Attributes
    ----------
    page : playwright page
    taps, keys, thoughts : int
        Targets that were tapped, characters that were typed, and decisions that came before a tap.
    """

    page: Any
    taps: int = 0
    keys: int = 0
    thoughts: int = 0

    @property
    def seconds(self) -> float:
        """What the hand takes by the model, without the desk's own time."""
        return self.taps * (POINT + PRESS) + self.keys * KEY + self.thoughts * THINK

    def tap(self, target: Any, *, think: bool = False) -> None:
        """One tap; ``think`` where something is decided before it."""
        self.taps += 1
        self.thoughts += think
        target.click()

    def choose(self, target: Any, option: str) -> None:
        """An entry of a list of the browser's own: a tap to open it, a decision, and a tap on the entry."""
        self.taps += 2
        self.thoughts += 1
        target.select_option(option)

    def type(self, target: Any, text: str) -> None:
        """A tap into a field, a decision, and the characters."""
        self.taps += 1
        self.thoughts += 1
        self.keys += len(text)
        target.fill(text)

    def bring(self, target: Any, file: Path) -> None:
        """A file from the computer: a tap to open the list of files, a decision, a tap on the file."""
        self.taps += 2
        self.thoughts += 1
        target.set_input_files(file)
