"""The ledger from the terminal: what is kept, corrected, listed, asked about and refused."""

import io
import json
import shutil
from contextlib import closing
from pathlib import Path

import pytest

from valuation.answers.add import add_to_ledger, told
from valuation.answers.tables import Tables
from valuation.cli import exits, main
from valuation.errors import LedgerError
from valuation.ledger import Ledger

DAY = ["--as-of", "2025-12-31"]


@pytest.fixture
def own(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop's folder where one works, without a ledger so far."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("VALUATION_LEDGER", raising=False)
    for name in ("comparables.csv", "vehicle.toml"):
        shutil.copy(shop / name, tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def begun(shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with the table and one estimate in it."""
    ledger = tmp_path_factory.mktemp("begun") / "valuation.sqlite"
    words = ["--comparables", str(shop / "comparables.csv"), "--ledger", str(ledger), *DAY]
    assert main(["keep", "estimate", str(shop / "vehicle.toml"), *words]) == exits.DONE
    return ledger.parent


@pytest.fixture
def kept(own: Path, begun: Path) -> Path:
    """The shop's folder with that ledger."""
    for file in begun.iterdir():
        shutil.copy(file, own)
    return own


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]):
    def ran(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        code = main(list(words))
        said = capsys.readouterr()
        return code, said.out, said.err

    return ran


def flat(text: str) -> str:
    """A text as one line."""
    return " ".join(text.split())


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def answer_with(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr("sys.stdin", Terminal(text))
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)


def test_an_estimate_is_kept_with_the_table_found_here_and_again_with_the_same(own: Path, run) -> None:
    code, said, _ = run("keep", "estimate", "vehicle.toml", *DAY)
    assert code == exits.DONE
    assert flat(said).startswith("Kept as estimate 1: Wren of 1952 is worth about ")
    assert said.count("\n") <= 24
    assert 'Next: valuation keep offer "Wren of 1952" AMOUNT' in flat(said)
    assert run("keep", "estimate", "family=garrow-wren", "model_year=1950", "condition=Show", *DAY)[0] == exits.DONE
    with Ledger.open("valuation.sqlite") as book:
        assert [one.subject for one in book.estimates()] == ["Wren of 1952", "Garrow Wren 1950 show"]
        assert len(book.tables()) == len(book.models()) == 1
        assert json.loads(book.estimate(2).vehicle) == {
            "family": "Garrow Wren", "model_year": 1950.0, "condition": "show"}  # fmt: skip


def test_the_estimate_kept_is_the_one_that_estimate_gives(kept: Path, run) -> None:
    found = json.loads(run("estimate", "vehicle.toml", *DAY, "--json")[1])
    with Ledger.open("valuation.sqlite") as book:
        summary = book.estimate_summary(1)
    assert (summary["median"], summary["interval"], summary["grid"]) == (
        found["median"], found["interval"], found["grid"])  # fmt: skip


def test_a_level_that_looks_misspelt_is_refused_until_it_is_said_to_be_new(own: Path, run) -> None:
    words = ["keep", "estimate", "family=Garrow Wrem", "condition=driver", *DAY]
    code, _, err = run(*words)
    assert code == exits.REFUSED
    assert "Did you mean 'Garrow Wren'?" in err
    assert run(*words, "--as-written")[0] == exits.DONE


def test_an_offer_its_correction_and_its_answer(kept: Path, run) -> None:
    code, said, _ = run("keep", "offer", "wren of 1952", "30,000", "--buyer", "Ada", "--on", "2026-01-05")
    assert code == exits.DONE
    assert flat(said).startswith("Kept as offer 1: Ada offered 30,000 for Wren of 1952 on 5 January 2026.")
    code, said, _ = run("keep", "offer", "wren of 1952", "31000", "--corrects", "1", "--reason", "misheard")
    assert flat(said).startswith("Corrected offer 1, which is offer 2 now: Ada offered 31,000 for Wren of 1952")
    assert "amount: was 30,000, is 31,000 (misheard)" in flat(said)
    code, said, _ = run("keep", "answer", "2", "counter", "33000")
    assert flat(said).startswith("Kept as offer 3: Ada offered 31,000 for Wren of 1952 on 5 January 2026; countered")
    assert "countered with 33,000." in flat(said)
    assert run("keep", "offer", "wren of 1952", "31000", "--corrects", "1")[0] == exits.REFUSED, (
        "it is corrected already"
    )
    with Ledger.open("valuation.sqlite") as book:
        (offer,) = book.offers("Wren of 1952")
        assert (offer.id, offer.amount, offer.who, offer.answer, offer.counter) == (3, 31_000, "Ada", "counter", 33_000)
        assert [one.amount for one in offer.history] == [30_000, 31_000]
    said = run("vehicles", "Wren of 1952")[1]
    assert "Ada: 31,000; countered with 33,000 (corrected)" in flat(said)
    code, said, _ = run("keep", "withdrawal", "offer", "3", "--reason", "a joke")
    assert flat(said).startswith("Offer 3 of 'Wren of 1952' is withdrawn: a joke.")
    assert "offer" not in run("vehicles", "Wren of 1952")[1].partition("record")[2].partition("Next")[0]


def test_a_vehicle_is_told_as_its_page_tells_it_and_its_talks_buyer_by_buyer(kept: Path, run) -> None:
    for buyer, amount, on in (("Ada", "30000", "05"), ("Bo", "29000", "06"), ("ada", "31000", "07")):
        run("keep", "offer", "Wren of 1952", amount, "--buyer", buyer, "--on", f"2026-01-{on}")
    run("keep", "answer", "2", "decline")
    with Ledger.open("valuation.sqlite") as book:
        book.add_vehicle(subject="Heron in the barn", found={"family": "Garrow Heron"}, bought_on="2026-01-02")
        book.show_as("vehicle", "Heron in the barn", name="The green one")
    said = flat(run("vehicles", "wren of 1952")[1])
    rows = [said.index(one) for one in ("Ada: 30,000", "ada: 31,000", "Bo: 29,000; declined")]
    assert rows == sorted(rows), "buyer by buyer"
    assert "Ada offers 31,000: it waits for your answer." in said.replace("ada offers", "Ada offers")
    assert "You declined the 29,000 of Bo" in said
    assert "What it is: Garrow Wren, 1952" in said
    said = flat(run("vehicles", "the green one")[1])
    assert said.startswith("Not valued yet.")
    assert "What to pay: Bought on 2 January 2026." in said


def test_an_unlikely_figure_is_asked_about_on_a_terminal_and_refused_elsewhere(
    kept: Path, run, monkeypatch: pytest.MonkeyPatch
) -> None:
    offer = ["keep", "offer", "Wren of 1952", "900000"]
    code, _, err = run(*offer)
    assert code == exits.REFUSED
    assert "Is 900,000 right?" in err
    assert "To confirm it, say --confirm. [ledger.unlikely]" in err
    answer_with(monkeypatch, "n\n")
    code, _, err = run(*offer)
    assert (code, "Nothing was written, since it was not confirmed." in err) == (exits.REFUSED, True)
    answer_with(monkeypatch, "y\n")
    code, said, err = run(*offer)
    assert code == exits.DONE
    assert flat(said).startswith("Kept as offer 1:")
    assert err.endswith("[y/N] ")
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert run(*offer, "--confirm")[0] == exits.DONE


def test_a_sale_is_kept_once_a_day_and_set_against_the_estimate_made_before(kept: Path, run) -> None:
    sale = ["keep", "sale", "Wren of 1952", "30000", "--on", "2026-12-20", "--confirm"]
    code, said, _ = run(*sale)
    assert flat(said).startswith("Kept as sale 1: Wren of 1952 was sold for 30,000 on 20 December 2026.")
    assert "The estimate made before was" in flat(said)
    assert "Next: valuation add --sale 1" in flat(said)
    code, _, err = run("keep", "sale", "Wren of 1952", "30000", "--on", "2026-12-20")
    assert (code, "sold twice on 20 December 2026" in err) == (exits.REFUSED, True)
    code, said, _ = run("keep", "sale", "Wren of 1952", "31000", "--corrects", "1", "--reason", "counted again")
    assert flat(said).startswith("Corrected sale 1, which is sale 2 now: Wren of 1952 was sold for 31,000")
    code, said, _ = run("record")
    assert flat(said).startswith("Of the 1 sale with an estimate made before, ")
    assert "31,000" in flat(said)
    assert said.count("\n") <= 24
    found = json.loads(run("record", "--json")[1])
    assert (found["pairs"][0]["price"], found["sentence"].split(",")[0]) == (
        31_000, "Of the 1 sale with an estimate made before")  # fmt: skip
    code, said, _ = run("vehicles")
    assert flat(said).startswith("1 vehicle in the ledger: 1 sold. ")
    assert json.loads(run("vehicles", "--json")[1])["vehicles"][0]["price"] == 31_000


def test_a_realised_sale_goes_into_the_table_on_a_yes_and_never_twice(
    kept: Path, run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = Path("comparables.csv").read_bytes()
    sale = ["keep", "sale", "Wren of 1952", "30000", "--on", "2026-01-20"]
    answer_with(monkeypatch, "n\n")
    assert run(*sale)[0] == exits.DONE
    assert Path("comparables.csv").read_bytes() == before
    answer_with(monkeypatch, "y\n")
    code, said, _ = run(*sale[:-1], "2026-01-21")
    assert "Added to comparables.csv as row 47, version 2 in the ledger: sold for 30,000." in flat(said)
    line = b"own-2,2026-01-21,30000,sold,Garrow Wren,1952,driver,fresh\n"
    assert Path("comparables.csv").read_bytes() == before + line
    with Ledger.open("valuation.sqlite") as book:
        assert book.content(book.tables()[-1].source) == before + line
        assert book.tables()[-1].version == 2
    monkeypatch.setattr("sys.stdin", io.StringIO())
    for again in (["add", "--sale", "2"], ["add", "comparables.csv", "--sale", "2"]):
        code, _, err = run(*again)
        assert (code, "row 47 is this sale already. Nothing was written." in err) == (exits.REFUSED, True)
    assert run("add", "--sale", "1")[0] == exits.DONE, "the one that was left out before"
    assert Path("comparables.csv").read_bytes().startswith(before + line)


def test_a_corrected_sale_is_still_the_row_that_it_was(kept: Path, run) -> None:
    assert run("keep", "sale", "Wren of 1952", "30000", "--on", "2026-01-20", "--into-table")[0] == exits.DONE
    assert run("keep", "sale", "Wren of 1952", "29000", "--corrects", "1")[0] == exits.DONE
    code, _, err = run("add", "--sale", "2")
    assert (code, "row 47 is this sale already" in err) == (exits.REFUSED, True)


def test_a_sale_within_the_family_stays_out_of_the_table(kept: Path, run) -> None:
    assert run("keep", "sale", "Wren of 1952", "30000", "--on", "2026-01-20", "--related")[0] == exits.DONE
    code, _, err = run("add", "--sale", "1")
    assert (code, "it was not at arm's length" in err) == (exits.REFUSED, True)


def test_a_sale_told_in_words_becomes_the_last_row_and_nothing_else_changes(own: Path, run) -> None:
    before = Path("comparables.csv").read_bytes()
    words = ["price=24,500", "date=2025-05-03", "family=garrow wren", "model_year=1951", "condition=Driver"]
    code, said, _ = run("add", *words, "--dry-run")
    assert flat(said).startswith("Row 47 of comparables.csv would be: sold for 24,500.")
    assert "Say it again without --dry-run to write it." in flat(said)
    assert Path("comparables.csv").read_bytes() == before
    assert not Path("valuation.sqlite").exists()
    code, said, _ = run("add", *words)
    assert code == exits.DONE
    assert flat(said).startswith("Added to comparables.csv as row 47: sold for 24,500.")
    assert said.count("\n") <= 24
    line = ',2025-05-03,"24,500",sold,garrow wren,1951,Driver,'
    assert line in said
    assert Path("comparables.csv").read_bytes() == before + line.encode() + b"\n"
    assert not Path("valuation.sqlite").exists(), "no ledger is begun by the way"
    found = json.loads(run("add", "comparables.csv", *words[:1], "date=2025-05-04", "--json")[1])
    assert (found["row"], found["version"], found["written"], found["paid"]) == (48, None, True, 24_500)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "say what was sold in words"),
        (["comparables.csv"], "say what was sold in words"),
        (["price=9000", "date=2025-05-03", "condition=drvier"], "Write 'driver' if that is meant"),
        (["price=9000", "date=2025-05-03", "conditiom=driver"], "Did you mean 'condition'?"),
        (["price=9000", "date=2025-05-03", "body=pickup"], "the table has no column for it. Add one headed 'body'"),
        (["nowhere.csv", "price=9000"], "No such file or directory"),
        (["--sale", "3"], "there is none at valuation.sqlite"),
    ],
)
def test_a_sale_that_cannot_be_added_is_refused_and_the_table_stays(own: Path, run, words, message) -> None:
    before = Path("comparables.csv").read_bytes()
    code, _, err = run("add", *words)
    assert code == exits.REFUSED
    assert message in err
    assert Path("comparables.csv").read_bytes() == before
    assert sorted(path.name for path in own.iterdir()) == ["comparables.csv", "vehicle.toml"]


