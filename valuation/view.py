"""How an answer looks by itself: one short line in a terminal, a small table in a notebook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from valuation.notes import Note, each_once

MOST_ROWS = 20
"""Rows of a table that are shown; the rest is counted."""


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
            body = "".join(_row(row, "td") for row in shown.rows[:MOST_ROWS])
            parts.append(f"<table><thead>{_row(shown.header, 'th')}</thead><tbody>{body}</tbody></table>")
        if len(shown.rows) > MOST_ROWS:
            parts.append(f"<p>and {len(shown.rows) - MOST_ROWS} more</p>")
        if shown.notes:
            parts.append(f"<ul>{''.join(f'<li>{escape(note.text)}</li>' for note in each_once(shown.notes))}</ul>")
        return "\n".join(parts)


def _row(cells: Sequence[str], tag: str) -> str:
    return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"


def as_money(value: float | None, currency: str = "") -> str:
    """Money in whole units for a view.

    Parameters
    ----------
    value : float or None
        ``None``: nothing is written.
    currency : str
        May be empty.

    Examples
    --------
    >>> as_money(45310.3, "USD"), as_money(None)
    ('45,310 USD', 'none')
    """
    if value is None:
        return "none"
    return f"{value:,.0f} {currency}".rstrip()


def outcome_words(counts: Mapping[str, int]) -> str:
    """Rows by outcome in words.

    Examples
    --------
    >>> outcome_words({"sold": 31, "bid_not_met": 4, "asking": 5, "set_aside": 0})
    '31 sold, 4 bids not met, 5 asking, 0 set aside'
    """
    return (
        f"{counts['sold']} sold, {counts['bid_not_met']} bids not met, {counts['asking']} asking, "
        f"{counts['set_aside']} set aside"
    )
