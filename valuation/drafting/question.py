"""A question about a table: what it leaves open and its owner knows. Plain data, which loads nothing slow."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """One possible answer: what it is kept as, and how it is said."""

    value: str
    text: str


@dataclass(frozen=True, slots=True)
class Question:
    """What the table leaves open and its owner knows.

    Parameters
    ----------
    key : str
        What it is about, such as ``day_first`` or ``level/condition/mint``; the answer is told under it.
    text : str
        The question in one sentence.
    choices : tuple of Choice
        Possible answers; empty where a number is asked for.
    suggestion : str
        The value of the answer that the table makes likeliest; empty when it shows none.
    rows : int
        Rows that wait for it, or rest on it.
    """

    key: str
    text: str
    choices: tuple[Choice, ...]
    suggestion: str
    rows: int

    @property
    def is_in_force(self) -> bool:
        """Whether the suggested answer holds until the owner says otherwise."""
        return self.key.partition("/")[0] in ("day_first", "default_outcome", "column")