def test_a_workbook_stays_as_it_is_and_the_ledger_takes_the_row(own: Path, run) -> None:
    import pandas as pd

    pd.read_csv("comparables.csv", dtype=str).to_excel("sales.xlsx", index=False)
    Path("comparables.csv").unlink()
    before = Path("sales.xlsx").read_bytes()
    words = ["price=24500", "date=2025-05-03", "family=Garrow Wren", "condition=driver"]
    code, _, err = run("add", "sales.xlsx", *words)
    assert code == exits.REFUSED
    assert "Type the row below its last one (date: 2025-05-03; price: 24500; outcome: sold; family: Garrow Wren;" in err
    assert "valuation keep table sales.xlsx" in err
    assert run("keep", "table", "sales.xlsx")[0] == exits.DONE
    assert flat(run("keep", "mend", "46", "condition=driver")[1]).startswith(
        "Kept the mend of row 46: condition was 'drvier'"
    )
    code, said, _ = run("add", *words)
    assert flat(said).startswith("Added to sales.xlsx as row 47, version 4 in the ledger: sold for 24,500.")
    assert Path("sales.xlsx").read_bytes() == before
    with Ledger.open("valuation.sqlite") as book:
        newest = book.tables()[-1]
        assert (newest.source_name, newest.rows, newest.faults) == ("sales.csv", 46, 0), "row and mend are both there"
        assert book.content(newest.source).decode().splitlines()[-1] == ",2025-05-03,24500,sold,Garrow Wren,,driver,"


