"""What check promises mend keeps: nothing in place, nothing twice, nothing where no fault was, all of it listed."""

import csv
import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import valuation as v
from valuation.answers.check import Next
from valuation.answers.mend import TableMend, new_name, schema_beside
from valuation.comparables.mend import Group, Mend
from valuation.comparables.mending import text_table
from valuation.errors import TableError
from valuation.text.plain import plain

TODAY = dt.date(2025, 6, 1)
SCHEMA = v.default_schema()
HEADER = "sale,date,price,outcome,family,model_year,condition,arms_length"
LINES = [
    "a,2024-05-01,24500,sold,Tern,1951,drvier,yes",
    "b,2024-05-02,-9000,sold,Tern,l951,show,yes",
    "c,2024-05-03,7000,sold,Tern,1950,project,brother",
    'd,2024-05-04,8000,solt,"=Tern, long",1950,project,yes',
    "e,2024-05-05,8000,sold,Tern,1952,driver,yes",
    "f,2024-05-05,8000,sold,Tern,1952,driver,yes",
    "g,2024-05-06,lots,sold,Tern,1952,drivr,yes",
]


def write(folder: Path, lines: list[str] = LINES, name: str = "sales.csv") -> Path:
    file = folder / name
    file.write_text("\n".join([HEADER, *lines]) + "\n", encoding="utf-8")
    return file


def checked(file: Path) -> v.Comparables:
    return v.read_comparables(file, SCHEMA, today=TODAY)


def everything(group: Group) -> tuple[Mend, ...]:
    return group.mends


def test_what_is_promised_is_what_can_be_used_afterwards(tmp_path: Path) -> None:
    file, out = write(tmp_path), tmp_path / "mended.csv"
    promised = v.check(checked(file))
    assert (promised.rows, promised.usable, promised.usable_after, promised.stays_out) == (7, 1, 3, 2)
    found = v.mend(file, out=out, today=TODAY)
    assert (found.usable, found.usable_after) == (1, 3)
    assert v.check(checked(out)).usable == 3
    assert file.read_text(encoding="utf-8").splitlines()[1:] == LINES, "nothing is changed in place"


def test_every_change_is_listed_beside_the_copy_and_starts_no_formula(tmp_path: Path) -> None:
    lines = [*LINES, "h,2024-05-07,9000,sold,Tern,=l95O,show,yes", "=h,2024-05-01,24500,sold,Tern,1951,driver,yes"]
    found = v.mend(write(tmp_path, lines), out=tmp_path / "mended.csv", today=TODAY, agree=everything)
    listed = list(csv.reader((tmp_path / "mended-changes.csv").read_text("utf-8-sig").splitlines()))
    assert listed[:3] == [
        ["row", "column", "old", "new", "why"],
        ["2", "condition", "drvier", "driver", "'drvier', 'drivr' are driver in 'condition'"],
        ["3", "model_year", "l951", "1951", "figure with a letter for a digit (l951 is 1951)"],
    ]
    assert ["3", "price", "'-9000", "9000", "price below zero (-9000 may be 9000)"] in listed
    left_out = [line for line in listed if line[3] == "(row left out)"]
    assert [line[0] for line in left_out] == ["7", "10"]
    assert left_out[1][2].startswith("'=h; 2024-05-01")
    assert not any(cell.startswith(("=", "+", "-", "@")) for line in listed for cell in line)
    assert len(listed) == len(found.changes) + 1


def test_mending_what_is_mended_changes_nothing_and_writes_nothing(tmp_path: Path) -> None:
    first = v.mend(write(tmp_path), out=tmp_path / "one.csv", today=TODAY)
    second = v.mend(tmp_path / "one.csv", out=tmp_path / "two.csv", today=TODAY)
    assert (len(first.changes), second.changes, second.written) == (4, (), "")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one-changes.csv", "one.csv", "sales.csv"]


