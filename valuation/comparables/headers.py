"""Headers: which column of a file is which column of a sale or attribute of the schema."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from valuation.comparables.likely_header import likely_price
from valuation.comparables.texttable import TextTable
from valuation.errors import TableError, shortlist
from valuation.schema.schema import SALE_COLUMNS, Schema
from valuation.text.spelling import header_key

_IN_BRACKETS = re.compile(r"\s*[(\[]([^)\]]*)[)\]]\s*$")


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """Where each known column stands in a file.

    Parameters
    ----------
    attributes, sale : dict of str to str
        The file's header for each attribute, and for each column of the sale, that the file has.
    unmapped : tuple of str
        Headers that the schema does not know.
    twice : dict of str to str
        Headers that mean a column already found, and the header that is used instead.
    left_out : tuple of str
        Headers of columns that the schema says are not used.
    """

    attributes: dict[str, str]
    sale: dict[str, str]
    unmapped: tuple[str, ...]
    twice: dict[str, str]
    left_out: tuple[str, ...] = ()


def header_owners(schema: Schema) -> dict[str, str]:
    """The column or attribute that each known header stands for, by the header's spelling key; "" where left out."""
    owners = {header_key(column): column for column in SALE_COLUMNS}
    for column, words in schema.sale_aliases.items():
        owners.update({header_key(word): column for word in words})
    for attribute in schema.attributes:
        owners.update({header_key(word): attribute.name for word in (attribute.name, *attribute.aliases)})
    owners.update({header_key(word): "" for word in schema.left_out})
    return owners


def known_headers(schema: Schema) -> Callable[[str], bool]:
    """A test of whether a header is one that the schema knows."""
    owners = header_owners(schema)
    return lambda header: _owner(header, owners) is not None


def in_brackets(header: str) -> str:
    """What a header says in brackets at its end, such as the EUR of ``Price (EUR)``; empty when nothing."""
    match = _IN_BRACKETS.search(header)
    return match[1].strip() if match else ""


def _owner(header: str, owners: dict[str, str]) -> str | None:
    whole = owners.get(header_key(header))
    return whole if whole is not None else owners.get(header_key(without_brackets(header)))


def without_brackets(header: str) -> str:
    """A header without what it says in brackets at its end."""
    return _IN_BRACKETS.sub("", header)


def map_headers(table: TextTable, schema: Schema) -> ColumnMap:
    """Find each known column.

    A header that is spelled as the column's own name goes before one of its aliases, one that is known as it stands
    before one that is known without what it says in brackets, and the first before the second.

    Parameters
    ----------
    table : TextTable
    schema : Schema
        What the columns mean.

    Raises
    ------
    TableError
        If there is no price column.
    """
    owners = header_owners(schema)
    found: dict[str, str] = {}
    twice: list[tuple[str, str]] = []
    unmapped: list[str] = []
    left_out: list[str] = []
    for header in table.headers:
        owner = _owner(header, owners)
        if owner is None:
            unmapped.append(header)
        elif not owner:
            left_out.append(header)
        elif owner not in found:
            found[owner] = header
        elif _rank(header, owner, owners) > _rank(found[owner], owner, owners):
            twice.append((found[owner], owner))
            found[owner] = header
        else:
            twice.append((header, owner))
    if "price" not in found:
        raise _no_price(table, owners)
    return ColumnMap(
        attributes={name: found[name] for name in schema.names if name in found},
        sale={name: found[name] for name in SALE_COLUMNS if name in found},
        unmapped=tuple(unmapped),
        twice={header: found[owner] for header, owner in twice},
        left_out=tuple(left_out),
    )


def _rank(header: str, owner: str, owners: dict[str, str]) -> int:
    """How surely a header means a column: 2 is spelled as its name, 1 known as it stands, 0 without its brackets."""
    key = header_key(header)
    return 2 if key == header_key(owner) else int(key in owners)


def _no_price(table: TextTable, owners: dict[str, str]) -> TableError:
    shown = shortlist([f"'{header[:60]}'" for header in table.headers])
    message = f"Cannot use '{table.name}': it has no price column. Its headers are {shown}. "
    for number, row in zip(table.cells.index[:20], table.cells.head(20).to_numpy().tolist(), strict=False):
        if any(_owner(str(cell), owners) == "price" for cell in row):
            return TableError(f"{message}Row {number} looks like the header: delete the rows above it.")
    prices = [key for key, owner in owners.items() if owner == "price"]
    unknown = [header for header in table.headers if _owner(header, owners) is None]
    if likely := likely_price(table, unknown, prices):
        return TableError(f"{message}Rename '{likely}' to 'price', or add it under [columns] price in the schema.")
    return TableError(
        f"{message}Name the column of prices 'price', or add its header under [columns] price in the schema."
    )