def test_a_table_kept_again_is_one_and_its_mends_are_made_again(own: Path, run) -> None:
    code, said, _ = run("keep", "table", "comparables.csv")
    assert flat(said).startswith("Kept comparables.csv as version 1 of 'comparables.csv': 45 rows, 44 of them usable.")
    assert flat(run("keep", "table", "comparables.csv")[1]).startswith(
        "comparables.csv is in the ledger already, as version 1"
    )
    assert run("keep", "mend", "46", "condition=driver")[0] == exits.DONE
    assert run("keep", "mend", "46", "condition=driver")[0] == exits.REFUSED, "it says that already"
    for words, message in (
        (["460", "condition=driver"], "no cell in row 460"),
        (["46", "conditiom=driver"], "Did you mean 'condition'?"),
        (["46", "condition=driver", "--table", "other"], "no table 'other' is in the ledger; it has 'comparables.csv'"),
    ):
        code, _, err = run("keep", "mend", *words)
        assert (code, message in err) == (exits.REFUSED, True), err
    with Path("comparables.csv").open("a") as file:
        file.write("S91,2025-04-15,9000,sold,Garrow Wren,1950,runner,worn\n")
    code, said, _ = run("keep", "table", "comparables.csv")
    assert flat(said).startswith(
        "Kept comparables.csv as version 4 of 'comparables.csv': 46 rows, 46 of them usable. 1 mend of"
    )


