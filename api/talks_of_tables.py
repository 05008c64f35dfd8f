"""Tables that were brought and wait for their owner's answers: each under a key, as long as the desk runs."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import TYPE_CHECKING

from api.problems import Refusal
from valuation.day import day_of

if TYPE_CHECKING:
    from valuation.answers.bringing import Seen, Waiting
    from valuation.answers.dialogue import Dialogue
    from valuation.answers.shelf import Shelf

MOST_WAITING = 8
"""Tables that wait at once, the newest: chosen, for the memory that their files take."""


@dataclass(frozen=True)
class Talk:
    """A waiting table as it stands.

    Attributes
    ----------
    key : str
        Under which it is found.
    revision : int
        How many states were before this one.
    waiting : Waiting
    seen : Seen
    dialogue : Dialogue
    """

    key: str
    revision: int
    waiting: Waiting
    seen: Seen
    dialogue: Dialogue


def keep_talk(shelf: Shelf[Talk], waiting: Waiting, earlier: Talk | None = None) -> Talk:
    """Understand a table and keep it; nothing is kept where that is refused.

    Parameters
    ----------
    shelf : Shelf
        Of the tables that wait.
    waiting : Waiting
    earlier : Talk or None
        The state before; a new key unless given.
    """
    from valuation.answers.bringing import look
    from valuation.answers.bringing_talk import talk_about

    seen = look(waiting, day_of())
    key = earlier.key if earlier else secrets.token_urlsafe(9)
    talk = Talk(key, earlier.revision + 1 if earlier else 0, waiting, seen, talk_about(waiting, seen))
    shelf.keep(key, talk)
    return talk


def talk_of(shelf: Shelf[Talk], key: str) -> Talk:
    """The table that waits under a key; a refusal with status 404 where it was forgotten.

    Parameters
    ----------
    shelf : Shelf
        Of the tables that wait.
    key : str
    """
    found = shelf.find(key)
    if found is None:
        raise Refusal(
            404,
            "service.not_found",
            "The table that waited here is gone: the desk was started anew, newer tables took its place, or it was put "
            "to use. Nothing of it was lost that was in the ledger. Bring the file again.",
        )
    return found