CELLS = {
    "date": ["2024-05-01", "2024-05-02", "3/4/2024", "13/4/2024", "4/13/2024", "2 Feburuary 2024", "12/05/2025", ""],
    "price": ["24500", "24,500", "$24,5OO", "2450", "245000", "-7", "", "24.500", "12 500,-", "€5", "0"],
    "outcome": ["sold", "solt", "bid not met", "askng", "", "?", "unsold"],
    "family": ["Penhurrow", "Penhurow", "Tern", "tern", ""],
    "model_year": ["1951", "51", "l95O", "12", "-5", "", "2051"],
    "condition": ["driver", "drvier", "show", "Show.", "A-", "", "run or drive"],
    "arms_length": ["yes", "", "brother"],
    "vehicle": ["", "", "T1", "T2"],
}
ROW = st.tuples(*(st.sampled_from(texts) for texts in CELLS.values()))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(ROW, min_size=1, max_size=16), kind=st.sampled_from([".csv", ".xlsx"]))
def test_whatever_a_table_holds_a_mend_keeps_its_promises(rows, kind, tmp_path_factory) -> None:
    folder = tmp_path_factory.mktemp("mends")
    file, out = folder / "t.csv", folder / f"out{kind}"
    with file.open("w", newline="", encoding="utf-8") as lines:
        csv.writer(lines).writerows([list(CELLS), *rows])
    try:
        before = checked(file)
    except TableError:  # no row that holds anything
        return
    promised = v.check(before)
    found = v.mend(file, SCHEMA, out=out, today=TODAY)
    assert found.usable_after == promised.usable_after
    if not found.written:
        assert promised.usable == promised.usable_after
        return
    after = checked(out)
    assert after.n_usable == promised.usable_after
    assert not any(group.how == "one answer" for group in v.check(after).groups)
    assert v.mend(out, SCHEMA, today=TODAY).changes == ()
    old, new = text_table(file, SCHEMA, "t").cells, text_table(out, SCHEMA, "t").cells
    faulty = {fault.row for fault in before.faults}
    assert old.index.tolist() == new.index.tolist()
    for row in old.index:
        changed = [column for column in old.columns if old.at[row, column] != new.at[row, column]]
        assert sorted(changed) == sorted(one.column for one in found.changes if one.row == row)
        assert not changed or row in faulty


def test_what_is_agreed_to_is_done_and_nothing_else(tmp_path: Path) -> None:
    def agree(group: Group) -> list[Mend]:
        if group.code == "duplicate_sale":
            return [group.confirmed(group.rows[0])]
        return list(group.mends) if group.code == "price_negative" else []

    found = v.mend(write(tmp_path), out=tmp_path / "mended.csv", today=TODAY, agree=agree)
    assert {(one.row, one.column, one.old, one.new) for one in found.changes} == {
        (3, "price", "-9000", "9000"),
        (7, "confirmed", "", "yes"),
    }
    assert checked(tmp_path / "mended.csv").confirmed == {7}
    assert found.usable_after == 2, "row 3 has another fault still"


def test_a_workbook_is_mended_into_a_workbook_that_is_read_alike(tmp_path: Path) -> None:
    as_csv = v.mend(write(tmp_path), out=tmp_path / "one.csv", today=TODAY)
    as_book = v.mend(tmp_path / "sales.csv", out=tmp_path / "two.xlsx", today=TODAY)
    assert as_csv.changes == as_book.changes
    assert checked(tmp_path / "one.csv").fingerprint == checked(tmp_path / "two.xlsx").fingerprint
    again = v.mend(tmp_path / "two.xlsx", today=TODAY)
    assert (again.only_the_table, as_csv.only_the_table) == (True, False)


@pytest.mark.parametrize(
    ("name", "message"),
    [
        (
            "sales.csv",
            "'sales.csv' in place: your own file is never changed. Name another one with --out, such as sales-me",
        ),
        ("there.csv", "the file exists already, and nothing is written over"),
        ("listed.csv", "listed-changes.csv: the file exists already"),
        ("sales.ods", "found '.ods'. CSV and XLSX can be written"),
        ("none/out.csv", "there is no folder"),
    ],
)
def test_where_a_copy_cannot_be_written_is_said_before_anything_is_read(
    tmp_path: Path, name: str, message: str
) -> None:
    write(tmp_path)
    (tmp_path / "there.csv").write_text("mine")
    (tmp_path / "listed-changes.csv").write_text("mine")
    with pytest.raises(TableError, match=message):
        v.mend(tmp_path / "sales.csv", out=tmp_path / name)
    assert (tmp_path / "there.csv").read_text() == "mine"


def test_a_disk_that_does_not_take_the_copy_is_a_refusal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("valuation.answers.mend.write_file", full)
    with pytest.raises(TableError, match="No space left on device"):
        v.mend(write(tmp_path), out=tmp_path / "mended.csv", today=TODAY)


def test_a_name_for_the_copy_is_one_that_is_free(tmp_path: Path) -> None:
    file = write(tmp_path)
    assert new_name(file).name == "sales-mended.csv"
    (tmp_path / "sales-mended.csv").touch()
    (tmp_path / "sales-mended-2-changes.csv").touch()
    assert new_name(file).name == "sales-mended-3.csv"
    assert new_name(tmp_path / "book.ods").name == "book-mended.xlsx"


