"""Mending: the same table with some cells rewritten, as the file of its next version."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from valuation.comparables.headers import header_owners
from valuation.comparables.reader import choose_table
from valuation.comparables.reading import Source
from valuation.comparables.texttable import MAX_CELL, TextTable
from valuation.comparables.writing import as_csv
from valuation.errors import TableError, shortlist
from valuation.schema.schema import SALE_COLUMNS, Schema
from valuation.text.spelling import header_key

CONFIRMED = "confirmed"
"""Column in which a row that looks odd is said to be right."""
ARMS_LENGTH = "arms_length"
"""Column in which any word but yes sets a row aside, with that word as the reason."""
MARKS = (header_key(CONFIRMED), header_key(ARMS_LENGTH))
"""Columns that a mend may add, by their spelling keys: what is said of a row there is blank in all others."""


def text_table(source: Source, schema: Schema, name: str) -> TextTable:
    """The cells of a file as text, under its own headers and row numbers.

    Parameters
    ----------
    source : str, Path or bytes
    schema : Schema
        What the columns mean.
    name : str
        File name, for messages.

    Raises
    ------
    TableError
        If the file is not a table.
    """
    return choose_table(source, schema, name=name)


def mended(
    table: TextTable,
    cells: Mapping[tuple[int, str], str],
    *,
    left_out: Collection[int] = (),
    confirmed: Collection[int] = (),
) -> bytes:
    """A CSV file (UTF-8) of the table with cells rewritten and rows left out; every row keeps its number.

    Parameters
    ----------
    table, cells, left_out, confirmed
        As for :func:`rewritten`.

    Raises
    ------
    TableError
        As there.
    """
    return as_csv(rewritten(table, cells, left_out=left_out, confirmed=confirmed))


def rewritten(
    table: TextTable,
    cells: Mapping[tuple[int, str], str],
    *,
    left_out: Collection[int] = (),
    confirmed: Collection[int] = (),
) -> TextTable:
    """The table with cells rewritten and rows left out; every row keeps its number.

    Parameters
    ----------
    table : TextTable
        As :func:`text_table` gives it.
    cells : mapping of (row, header) to str
        What to write where.
    left_out : collection of int
        Rows to leave out of the next version.
    confirmed : collection of int
        Rows that look odd and are right; ``yes`` is written in their column ``confirmed``, which is added if needed.

    Raises
    ------
    TableError
        If a row or header is not in the table, or a text is longer than a cell can hold.
    """
    frame = table.cells.copy()
    if confirmed and not any(header_key(header) == CONFIRMED for header in frame.columns):
        frame[CONFIRMED] = ""
    marks = {(row, header): "yes" for row in confirmed for header in frame.columns if header_key(header) == CONFIRMED}
    for _, header in cells:
        if header not in frame.columns and header_key(header) in MARKS:
            frame[header] = ""
    for (row, header), text in {**cells, **marks}.items():
        if row not in frame.index or header not in frame.columns:
            raise TableError(
                f"Cannot mend '{table.name}': it has no cell in row {row} under '{header[:60]}'. Its headers are "
                f"{shortlist([str(one) for one in frame.columns])}. Reload the table and mend it there."
            )
        if len(text) > MAX_CELL:
            raise TableError(
                f"Cannot mend '{table.name}': the text for row {row}, '{header}' has {len(text):,} characters; a cell "
                f"holds {MAX_CELL:,}. Shorten it."
            )
        frame.loc[row, header] = text
    for row in left_out:
        if row not in frame.index:
            raise TableError(f"Cannot leave row {row} out of '{table.name}': it has no such row. Reload the table.")
    overlong = {row: extra for row, extra in table.overlong.items() if row not in left_out}
    asides = {row: code for row, code in table.asides.items() if row not in left_out}
    return replace(table, cells=frame.drop(index=list(left_out)), overlong=overlong, asides=asides)


def header_choices(table: TextTable, schema: Schema) -> dict[str, str]:
    """For each header of the file, the column of the sale or attribute that it means; empty when unknown.

    Parameters
    ----------
    table : TextTable
    schema : Schema
        What the columns mean.
    """
    from valuation.comparables.headers import map_headers

    try:
        found = map_headers(table, schema)
    except TableError:
        owners = header_owners(schema)
        return {header: owners.get(header_key(header), "") for header in table.headers}
    means = {header: name for name, header in {**found.attributes, **found.sale}.items()}
    return {header: means.get(header, "") for header in table.headers}


def with_headers(schema: Schema, chosen: Mapping[str, str]) -> Schema:
    """The schema with further headers for its columns.

    Parameters
    ----------
    schema : Schema
    chosen : mapping of str to str
        The file's header, and the column of the sale or attribute that it means.

    Raises
    ------
    TableError
        If there is no such column.
    """
    unknown = [name for name in chosen.values() if name not in (*SALE_COLUMNS, *schema.names)]
    if unknown:
        raise TableError(
            f"Cannot map a header to '{unknown[0]}': there is no such column. The columns are "
            f"{', '.join((*SALE_COLUMNS, *schema.names))}."
        )
    taken = {header_key(header) for header in chosen}

    def words(column: str, known: tuple[str, ...]) -> tuple[str, ...]:
        others = tuple(word for word in known if header_key(word) not in taken)
        return (*others, *(header for header, name in chosen.items() if name == column))

    return replace(
        schema,
        left_out=tuple(word for word in schema.left_out if header_key(word) not in taken),
        attributes=tuple(replace(one, aliases=words(one.name, one.aliases)) for one in schema.attributes),
        sale_aliases={
            name: found for name in SALE_COLUMNS if (found := words(name, schema.sale_aliases.get(name, ())))
        },
    )
