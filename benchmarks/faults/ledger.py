"""What the ledger and the file writers survive: killed programs, full and closed disks, held databases, two at once.

Run: python -m benchmarks.faults.ledger [--rounds 300]

Each round of the first line starts a real process that writes and says of each write that it is done, ends it with
SIGKILL at a random moment, and opens what is left: every write that was said to be done must be there, and the check
must find nothing. The method is that of "How SQLite Is Tested" (crash, input and output, and out-of-space tests).
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from valuation.errors import ValuationError
from valuation.files import write_file
from valuation.ledger import Ledger
from valuation.ledger import migrate as migrating
from valuation.regression.saved import load_model, save_model
from valuation.sell.offer_log import held_offer_log, read_offer_log, write_offer_log
from valuation.sell.offers import Offer

ROOT = Path(__file__).parents[2]
MODEL = ROOT / "models" / "demo.json"
OLD = ROOT / "tests" / "service" / "ledger" / "ledger_at_m0001.sql"
"""Dump of a ledger at its first format."""
LONGEST_WAIT = 0.25
"""Seconds after the first write within which a program is ended."""
NOBODY = 65534

Say = Callable[[int], None]


def import_table(ledger: Ledger, number: int) -> None:
    source = f"vehicle,price\nTern,{number}\n".encode() * 2000
    ledger.add_table(name="t", schema={}, source=source, source_name="t.csv", fingerprint=f"{number}", rows=1, faults=0)


def estimate(ledger: Ledger, number: int) -> None:
    interval = {"coverage": 0.8, "low": 16_000.0, "high": 24_000.0}
    summary = {"as_of": "2025-03-01", "currency": "EUR", "median": 20_000.0, "interval": interval, "n": number}
    ledger.add_estimate(subject="Tern", vehicle={"model_year": 1951}, model_id=1, summary=summary)


def offer(ledger: Ledger, number: int) -> None:
    ledger.add_offer(subject="Tern", amount=number, offered_on="2025-03-01")


def sale(ledger: Ledger, number: int) -> None:
    ledger.add_sale(estimate_id=1, price=20_000.0 + number, sold_on="2025-03-01", kind="private")


LEDGER_WRITERS = {
    "import": (import_table, lambda ledger: len(ledger.tables()) - 1),
    "estimate": (estimate, lambda ledger: len(ledger.estimates()) - 1),
    "offer": (offer, lambda ledger: len(ledger.offers())),
    "sale": (sale, lambda ledger: len(ledger.sales())),
}


def stocked(folder: Path) -> Path:
    """A ledger with a table, a model and an estimate."""
    file = folder / "l.sqlite"
    with Ledger.open(file) as ledger:
        import_table(ledger, 0)
        ledger.add_model(text=MODEL.read_text(encoding="utf-8"), table_id=1)
        estimate(ledger, 0)
    return file


def killed(work: Callable[[Say], None], wait: float) -> int:
    """Run work in a process, end it with SIGKILL so long after its first write, and give the last number said."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        try:
            os.close(reading)
            work(lambda number: os.write(writing, f"{number}\n".encode()) and None)
            time.sleep(60)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading) as said:
        first = said.readline()
        time.sleep(wait)
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        numbers = [first, *said.readlines()]
    whole = [int(line) for line in numbers if line.endswith("\n")]
    return whole[-1] if whole else 0


def kill_round(kind: str, folder: Path, stock: Path, wait: float) -> str:
    """One round; what went wrong, or nothing."""
    file = folder / "l.sqlite"
    if kind in LEDGER_WRITERS:
        write, count = LEDGER_WRITERS[kind]
        shutil.copy(stock, file)

        def writes(say: Say) -> None:
            with Ledger.open(file) as ledger:
                say(0)
                for number in range(1, 100_000):
                    write(ledger, number)
                    say(number)

        done = killed(writes, wait)
        return sound(file, lambda ledger: count(ledger) >= done)
    if kind == "backup":
        shutil.copy(stock, file)

        def back_up(say: Say) -> None:
            with Ledger.open(file) as ledger:
                say(0)
                for number in range(1, 100_000):
                    ledger.backup(folder / f"b{number}.sqlite")
                    say(number)

        done = killed(back_up, wait)
        names = [folder / f"b{number}.sqlite" for number in range(1, done + 1)]
        found = [sound(copy, lambda ledger: len(ledger.estimates()) == 1) for copy in (*names, file)]
        return next((one for one in found if one), "")
    if kind == "migration":
        with sqlite3.connect(file) as old:
            old.executescript(OLD.read_text(encoding="utf-8"))
        old.close()

        def bring_up(say: Say) -> None:
            say(0)
            Ledger.open(file)
            say(1)

        killed(bring_up, wait / 5)
        return sound(file, lambda ledger: len(ledger.sales()) == 1 and ledger.version == migrating.steps()[-1])
    return kill_writers(folder, wait)


def add_offer(file: Path, made: Offer) -> None:
    """One more offer in a log, as the command line adds it."""
    with held_offer_log(file) as log:
        write_offer_log(file, log.added(made))


def kill_writers(folder: Path, wait: float) -> str:
    """The writers of the command line: the log of offers, a saved model, a sheet."""
    model, log = load_model(MODEL), folder / "talks.json"

    def writes(say: Say) -> None:
        say(0)
        for number in range(1, 100_000):
            add_offer(log, Offer(1000.0 + number))
            save_model(model, folder / "model.json")
            write_file(folder / "sheet.pdf", b"%PDF" * 50_000)
            say(number)

    done = killed(writes, wait)
    if done:
        kept = len(read_offer_log(log).offers)
        if kept < done:
            return f"{done - kept} offers lost"
        load_model(folder / "model.json")
        if (folder / "sheet.pdf").stat().st_size != 200_000:
            return "half a sheet"
    add_offer(log, Offer(1.0))  # a lock that the dead program held is free
    return ""


