"""A copy of each table is read like the table itself: the same sales, the same rows set aside."""

import pytest
from make_tables import FILES
from test_tables import READ, TODAY, expected, schema_of

from valuation.answers.mend import mend
from valuation.comparables.mend import Mend
from valuation.comparables.reader import choose_table, from_text_table, read_comparables
from valuation.errors import TableError


@pytest.mark.parametrize("kind", [".csv", ".xlsx"])
@pytest.mark.parametrize("name", READ)
def test_a_copy_is_read_like_the_table_itself(name, kind, tmp_path, monkeypatch):
    schema, out = schema_of(expected(name)), tmp_path / f"copy{kind}"
    text = choose_table(FILES / name, schema, today=TODAY)
    before = from_text_table(text, schema, TODAY)
    row, column = int(before.sales.index[0]), text.headers[0]
    old = str(text.cells.at[row, column])
    touched = Mend(row, column, old, f"{old} "), "so that there is something to write"
    monkeypatch.setattr("valuation.answers.mend.mended_as_agreed", lambda found, agree: (found, (touched,)))
    if text.comma_decimals and kind == ".xlsx":
        with pytest.raises(TableError, match="decimal comma"):
            mend(FILES / name, schema, out=out, today=TODAY)
        return
    mend(FILES / name, schema, out=out, today=TODAY)
    after = read_comparables(out, schema, today=TODAY)
    assert after.sales.index.tolist() == before.sales.index.tolist()
    assert after.fingerprint == before.fingerprint
    assert after.set_aside.index.tolist() == before.set_aside.index.tolist()
