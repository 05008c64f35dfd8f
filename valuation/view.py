"""How an answer looks by itself: one short line in a terminal, a small table in a notebook."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from valuation.notes import Note, each_once

MOST_ROWS = 20
"""Rows of a table that are shown; the rest is counted."""

MOST_NOTES = 5
"""Weightiest notes that are shown at once; the rest is folded."""
CURRENCY_SIGNS = frozenset("$£€¥")
"""Signs of currencies, which stand before an amount as their countries write them in English."""
SIGNS = ("-", "+", "−")
_FIGURE = re.compile(r"none|[-+]?[$£€¥]?[\d.,]* ?(?:%|[A-Z]{3})?")
"""A cell that is a figure, with or without its unit, or empty."""
SMALL_MONEY = 100.0
"""Amounts below it are shown to the cent: rounded to whole units they would be up to half a percent off, and more."""
ALWAYS_CENTS = 10.0
"""Amounts below it show their cents also where they are whole."""


@dataclass(frozen=True, slots=True)
class View:
    """What is shown of an answer.

    Attributes
    ----------
    title : str
        What it is.
    facts : tuple of str
        What matters most, shortest first: the line of ``repr``.
    header : tuple of str
    rows : sequence of tuple of str
        Its table, as people read it.
    notes : tuple of Note
        What must be known, shown under the table.
    """

    title: str
    facts: tuple[str, ...]
    header: tuple[str, ...] = ()
    rows: Sequence[tuple[str, ...]] = ()
    notes: tuple[Note, ...] = ()


class Viewed:
    """An answer that says what it looks like by ``_view``; no answer prints all that it holds."""

    __slots__ = ()

    def _view(self) -> View:
        raise NotImplementedError

    def __repr__(self) -> str:
        shown = self._view()
        return f"<{shown.title}: {'; '.join(shown.facts)}>"

    def _repr_html_(self) -> str:
        shown = self._view()
        parts = [f"<p><strong>{escape(shown.title)}</strong><br>{'<br>'.join(map(escape, shown.facts))}</p>"]
        if shown.rows:
            rows = shown.rows[:MOST_ROWS]
            words = [not all(_FIGURE.fullmatch(row[i]) for row in rows) for i in range(len(shown.header))]
            body = "".join(_row(row, "td", words) for row in rows)
            parts.append(f"<table><thead>{_row(shown.header, 'th', words)}</thead><tbody>{body}</tbody></table>")
        if len(shown.rows) > MOST_ROWS:
            parts.append(f"<p>and {len(shown.rows) - MOST_ROWS} more</p>")
        notes = each_once(shown.notes)
        if notes:
            parts.append(_list(notes[:MOST_NOTES]))
        if len(notes) > MOST_NOTES:
            more = len(notes) - MOST_NOTES
            parts.append(f"<details><summary>{more} more</summary>{_list(notes[MOST_NOTES:])}</details>")
        return "\n".join(parts)


def _list(notes: Sequence[Note]) -> str:
    return f"<ul>{''.join(f'<li>{escape(note.text)}</li>' for note in notes)}</ul>"


class Said:
    """A row of an answer, which prints as one short sentence: ``frame`` makes a table of many."""

    __slots__ = ()

    def _said(self) -> str:
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"<{self._said()}>"


def _row(cells: Sequence[str], tag: str, words: Sequence[bool]) -> str:
    """A row of a table; columns of words begin at the left, where notebooks put every cell at the right."""
    left = ' style="text-align:left"'
    parts = (f"<{tag}{left if said else ''}>{escape(cell)}</{tag}>" for cell, said in zip(cells, words, strict=True))
    return f"<tr>{''.join(parts)}</tr>"


def decimals_of(amount: float) -> int:
    """Decimals that an amount is shown with: none, or two where whole units would hide what matters (3.72 is not 4).

    Below ten the cents are among the three figures that are told, so 4.00 stands beside 3.72.

    Examples
    --------
    >>> decimals_of(15563.83), decimals_of(3.72), decimals_of(4.0), decimals_of(45.0), decimals_of(0.0)
    (0, 2, 2, 0, 0)
    """
    size = abs(amount)
    return 2 if 0 < size < ALWAYS_CENTS or (size < SMALL_MONEY and amount % 1) else 0


def amount_text(amount: float, *, sign: bool = False) -> str:
    """An amount in plain text, thousands parted by commas, with as many decimals as its size asks for.

    Parameters
    ----------
    amount : float
        Money.
    sign : bool
        Whether a plus stands before an amount above 0.

    Examples
    --------
    >>> amount_text(15563.834), amount_text(3.72), amount_text(1200.4, sign=True)
    ('15,564', '3.72', '+1,200')
    """
    return f"{amount:{'+' if sign else ''},.{decimals_of(amount)}f}"


def as_money(value: float | None, currency: str = "") -> str:
    """Money for a view, to the cent where it is little.

    Parameters
    ----------
    value : float or None
        Money; "none" for None.
    currency : str
        Stands behind it; may be empty.

    Examples
    --------
    >>> as_money(45310.3, "USD"), as_money(45310.3, "$"), as_money(3.72), as_money(None)
    ('45,310 USD', '$45,310', '3.72', 'none')
    """
    if value is None:
        return "none"
    return with_currency(amount_text(value), currency)


def with_currency(amount: str, currency: str) -> str:
    """A written amount with its currency: a sign stands before it without a space, a code behind it.

    Parameters
    ----------
    amount : str
        With its sign, where it has one.
    currency : str
        Code or sign; may be empty.

    Examples
    --------
    >>> with_currency("18,300", "$"), with_currency("-500", "£"), with_currency("18,300", "USD")
    ('$18,300', '-£500', '18,300 USD')
    """
    if currency not in CURRENCY_SIGNS:
        return f"{amount} {currency}".rstrip()
    sign = amount[:1] if amount[:1] in SIGNS else ""
    return f"{sign}{currency}{amount[len(sign) :]}"


def outcome_words(counts: Mapping[str, int]) -> str:
    """Rows by outcome in words.

    Examples
    --------
    >>> outcome_words({"sold": 31, "bid_not_met": 1, "asking": 5, "set_aside": 0})
    '31 sold, 1 bid not met, 5 asking, 0 set aside'
    """
    bids = "bid" if counts["bid_not_met"] == 1 else "bids"
    return (
        f"{counts['sold']} sold, {counts['bid_not_met']} {bids} not met, {counts['asking']} asking, "
        f"{counts['set_aside']} set aside"
    )
