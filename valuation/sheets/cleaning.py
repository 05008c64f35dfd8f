"""Text on its way to paper: characters that no page can show, or that would hide what it shows, are taken out."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

LONGEST_CELL = 90
"""Characters of a cell: some three lines of a table on paper."""
LONGEST_TITLE = 160
"""Characters of a title: two lines on paper."""
LONGEST_PARAGRAPH = 6_000
"""Characters that have room in a cell, a title and a paragraph; chosen by eye, as all sizes of the layout are."""
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"

# Control characters other than the line break, marks that turn the direction of the text after them, lone halves of
# surrogate pairs, and code points that are no characters.
_UNPRINTABLE = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ufffe\uffff\ud800-\udfff]"
)
_BREAKS = re.compile("\r\n?|\x0b|\x0c|\x85|\u2028|\u2029")


def clean_text(text: str) -> tuple[str, int]:
    r"""The text without characters that cannot be printed, and how many there were; tabs become spaces.

    Examples
    --------
    >>> clean_text("Tern\x07 pickup\u202e")
    ('Tern pickup', 2)
    """
    spaced = _BREAKS.sub("\n", text).replace("\t", " ")
    return _UNPRINTABLE.subn("", spaced)


def clean_tree(value: Any) -> tuple[Any, int]:
    """Plain data with every text in it cleaned, names of objects included, and how many characters were taken out."""
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, dict):
        pairs = [(clean_text(str(key)), clean_tree(item)) for key, item in value.items()]
        return {key: item for (key, _), (item, _) in pairs}, sum(a + b for (_, a), (_, b) in pairs)
    if isinstance(value, list | tuple):
        items = [clean_tree(item) for item in value]
        return [item for item, _ in items], sum(removed for _, removed in items)
    return value, 0


def direction(text: str) -> str:
    r"""``rtl`` when the first letter with a direction runs from right to left, else ``ltr``.

    Examples
    --------
    >>> direction("1952 \N{HEBREW LETTER ALEF}"), direction("Tern")
    ('rtl', 'ltr')
    """
    kinds = (unicodedata.bidirectional(character) for character in text)
    first = next((kind for kind in kinds if kind in ("L", "R", "AL")), "L")
    return "ltr" if first == "L" else "rtl"


def shorten(text: str, longest: int = LONGEST_CELL) -> str:
    """One line of at most ``longest`` characters; what was cut is shown by an ellipsis.

    Parameters
    ----------
    text : str
    longest : int
        Characters.

    Examples
    --------
    >>> shorten("Quarrygate Hall, autumn sale", 16)
    'Quarrygate Hall…'
    """
    line = " ".join(text.split())
    return line if len(line) <= longest else line[: longest - 1].rstrip(" ,;") + ELLIPSIS