def test_a_sale_is_not_added_to_a_version_that_another_hand_has_gone_on_from(kept: Path, run) -> None:
    with closing(Tables("valuation.sqlite")) as tables:
        seen = tables.newest_table()
        assert seen is not None
        assert run("keep", "mend", "46", "condition=driver")[0] == exits.DONE
        row = told({"price": "24500", "date": "2025-05-03", "condition": "driver"})
        with pytest.raises(LedgerError, match=r"made from table 1, and table 2 is newer"):
            add_to_ledger(tables, seen, row)
        assert [one.version for one in tables.tables()] == [2, 1]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["vehicles"], "there is none at valuation.sqlite. Begin one with 'valuation keep table TABLE'"),
        (["record"], "there is none at valuation.sqlite"),
        (["keep", "offer", "Wren", "9000"], "the ledger has none yet. Keep an estimate first"),
        (["keep", "table", "nowhere.csv"], "Cannot read the table nowhere.csv: No such file"),
    ],
)
def test_before_anything_is_kept_the_commands_say_how_to_begin(own: Path, run, words, message) -> None:
    code, _, err = run(*words)
    assert (code, message in err) == (exits.REFUSED, True), err


def test_a_vehicle_that_is_not_there_is_named_by_the_nearest(kept: Path, run) -> None:
    code, _, err = run("keep", "offer", "Wren of 1953", "9000")
    assert code == exits.REFUSED
    assert "it has 'Wren of 1952'. Did you mean 'Wren of 1952'?" in err
    run("keep", "estimate", "name=the Heron", "family=Garrow Heron", *DAY)
    run("keep", "offer", "the Heron", "20000", "--confirm")
    code, _, err = run("keep", "offer", "Wren of 1952", "21000", "--corrects", "1")
    assert "it is about 'the Heron', and 'Wren of 1952' was named" in err


def test_every_answer_fits_a_small_screen_until_all_is_asked_for(kept: Path, run) -> None:
    for number in range(12):
        run("keep", "offer", "Wren of 1952", str(20_000 + number), "--confirm")
    said = run("vehicles", "Wren of 1952")[1]
    assert said.count("\n") <= 24
    assert "5 more with --all." in flat(said)
    assert "20,000" not in flat(said)
    assert "20,000" in run("vehicles", "Wren of 1952", "--all")[1]
