"""Row headers in a tagged PDF: the first cell of each row of a table's body is marked as the header of its row.

The typesetter marks the cells of a table's head as headers and all others as plain data, and its way of marking more is
not open to Python. A reader's program then says "650" where it could say "Date of sale, 650". The marks are plain text
in the file (ISO 32000-1, 14.8.5.7, table attributes), so they are set there, and the table of offsets is kept true.
"""

from __future__ import annotations

import re

_ELEMENT = re.compile(rb"(\d+) 0 obj\n<</Type/StructElem/S/(\w+)/P (\d+) 0 R(.*?)>>\nendobj", re.DOTALL)
_FIRST_CHILD = re.compile(rb"/K\[(\d+) 0 R")
_OFFSETS = re.compile(rb"startxref\n(\d+)\n%%EOF\s*$")
_HEAD_OF_OFFSETS = re.compile(rb"xref\n0 (\d+)\n")
_ENTRY = 20
"""Bytes of an entry of the table of offsets, by the format."""
_ENTRIES = re.compile(rb"(?:[0-9]{10} [0-9]{5} [fn][ \r][\r\n])+")
_DATA, _HEADER = b"/S/TD", b"/S/TH"
_TABLE, _ROW = b"<</O/Table/", b"<</O/Table/Scope/Row/"


def with_row_headers(pdf: bytes) -> bytes:
    """The same file with row headers; one that is not laid out as the typesetter's are comes back as it is."""
    end = _OFFSETS.search(pdf)
    head = _HEAD_OF_OFFSETS.match(pdf, int(end.group(1))) if end else None
    if end is None or head is None:
        return pdf
    entries = pdf[head.end() : head.end() + _ENTRY * int(head.group(1))]
    if not _ENTRIES.fullmatch(entries):
        return pdf
    offsets = [int(entries[at : at + 10]) for at in range(0, len(entries), _ENTRY)]
    found = (_ELEMENT.match(pdf, offset) for offset in offsets)
    elements = {int(element.group(1)): element for element in found if element is not None}
    insertions = sorted(
        at for cell in _first_cells(elements) if (at := pdf.find(_TABLE, cell.start(), cell.end())) >= 0
    )
    if not insertions:
        return pdf
    return _edited(pdf, insertions, offsets, head.end(), int(end.group(1)))


def _first_cells(elements: dict[int, re.Match[bytes]]) -> list[re.Match[bytes]]:
    """The first cell of each row that stands in no head of a table, where it is not a header already."""
    cells = []
    for row in elements.values():
        parent, child = elements.get(int(row.group(3))), _FIRST_CHILD.search(row.group(4))
        if row.group(2) != b"TR" or child is None or (parent is not None and parent.group(2) == b"THead"):
            continue
        cell = elements.get(int(child.group(1)))
        if cell is not None and cell.group(2) == b"TD":
            cells.append(cell)
    return cells


def _edited(pdf: bytes, insertions: list[int], offsets: list[int], entries: int, start: int) -> bytes:
    """Write the marks at the places given, and move every offset behind them along."""
    grown = len(_ROW) - len(_TABLE)
    parts, last = [], 0
    for at in insertions:
        cell = pdf.rfind(_DATA, last, at)
        parts += [pdf[last:cell], _HEADER, pdf[cell + len(_DATA) : at], _ROW]
        last = at + len(_TABLE)
    parts.append(pdf[last:entries])
    for number, offset in enumerate(offsets):
        entry = pdf[entries + _ENTRY * number : entries + _ENTRY * (number + 1)]
        moved = offset + grown * sum(at < offset for at in insertions)
        parts.append(b"%010d" % moved + entry[10:])
    trailer = pdf[entries + _ENTRY * len(offsets) :]
    parts.append(_OFFSETS.sub(b"startxref\n%d\n%%%%EOF" % (start + grown * len(insertions)), trailer))
    return b"".join(parts)