def sound(file: Path, holds: Callable[[Ledger], bool]) -> str:
    """What is wrong with a ledger, or nothing."""
    try:
        with Ledger.open(file) as ledger:
            report = ledger.check()
            if not report.sound:
                return f"not sound: {report.problems[0]}"
            return "" if holds(ledger) else "an acknowledged write is missing"
    except ValuationError as error:
        return str(error)


def kills(rounds: int) -> tuple[str, bool]:
    dice, kinds = random.Random(1), [*LEDGER_WRITERS, "backup", "migration", "command-line writers"]
    wrong: list[str] = []
    done: Counter[str] = Counter()
    leftovers = 0
    with tempfile.TemporaryDirectory() as name:
        stock = stocked(Path(name))
        for number in range(rounds):
            kind = kinds[number % len(kinds)]
            with tempfile.TemporaryDirectory() as folder:
                found = kill_round(kind, Path(folder), stock, dice.uniform(0, LONGEST_WAIT))
                leftovers += sum(path.name.endswith(".part") for path in Path(folder).iterdir())
            done[kind] += 1
            if found:
                wrong.append(f"{kind}: {found}")
    counts = ", ".join(f"{kind} {count}" for kind, count in done.items())
    line = f"kill -9: {rounds} rounds ({counts}); rounds with a loss or an unsound ledger: {len(wrong)}; "
    return line + f"unfinished files left by the dead: {leftovers} {wrong[:3] or ''}", not wrong


def in_child(work: Callable[[], str], timeout: int = 120) -> str:
    """What work says in a process of its own."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        try:
            signal.alarm(timeout)
            os.write(writing, work().encode())
        finally:
            os._exit(0)
    os.close(writing)
    os.waitpid(process, 0)
    with os.fdopen(reading) as said:
        return said.read()


def full_disk() -> tuple[str, bool]:
    with tempfile.TemporaryDirectory() as name:
        file = stocked(Path(name))

        def fill() -> str:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            with Ledger.open(file) as ledger:
                # The room that a small disk has left: a little over what the ledger takes now.
                room = file.stat().st_size + 300_000
                resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
                number = 0
                try:
                    while True:
                        import_table(ledger, number + 1)
                        number += 1
                except ValuationError as error:
                    return json.dumps([number, str(error)])

        written, said = json.loads(in_child(fill))
        found = sound(file, lambda ledger: len(ledger.tables()) == written + 1)
        left = [path.name for path in Path(name).iterdir() if path.name.endswith(".part")]
    ok = not found and not left and "Cannot write" in said
    return f"full disk: {written} writes taken, the next refused ({said[-60:]!r}); then {found or 'sound'}", ok


def read_only() -> tuple[str, bool]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        file = stocked(folder)
        for path in folder.iterdir():
            path.chmod(0o444)
        folder.chmod(0o555)

        def write() -> str:
            if os.geteuid() == 0:  # the administrator may write anywhere
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            try:
                with Ledger.open(file) as ledger:
                    offer(ledger, 1)
            except ValuationError as error:
                return str(error)
            return "written"

        said = in_child(write)
        folder.chmod(0o755)
        for path in folder.iterdir():
            path.chmod(0o644)
        found = sound(file, lambda ledger: ledger.offers() == ())
    return f"read-only: refused ({'does not allow writing' in said}); then {found or 'sound'}", (
        "does not allow writing" in said and not found
    )


def locked_database() -> tuple[str, bool]:
    with tempfile.TemporaryDirectory() as name:
        file = stocked(Path(name))
        holder = sqlite3.connect(file, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        begun = time.monotonic()
        try:
            with Ledger.open(file, wait=0.5) as ledger:
                offer(ledger, 1)
            said = "written"
        except ValuationError as error:
            said = str(error)
        waited = time.monotonic() - begun
        holder.execute("ROLLBACK")
        holder.close()
        found = sound(file, lambda ledger: ledger.offers() == ())
    ok = "another program has been writing" in said and not found
    return f"locked: refused after {waited:.1f} s of 0.5 asked; then {found or 'sound'}", ok


TWO = """
import sys
from valuation.ledger import Ledger
with Ledger.open(sys.argv[1]) as ledger:
    for number in range(int(sys.argv[2])):
        ledger.add_offer(subject="Tern", amount=number + 1, offered_on="2025-03-01", who=sys.argv[3])
"""


def two_at_once(offers: int) -> tuple[str, bool]:
    with tempfile.TemporaryDirectory() as name:
        file = stocked(Path(name))
        command = [sys.executable, "-c", TWO, str(file), str(offers)]
        programs = [subprocess.Popen([*command, who]) for who in ("Ada", "Ben")]
        ended = [program.wait(600) for program in programs]
        found = sound(file, lambda ledger: len(ledger.offers()) == 2 * offers)
    return f"two programs on one ledger: {2 * offers} offers; then {found or 'all there, sound'}", (
        ended == [0, 0] and not found
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--rounds", type=int, default=300)
    words = parser.parse_args()
    begun = time.monotonic()
    held = True
    parts = (lambda: kills(words.rounds), full_disk, read_only, locked_database, lambda: two_at_once(words.rounds))
    for part in parts:
        line, ok = part()
        held = held and ok
        print(("ok   " if ok else "FAIL ") + line, flush=True)
    print(f"{time.monotonic() - begun:.0f} seconds")
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