def test_the_schema_is_named_where_the_copy_would_not_find_it(tmp_path: Path) -> None:
    here, there = tmp_path / "a", tmp_path / "b"
    here.mkdir()
    there.mkdir()
    file = write(here)
    assert schema_beside(file, None, there / "out.csv") is None, "neither has one"
    (here / "schema.toml").write_text(SCHEMA.source_text)
    assert schema_beside(file, None, here / "out.csv") is None
    assert schema_beside(file, None, there / "out.csv") == here / "schema.toml"
    (there / "schema.toml").write_text("other")
    assert schema_beside(file, None, there / "out.csv") == here / "schema.toml"
    assert schema_beside(there / "table.csv", str(here / "schema.toml"), here / "out.csv") is None
    (here / "schema.toml").unlink()
    named = schema_beside(file, None, there / "out.csv")
    assert named is not None
    assert v.read_schema(named) == SCHEMA


def next_of(lines: list[str], schema: v.Schema = SCHEMA, header: str = HEADER) -> Next:
    source = "\n".join([header, *lines]).encode()
    return v.check(v.read_comparables(source, schema, today=TODAY)).next


def test_what_to_do_next_follows_from_what_was_found() -> None:
    good = [f"s{i},2024-05-{i + 1:02},{20000 + 700 * i},sold,Tern,19{40 + i},driver,yes" for i in range(14)]
    assert next_of(good) == "estimate"
    assert next_of(good[:5]) == "add sales"
    assert next_of([*good, LINES[0]]) == "mend"
    assert next_of([*good, "x,2024-06-01,-5,sold,Tern,1950,driver,yes"]) == "mend"
    assert next_of([*good, "x,2024-06-01,0,sold,Tern,1950,driver,yes"]) == "by hand"
    assert next_of([*good, LINES[2]]) == "estimate"
    own_words = [line.replace("driver", "tidy") for line in good]
    assert next_of(own_words) == "start"
    assert next_of(good, header=HEADER.replace("condition", "How it is")) == "start"
    own = v.read_schema(Path("data/schema.toml"))
    assert next_of(own_words, own) == "by hand"


def test_how_a_table_was_read_is_said_in_a_few_words() -> None:
    header = "date,hammer,outcome,line,year,state,venue"
    schema = v.read_schema(Path("data/schema.toml"))
    lines = ["3/4/2024,100,sold,Tern,1951,driver,Saltmarsh Yard", "2024-05-02,200,sold,Tern,1952,show,private"]
    source = "\n".join([header, *lines]).encode()
    assert v.check(v.read_comparables(source, schema, today=TODAY)).read_as == (
        "dates month first",
        "'hammer' is price",
        "'line' is Make and model line",
        "'year' is Model year",
        "'state' is Condition",
        "prices raised by the venue's premium: Saltmarsh Yard by 10 %",
    )


def test_the_answers_are_plain_data_and_tables(tmp_path: Path) -> None:
    found = v.mend(write(tmp_path), today=TODAY)
    assert isinstance(found, TableMend)
    data = plain(found)
    assert [one["row"] for one in data["changes"]] == [2, 3, 5, 8]
    assert data["groups"][0]["mends"][0] == {"row": 2, "column": "condition", "old": "drvier", "new": "driver"}
    assert len(plain(v.check(checked(tmp_path / "sales.csv")))["groups"]) == len(found.groups)
    assert "3 of 7 rows can be used" in str(found)


@pytest.mark.parametrize("kind", [".csv", ".xlsx"])
def test_a_price_merged_over_two_vehicles_does_not_count_as_two_sales_in_the_copy(tmp_path: Path, kind: str) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for line in [HEADER, *(line.replace(",lots,", ",4000,") for line in LINES)]:
        sheet.append([cell.strip('"') for cell in next(csv.reader([line]))])
    sheet.merge_cells("C6:C7")
    book.save(tmp_path / "sales.xlsx")
    before = checked(tmp_path / "sales.xlsx")
    assert {fault.row for fault in before.faults if fault.code == "merged_price"} == {6, 7}
    found = v.mend(tmp_path / "sales.xlsx", out=tmp_path / f"out{kind}", today=TODAY)
    parted = [(one.row, one.old, one.new, one.why) for one in found.changes if one.column == "price"]
    assert parted == [(row, "8000", "", "one price merged over several vehicles") for row in (6, 7)]
    after = checked(tmp_path / f"out{kind}")
    assert after.n_usable == found.usable_after == v.check(before).usable_after
    assert {6, 7} <= set(after.set_aside.index)


def test_a_workbook_would_not_keep_decimal_commas(tmp_path: Path) -> None:
    file = write(tmp_path)
    file.write_text(file.read_text().replace(",", ";").replace("=Tern; long", "Tern"), encoding="utf-8")
    with pytest.raises(TableError, match="decimal comma, which a workbook would not keep"):
        v.mend(file, out=tmp_path / "out.xlsx", today=TODAY)
    assert v.mend(file, out=tmp_path / "out.csv", today=TODAY).usable_after == 3
