"""Likely headers: which column that the schema does not know probably is one that it misses."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Sequence

from valuation.comparables.texttable import TextTable
from valuation.schema.attributes import Attribute, Role
from valuation.schema.values import CellFault, read_value
from valuation.text.numbers import is_missing
from valuation.text.reading import Reading
from valuation.text.spelling import header_key, shortens

_ROWS = 200
"""Rows whose cells are looked at: enough to know a column by; chosen."""

_NEAR, _VERY_NEAR = 0.6, 0.75
"""Likeness of two names (difflib's ratio) that says something unless the cells speak against it, and that does in any
case; chosen."""

_MOST = 0.5
"""Share of a column's cells that must be values of an attribute for the column to hold it; chosen."""


def likely_header(attribute: Attribute, table: TextTable, unmapped: Collection[str], reading: Reading) -> str:
    """The column that probably holds an attribute: by its name, abbreviated or misspelt, and by what its cells hold.

    Parameters
    ----------
    attribute : Attribute
        Which the table does not have under a header that the schema knows.
    table : TextTable
    unmapped : collection of str
        Headers that the schema does not know.
    reading : Reading
        How to read what can be read in two ways.

    Returns
    -------
    str
        The header; empty when none is likely.
    """
    found: dict[str, float] = {}
    for header in unmapped:
        named = max(_alike(header, word) for word in (attribute.name, *attribute.aliases))
        cells = _filled(table, header)
        held = _share(attribute, cells, reading)
        if (
            named >= _VERY_NEAR
            or (held >= _MOST and bool(attribute.levels))
            or (named >= _NEAR and not _foreign(attribute, cells, held, reading))
        ):
            found[header] = named + held
    return max(found, key=found.__getitem__, default="")


def likely_price(table: TextTable, unmapped: Collection[str], names: Collection[str]) -> str:
    """The column that probably holds the prices: by its name, and only where most of its cells hold a figure.

    Parameters
    ----------
    table : TextTable
    unmapped : collection of str
        Headers that the schema does not know.
    names : collection of str
        Headers that would mean the price.

    Returns
    -------
    str
        The header; empty when none is likely.
    """
    found: dict[str, float] = {}
    for header in unmapped:
        named = max(_alike(header, name) for name in names)
        cells = _filled(table, header)
        figures = sum(any(map(str.isdigit, cell)) for cell in cells)
        if named >= _NEAR and figures >= _MOST * len(cells):
            found[header] = named
    return max(found, key=found.__getitem__, default="")


def _filled(table: TextTable, header: str) -> list[str]:
    return [str(cell) for cell in table.cells[header].head(_ROWS) if not is_missing(str(cell))]


def _alike(header: str, name: str) -> float:
    """How much a header looks like a name, from 0 to 1: 1 where it abbreviates it or holds it as one of its words."""
    words = [header_key(word) for word in (header.partition("(")[0], *header.split())]
    key, whole = words[0], header_key(name)
    if not key or not whole:
        return 0.0
    if whole in words or shortens(key, whole):
        return 1.0
    return difflib.SequenceMatcher(None, key, whole).ratio()


def _foreign(attribute: Attribute, cells: Sequence[str], held: float, reading: Reading) -> bool:
    """Whether a column's cells are of another kind: figures or yes and no where words belong, or none of its values."""
    if attribute.role not in (Role.ORDINAL, Role.NOMINAL):
        return bool(cells) and held < _MOST
    others = (Attribute("figure", Role.NUMBER), Attribute("answer", Role.FLAG))
    return held < _MOST and any(_share(other, cells, reading) >= _MOST for other in others)


def _share(attribute: Attribute, cells: Sequence[str], reading: Reading) -> float:
    """The share of cells that are values of an attribute; 0 where any word would be one."""
    if not cells or (attribute.role is Role.NOMINAL and not attribute.levels):
        return 0.0
    fits = {text: not isinstance(read_value(attribute, text, reading), CellFault) for text in set(cells)}
    return sum(fits[text] for text in cells) / len(cells)
