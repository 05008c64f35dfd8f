"""Mends as changes between versions: found byte for byte, put into other versions, never where they do not belong."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.comparables.mending import mended, text_table
from valuation.comparables.mends import (
    Clash,
    Mend,
    mends_between,
    mends_since,
    one_after_another,
    reapply,
    written,
)
from valuation.errors import TableError
from valuation.schema import default_schema

SCHEMA = default_schema()
FILE = (
    b"date,price,outcome,condition,source\n2025-01-01,100,sold,drvier,a\n2025-01-02,2000,sold,driver,b\n"
    b"2025-01-03,300,sold,show,c\n2025-01-03,300,sold,show,c\n"
)


def read(source):
    return text_table(source, SCHEMA, "t.csv")


def with_row(line, at=1):
    lines = FILE.split(b"\n")
    return b"\n".join([*lines[:at], line, *lines[at:]])


CELL = Mend(2, "condition", "drvier", "driver")


def test_a_mended_version_tells_its_mends_and_a_brought_file_tells_none():
    base = read(FILE)
    mends = (Mend(5, ""), CELL, Mend(3, "confirmed", "", "yes"))
    source = written(base, mends)
    assert set(mends_between(base, read(source), source)) == set(mends)
    edited = FILE.replace(b"drvier", b"driver")
    assert mends_between(base, read(edited), edited) is None, "line ends differ: somebody's own file"
    longer = with_row(b"2025-02-01,5,sold,show,z")
    assert mends_between(base, read(longer), longer) is None


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(
        st.tuples(st.integers(2, 5), st.sampled_from(["price", "condition", "source"])),
        st.text(st.characters(codec="ascii", exclude_characters="\r\n\x00", exclude_categories=["Cc"]), max_size=8),
        max_size=5,
    ),
    st.sets(st.integers(2, 4), max_size=2),
)
def test_what_was_mended_is_found_again_whatever_it_was(cells, left_out):
    base = read(FILE)
    source = mended(base, {key: text.strip() for key, text in cells.items()}, left_out=left_out)
    after = read(source)
    found = mends_between(base, after, source)
    if found is not None:  # a row that was blanked altogether is no row any more
        assert written(base, found) == source
    wanted = {(r, c) for (r, c), t in cells.items() if r not in left_out and t.strip() != base.cells.at[r, c]}
    blanked = set(base.cells.index) - set(after.cells.index) - left_out
    assert found is not None or blanked
    if found is not None and not blanked:
        assert {(m.row, m.column) for m in found if not m.leaves_out} == wanted


def test_mends_add_up_and_cancel():
    back = Mend(2, "condition", "driver", "drvier")
    assert one_after_another([CELL], [Mend(2, "condition", "driver", "show")]) == (
        Mend(2, "condition", "drvier", "show"),
    )
    assert one_after_another([CELL], [back]) == ()
    assert one_after_another([CELL], [Mend(2, "")]) == (Mend(2, ""),)


def test_the_chain_goes_back_to_the_file_that_was_brought():
    one = written(read(FILE), [CELL])
    two = written(read(one), [Mend(4, "")])
    older = b"date,price\n2020-01-01,5\n"
    versions = [(read(two), two), (read(one), one), (read(FILE), FILE), (read(FILE), FILE), (read(older), older)]
    assert mends_since(versions) == (3, (Mend(4, ""), CELL))
    assert mends_since([(read(FILE), FILE), (read(two), two)]) == (0, ()), "a file brought anew stands by itself"


def test_a_mend_follows_its_row_to_another_place():
    newer = read(with_row(b"2024-12-01,7,sold,show,new"))
    reapplied = reapply([CELL, Mend(4, "")], read(FILE), newer)
    assert reapplied.fits == (Mend(3, "condition", "drvier", "driver"), Mend(6, "")), "of two alike the last"
    assert reapplied.clashes == ()


def test_a_row_that_is_only_like_it_is_left_alone():
    newer = read(FILE.replace(b"2025-01-01,100", b"2025-01-09,100"))
    reapplied = reapply([CELL], read(FILE), newer)
    assert (reapplied.fits, reapplied.clashes) == ((), (Clash(CELL, None),))


def test_a_cell_that_holds_something_else_by_now_is_named_with_what_it_holds():
    assert reapply([CELL], read(FILE), read(FILE.replace(b"drvier", b"project"))).clashes == (Clash(CELL, "project"),)
    assert reapply([CELL], read(FILE), read(FILE.replace(b"drvier", b"driver"))).already == (CELL,)
    without = b"date,price,outcome,source\n2025-01-01,100,sold,a\n2025-01-02,2000,sold,b\n"
    assert reapply([CELL], read(FILE), read(without)).clashes == (Clash(CELL, None),)


def test_two_mends_of_one_row_meet_where_rows_keep_their_numbers():
    mine, theirs = Mend(2, "price", "100", "1000"), CELL
    newest = read(written(read(FILE), [theirs]))
    assert reapply([mine], read(FILE), newest, same_rows=True).fits == (mine,)
    assert reapply([Mend(2, "condition", "drvier", "show")], read(FILE), newest, same_rows=True).clashes == (
        Clash(Mend(2, "condition", "drvier", "show"), "driver"),
    )
    assert reapply([Mend(2, "")], read(FILE), newest, same_rows=True).clashes == (Clash(Mend(2, ""), ""),)
    gone = read(written(read(FILE), [Mend(2, "")]))
    assert reapply([mine], read(FILE), gone, same_rows=True).clashes == (Clash(mine, None),)


def test_a_confirmed_row_is_confirmed_again_in_a_file_without_that_column():
    confirmed = Mend(3, "confirmed", "", "yes")
    newer = read(with_row(b"2024-12-01,7,sold,show,new"))
    reapplied = reapply([confirmed], read(FILE), newer)
    assert reapplied.fits == (Mend(4, "confirmed", "", "yes"),)
    assert read(written(newer, reapplied.fits)).cells.at[4, "confirmed"] == "yes"


def test_a_mend_of_a_column_that_is_not_there_is_refused():
    with pytest.raises(TableError, match="no cell in row 2 under 'colour'"):
        written(read(FILE), [Mend(2, "colour", "", "red")])
