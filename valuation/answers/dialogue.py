"""The talk about a table that was brought, as pages and programs are told it: plain data, which loads nothing slow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from valuation.answers.fault_cards import FaultCard
from valuation.drafting.question import Choice, Question
from valuation.notes import Note
from valuation.view import View, Viewed


@dataclass(frozen=True)
class AskedColumn:
    """One column, and what it is taken for.

    Attributes
    ----------
    header : str
    samples : tuple of str
        The first of its cells that say something.
    meaning : str
        Column of the sale, attribute, ``own`` or ``left out``.
    said : str
        That in words, with how sure it is and why.
    open : bool
        Whether it is worth a look.
    new : bool
        Whether the version before did not have it.
    """

    header: str
    samples: tuple[str, ...]
    meaning: str
    said: str
    open: bool
    new: bool


@dataclass(frozen=True)
class AskedWord:
    """One word of a scale.

    Attributes
    ----------
    word, key : str
        The word, and the key that an answer about it is told under.
    rows : int
        That hold it.
    level : str
        What it is taken for; empty where nothing tells.
    why : str
        How that is known, in a word or two.
    suggestion : str
        What prices suggest for a word that nothing tells.
    new : bool
        Whether the version before did not have it.
    """

    word: str
    key: str
    rows: int
    level: str
    why: str
    suggestion: str
    new: bool


@dataclass(frozen=True)
class AskedScale:
    """The words of one column.

    Attributes
    ----------
    title, header : str
        What it is about, and the owner's header.
    levels : tuple of Choice
        Grades to choose from, lowest first.
    words : tuple of AskedWord
        Those first that nothing tells, then by grade.
    own : bool
        Whether its words are taken as they are, without an order.
    """

    title: str
    header: str
    levels: tuple[Choice, ...]
    words: tuple[AskedWord, ...]
    own: bool


@dataclass(frozen=True)
class Step:
    """One of the three steps.

    Attributes
    ----------
    key : {"columns", "words", "rows"}
    said : str
        How it stands.
    done : bool
        Whether it reads right.
    """

    key: Literal["columns", "words", "rows"]
    said: str
    done: bool


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Dialogue(Viewed):
    """A table that waits for its owner's answers; nothing of it is in the ledger.

    Attributes
    ----------
    name, source_name, sheet : str
        The shop's name for it, the file's, and the sheet that is read; empty for other files than workbooks.
    sheets : tuple of str
        Sheets to choose from; empty where there is no choice.
    rows, usable : int
        Data rows, and those that can be used as it stands.
    answer : str
        That in a few words.
    ready : bool
        Whether it can be used: some column is the price.
    why_not : str
        Why it cannot be, where it cannot.
    remembered : str
        What was remembered of the version before, in a sentence; empty without one.
    mended_again : str
        Its mends that were made again, in a sentence; empty without any.
    no_longer_fit : tuple of str
        Mends of the version before that no longer fit.
    steps : tuple of Step
    columns : tuple of AskedColumn
    meanings : tuple of Choice
        What a column can be.
    scales : tuple of AskedScale
    questions : tuple of Question
        What only the owner knows about whole columns, best first.
    asks_currency : bool
        Whether no price names its currency.
    currency : str
        Of the prices; empty when none is known.
    venues : tuple of (str, str)
        Venues that may take a premium from the buyer, with the percent that was told.
    suggestions : int
        Questions with a suggested answer.
    sure_mends : int
        Mends that have one answer.
    faults : tuple of FaultCard
    mends : int
        Cells mended and rows left out so far.
    habits, passed_over : tuple of str
        What holds for whole columns, and rows that are no sales.
    notes : tuple of Note
        How the file was read.
    """

    name: str
    source_name: str
    sheet: str
    sheets: tuple[str, ...]
    rows: int
    usable: int
    answer: str
    ready: bool
    why_not: str
    remembered: str
    mended_again: str
    no_longer_fit: tuple[str, ...]
    steps: tuple[Step, ...]
    columns: tuple[AskedColumn, ...]
    meanings: tuple[Choice, ...]
    scales: tuple[AskedScale, ...]
    questions: tuple[Question, ...]
    asks_currency: bool
    currency: str
    venues: tuple[tuple[str, str], ...]
    suggestions: int
    sure_mends: int
    faults: tuple[FaultCard, ...]
    mends: int
    habits: tuple[str, ...]
    passed_over: tuple[str, ...]
    notes: tuple[Note, ...]

    def _view(self) -> View:
        return View(
            title=f"Waiting table {self.name}",
            facts=(self.answer,),
            header=("column", "taken for"),
            rows=[(one.header, one.said) for one in self.columns],
            notes=self.notes,
        )
