"""Remarks: what people write around a figure without changing it, such as about, ca., firm, or a note in brackets."""

from __future__ import annotations

import re
from dataclasses import dataclass

from valuation.text.money import PLAIN, currency_name, is_currency

_ABOUT_BEFORE = re.compile(
    r"(?:~|≈|(?:about|approximately|approx|around|roughly|circa|abt|etwa|rund|environ|env|aprox|unos)\b\.?"
    r"|(?-i:ca?|Ca|C(?=\.))(?:\.|\s|(?=['’]?\d)))\s*(?=\S*\s*\S*\d)",
    re.IGNORECASE,
)
_ABOUT_AFTER = re.compile(r"[\s,]*(?:\?|\b(?:about|approx|approximately|circa|ca)\b\.?)$", re.IGNORECASE)
_BRACKETS = re.compile(r"(?P<figure>[^(\[]*\d[^(\[]*?)\s*[(\[](?P<remark>[^()\[\]]*)[)\]]")
_HARMLESS = re.compile(
    r"(?P<figure>.*\d.*?)[\s,;–-]+(?P<remark>(?:firm|obo|o\.b\.o\.|ono|o\.n\.o\.|or (?:best|near|nearest) offer|cash|"
    r"negotiable|neg|vb|vhb|fest)\.?)",
    re.IGNORECASE,
)
_CHANGES_IT = re.compile(
    r"%|[€£¥$]|\d\s*k\b|\b(?:thousands?|tsd|k|hundreds?|millions?|mio|grand|lakh|crore|percent|premium|fees?|commission|"
    r"tax|vat|mwst|deposit|each|both|pair|lot|per|euros?|dollars?|pounds?|pesos?)\b",
    re.IGNORECASE,
)
"""Words in brackets that may make the figure another one: another unit, a share, a part of it, or more than one thing;
the codes of currencies come to them."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure freed of what was written around it.

    Parameters
    ----------
    text : str
        The figure alone.
    about : bool
        Whether it was said to be about right only.
    remark : str
        A note beside it; empty when there is none.
    """

    text: str
    about: bool = False
    remark: str = ""


def bare_figure(text: str) -> Figure:
    """The figure in a cell such as ``about 19.000``, ``12,500 firm`` or ``12,500 (incl. trailer)``.

    Words beside a figure stay where they might change it: a figure with an unknown word is no figure.

    Raises
    ------
    ValueError
        If a note in brackets may make the figure another one; the message says which.

    Examples
    --------
    >>> bare_figure("about 19.000"), bare_figure("12 weeks").text
    (Figure(text='19.000', about=True, remark=''), '12 weeks')
    """
    body, remark = text.strip(), ""
    if match := _BRACKETS.fullmatch(body):
        remark = match["remark"].strip()
        if remark and not re.search(r"[^\W\d]", remark):
            raise ValueError(f"has a second figure beside it, '{remark[:40]}'")
        if changes := _changing(remark):
            raise ValueError(f"has a note beside it that may change it, '{changes}'")
        body = match["figure"]
    elif match := _HARMLESS.fullmatch(body):
        body, remark = match["figure"], match["remark"]
    plain = _ABOUT_AFTER.sub("", body)
    start = _ABOUT_BEFORE.match(plain)
    plain = plain[start.end() :] if start else plain
    return Figure(plain.strip(), plain != body, remark)


def _changing(remark: str) -> str:
    found = _CHANGES_IT.search(remark)
    if found:
        return found[0]
    words = re.findall(r"[A-Za-z]+", remark)
    return next((word for word in words if is_currency(currency_name(word, PLAIN), PLAIN)), "")


_RANGE = re.compile(
    r"(?P<low>\S.*?\d\s*k?|\d+)\s*(?:-|–|—|\bto\b|\bbis\b|\bor\b|/)\s*(?P<high>\D{0,5}\d.*)", re.IGNORECASE
)


def two_ends(text: str) -> tuple[str, str] | None:
    """The two figures of a range such as ``12-14k`` or ``12,000 - 14,000``; ``None`` when it is none.

    Examples
    --------
    >>> two_ends("12-14k"), two_ends("12,000 to 14,000"), two_ends("12,500")
    (('12k', '14k'), ('12,000', '14,000'), None)
    """
    match = _RANGE.fullmatch(text.strip())
    if match is None:
        return None
    low, high = match["low"].strip(), match["high"].strip()
    return (low + "k" if high[-1] in "kK" and low[-1].isdigit() else low), high
