"""Mends as changes between two versions of a table: which were made, and where they stand in another version.

A mend is not written down by itself. It is what two versions that follow each other differ in, and only where the
later one is, byte for byte, the earlier one with these cells rewritten: a file that somebody brought is never
mistaken for a mend.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.comparables.mend import Mend
from valuation.comparables.mending import CONFIRMED, MARKS, rewritten
from valuation.comparables.texttable import TextTable
from valuation.comparables.writing import as_csv
from valuation.text.spelling import header_key

if TYPE_CHECKING:
    from valuation.comparables.table import Fault


@dataclass(frozen=True, slots=True)
class Clash:
    """A mend of a cell that holds something else by now.

    Parameters
    ----------
    mend : Mend
        Its row as in the table that it is to be put into.
    found : str or None
        What the cell holds; ``None`` where the row or column is not there, empty where a whole row was changed that
        was to be left out.
    """

    mend: Mend
    found: str | None


@dataclass(frozen=True, slots=True)
class Reapplied:
    """Mends of one version, held against another.

    Parameters
    ----------
    fits : tuple of Mend
        The row is there and its cell holds the old value still; rows as in the other version.
    already : tuple of Mend
        The cell holds the new value, or the row is gone as wanted.
    clashes : tuple of Clash
        Everything else.
    """

    fits: tuple[Mend, ...]
    already: tuple[Mend, ...]
    clashes: tuple[Clash, ...]


def mends_between(before: TextTable, after: TextTable, source: bytes) -> tuple[Mend, ...] | None:
    """What was mended in a table to give another; ``None`` when the other is not a mended version of it.

    Parameters
    ----------
    before, after : TextTable
    source : bytes
        The file of ``after``.
    """
    old, new = before.cells, after.cells
    added = [header for header in new.columns if header not in old.columns]
    if [*old.columns, *added] != list(new.columns) or not all(header_key(one) in MARKS for one in added):
        return None
    if not set(new.index) <= set(old.index):
        return None
    found = [Mend(int(row), "") for row in old.index.difference(new.index)]
    base = old.loc[new.index].assign(**dict.fromkeys(added, ""))
    cells = (base != new).to_numpy().nonzero()
    for i, j in zip(*cells, strict=True):
        found.append(Mend(int(new.index[i]), str(new.columns[j]), str(base.iat[i, j]), str(new.iat[i, j])))
    return tuple(found) if written(before, found) == source else None


def written(table: TextTable, mends: Sequence[Mend]) -> bytes:
    """The CSV file of a table with mends put in.

    Parameters
    ----------
    table, mends
        As for :func:`put_in`.

    Raises
    ------
    TableError
        As there.
    """
    return as_csv(put_in(table, mends))


def put_in(table: TextTable, mends: Sequence[Mend]) -> TextTable:
    """A table with mends put in.

    Parameters
    ----------
    table : TextTable
    mends : sequence of Mend
        Their rows are those of the table.

    Raises
    ------
    TableError
        If a row or column is not there, or a text is longer than a cell can hold.
    """
    confirmed = {m.row for m in mends if header_key(m.column) == CONFIRMED and m.column not in table.headers}
    cells = {(m.row, m.column): m.new for m in mends if not m.leaves_out and m.row not in confirmed}
    cells |= {(m.row, m.column): m.new for m in mends if m.row in confirmed and m.column in table.headers}
    return rewritten(table, cells, left_out=[m.row for m in mends if m.leaves_out], confirmed=sorted(confirmed))


def unmerged(text: TextTable, faults: Iterable[Fault], mends: Sequence[Mend]) -> tuple[Mend, ...]:
    """The mends that blank prices merged over several rows, for which no price is typed.

    A table that is written anew keeps no merge, and the one price would count as a sale in each of its rows.

    Parameters
    ----------
    text : TextTable
    faults : iterable of Fault
        Of the same table.
    mends : sequence of Mend
        That are made with them.
    """
    typed = {(one.row, one.column) for one in mends}
    out = {one.row for one in mends if one.leaves_out}
    return tuple(
        Mend(one.row, one.column, str(text.cells.at[one.row, one.column]))
        for one in faults
        if one.code == "merged_price" and one.row not in out and (one.row, one.column) not in typed
    )


def mends_since(newest_first: Iterable[tuple[TextTable, bytes]]) -> tuple[int, tuple[Mend, ...]]:
    """Mends that stand behind a table, back to the file that was brought.

    Parameters
    ----------
    newest_first : iterable of (TextTable, bytes)
        Versions of a table with their files; read only as far as needed.

    Returns
    -------
    int
        How many versions back the brought file is; 0 when the newest is the file itself.
    tuple of Mend
        All that was mended since, as one; rows keep their numbers through it.
    """
    versions = iter(newest_first)
    (after, source), back = next(versions), 0
    found: tuple[Mend, ...] = ()
    for before, file in versions:
        step = () if file == source else mends_between(before, after, source)
        if step is None:
            break
        found, back = one_after_another(step, found), back + 1
        after, source = before, file
    return back, found


def one_after_another(first: Sequence[Mend], then: Sequence[Mend]) -> tuple[Mend, ...]:
    """Mends followed by further mends, as one: a cell mended twice has its first old and its last new value.

    Parameters
    ----------
    first, then : sequence of Mend
    """
    out = {m.row for m in (*first, *then) if m.leaves_out}
    cells: dict[tuple[int, str], Mend] = {}
    for mend in (*first, *then):
        if mend.row in out or mend.leaves_out:
            continue
        before = cells.get((mend.row, mend.column))
        cells[mend.row, mend.column] = Mend(mend.row, mend.column, before.old if before else mend.old, mend.new)
    changed = [one for one in cells.values() if one.old != one.new]
    return (*(Mend(row, "") for row in sorted(out)), *changed)


def reapply(mends: Sequence[Mend], before: TextTable, after: TextTable, *, same_rows: bool = False) -> Reapplied:
    """Hold mends of one version against another.

    Parameters
    ----------
    mends : sequence of Mend
        Of ``before``; their rows are its rows.
    before, after : TextTable
    same_rows : bool
        Whether ``after`` came about from ``before`` by mends alone, so that rows keep their numbers. Otherwise a row
        is the same row where every cell that is not mended, under the headers that both have, is the same.
    """
    if same_rows:
        rows: Mapping[int, int | None] = {m.row: m.row if m.row in after.cells.index else None for m in mends}
    else:
        rows = _same_rows(mends, before, after)
    fits: list[Mend] = []
    already: list[Mend] = []
    clashes: list[Clash] = []
    for mend in mends:
        row = rows[mend.row]
        if row is None:
            if mend.leaves_out:
                already.append(mend)
            else:
                clashes.append(Clash(mend, None))
            continue
        here = Mend(row, mend.column, mend.old, mend.new)
        found = _cell(after, row, mend.column)
        if mend.leaves_out and same_rows and _row_of(before, row) != _row_of(after, row):
            clashes.append(Clash(here, ""))
        elif mend.leaves_out or found == mend.old.strip():
            fits.append(here)
        elif found == mend.new.strip():
            already.append(here)
        else:
            clashes.append(Clash(here, found))
    return Reapplied(tuple(fits), tuple(already), tuple(clashes))


def _cell(table: TextTable, row: int, column: str) -> str | None:
    if column in table.headers:
        return str(table.cells.at[row, column]).strip()
    return "" if header_key(column) in MARKS else None


def _row_of(table: TextTable, row: int) -> dict[str, str]:
    return {str(header): str(value) for header, value in table.cells.loc[row].items() if str(value).strip()}


def _same_rows(mends: Sequence[Mend], before: TextTable, after: TextTable) -> dict[int, int | None]:
    """For each mended row, the row of the other table that is the same; each at most once."""
    shared = [header for header in before.headers if header in after.headers]
    mended_columns: dict[int, set[str]] = {}
    for mend in mends:
        mended_columns.setdefault(mend.row, set()).add(mend.column)
    unmended = {row: tuple(h for h in shared if h not in columns) for row, columns in mended_columns.items()}
    looked_up = {columns: _rows_by(after, columns) for columns in set(unmended.values())}
    found: dict[int, int | None] = {}
    taken: set[int] = set()
    for row, columns in unmended.items():
        key = tuple(str(before.cells.at[row, header]).strip() for header in columns)
        alike = [one for one in looked_up[columns].get(key, []) if one not in taken] if any(key) else []
        found[row] = row if row in alike else (alike[-1] if alike else None)
        taken |= {found[row] or 0}
    return found


def _rows_by(table: TextTable, columns: Sequence[str]) -> dict[tuple[str, ...], list[int]]:
    rows: dict[tuple[str, ...], list[int]] = {}
    for row, values in zip(table.cells.index, table.cells[list(columns)].to_numpy().tolist(), strict=True):
        rows.setdefault(tuple(str(value).strip() for value in values), []).append(int(row))
    return rows
