"""Fuzzing by mutation over every loader: whatever a file holds, it ends in an answer or in the project's own refusal.

    python -m benchmarks.faults.fuzz [--inputs 100000] [--seconds 1500] [--seed 1]

Starts from one good file of each kind, breaks it in one to four ways (bytes, characters, tokens that have broken
readers before, cells of the archive inside a workbook, values below a model's right seal), and feeds it to the loader.
Prints one line for each loader; the exit code is 1 when anything but a refusal of the project's own escaped.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import sys
import tempfile
import time
import traceback
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from valuation.build.plan_file import read_plan
from valuation.build.plan_template import PLAN_TEMPLATE
from valuation.comparables import read_comparables
from valuation.errors import ValuationError
from valuation.evidence.price_index import read_price_index
from valuation.regression.saved import _seal, load_model
from valuation.schema import default_schema, read_schema, read_vehicle
from valuation.sell.offer_log import read_offer_log

ROOT = Path(__file__).parents[2]
TODAY = date(2026, 9, 30)
TOKENS = [
    b"", b"0", b"-1", b"1e999", b"-1e308", b"9" * 400, b"9" * 5000, b"nan", b"NaN", b"inf", b"Infinity", b"-Infinity",
    b"0001-01-01", b"9999-12-31", b"2024-02-30", b"24.500", b"12,5", b"\xc2\xb2", b"\xd9\xa3", b"[", b"]" * 3,
    b"[" * 200, b"{" * 200, b"[[[]]]", b"{}", b"[]", b"null", b"true", b'"', b"'", b'"""', b"\\ud800", b"\\u0000",
    b"\x00", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b"\t", b"=", b".", b",", b";", b"a." * 80, b"x" * 40_000, b"#",
    b"%",    b"\xe2\x88\x92", b"2027-01-01T00:00:00Z", b"07:32:00", b"0x1F", b"1_000", b"-0", b"1e15", b"1e12",
]  # fmt: skip
VALUES = [
    None, True, -1, 0, 10**30, 1e300, 1e-300, "", "x", [], {}, [[1]], {"a": 1}, "9999-12-31", "0001-01-01", [None], -0.0
]  # fmt: skip


@dataclass
class Loader:
    """One kind of file.

    Parameters
    ----------
    good : bytes
        A file that is read without a refusal.
    read : callable
        Reads the file at a path.
    weight : int
        Share of all inputs; loaders that take milliseconds get more of them.
    broken : callable
        Breaks a file.
    """

    good: bytes
    read: Callable[[Path], Any]
    weight: int
    broken: Callable[[bytes, random.Random], bytes]
    suffix: str
    inputs: int = 0
    answers: int = 0
    refusals: int = 0
    escapes: dict[str, int] = field(default_factory=dict)
    slowest: float = 0.0


def broken_bytes(data: bytes, chance: random.Random) -> bytes:
    """The bytes with one to four changes: cut, doubled, swapped, or with a token put in or in another's place."""
    for _ in range(chance.randint(1, 4)):
        start = chance.randrange(len(data) + 1)
        end = min(len(data), start + chance.choice((0, 1, 1, 3, 8, 40)))
        if chance.random() < 0.5:  # a whole word or number, so that the file stays well-formed more often
            while start > 0 and data[start - 1 : start].isalnum():
                start -= 1
            end = start
            while end < len(data) and (data[end : end + 1].isalnum() or data[end : end + 1] in b".-"):
                end += 1
        kind = chance.randrange(5)
        if kind == 0:
            data = data[:start] + data[end:]
        elif kind == 1:
            data = data[:start] + data[start:end] * 3 + data[end:]
        elif kind == 2 and end > start:
            data = data[:start] + bytes([chance.randrange(256)]) + data[start + 1 :]
        else:
            data = data[:start] + chance.choice(TOKENS) + data[end:]
    return data


def broken_archive(data: bytes, chance: random.Random) -> bytes:
    """A workbook broken in one of the files inside it, or as a whole."""
    if chance.random() < 0.3:
        return broken_bytes(data, chance)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        names = source.namelist()
        chosen = chance.choice([name for name in names if name.endswith(".xml")] * 1)
        if chance.random() < 0.6:  # the cells themselves
            chosen = next((name for name in names if name.endswith(("sheet1.xml", "content.xml"))), chosen)
        for name in names:
            if name == chosen and chance.random() < 0.05:
                continue
            target.writestr(name, broken_bytes(source.read(name), chance) if name == chosen else source.read(name))
    return out.getvalue()


def broken_model(data: bytes, chance: random.Random) -> bytes:
    """A model with a value changed below a seal that is right again, or broken as bytes."""
    if chance.random() < 0.3:
        return broken_bytes(data, chance)
    document = json.loads(data)
    document.pop("seal")
    for _ in range(chance.randint(1, 2)):
        place: Any = document
        while True:
            key = chance.choice(list(place)) if isinstance(place, dict) else chance.randrange(len(place))
            if not isinstance(place[key], dict | list) or not place[key] or chance.random() < 0.15:
                break
            place = place[key]
        if chance.random() < 0.2:
            del place[key]
        else:
            place[key] = chance.choice(VALUES)
        if not document:
            break
    return json.dumps({**document, "seal": _seal(document)}).encode()


def loaders() -> dict[str, Loader]:
    """Every loader with a good file to start from."""
    schema = default_schema()
    data = ROOT / "data"
    lines = (data / "comparables.csv").read_bytes().splitlines(keepends=True)
    csv = b"".join(lines[:9])
    frame = pd.read_csv(io.BytesIO(csv), dtype=str, keep_default_na=False)
    books = {}
    for kind, engine in (("xlsx", "openpyxl"), ("ods", "odf")):
        out = io.BytesIO()
        with pd.ExcelWriter(out, engine=engine) as writer:  # type: ignore[call-overload]
            frame.to_excel(writer, index=False)
        books[kind] = out.getvalue()
    parquet = frame.to_parquet(index=False)
    vehicle = (data / "vehicles" / "haywain-pickup.toml").read_bytes()
    as_json = json.dumps(read_vehicle(data / "vehicles" / "haywain-pickup.toml", schema).as_dict()).encode()
    log = {"subject": "a", "plan": "p.toml", "asked": 4e4, "offers": [{"date": "2026-05-01", "amount": 38000}] * 2}
    toml_log = b'subject = "a"\nasked = 40000\n[[offers]]\ndate = 2026-05-01\namount = 38000\nbuyer = "b"\n'
    index = b"# an index\nmonth,value\n" + b"".join(b"2025-%02d,%d.5\n" % (m, 100 + m) for m in range(1, 13))

    def table(path: Path) -> object:
        return read_comparables(path.read_bytes(), schema, today=TODAY)

    def to_value(path: Path) -> object:
        model = load_model(path)
        return model.value(read_vehicle(data / "vehicles" / "haywain-pickup.toml", model.schema), TODAY)

    small = b'name = "s"\ncurrency = "USD"\n[rates]\nEUR = 1.1\n[columns]\nprice = ["paid"]\n' + (
        b'[attributes.area]\nrole = "number"\nminimum = 10\nexpected = { percent = 5, give_or_take = 3, per = 10 }\n'
        b'[attributes.view]\nrole = "ordinal"\nlevels = ["none", { name = "open", aliases = ["wide"] }]\n'
    )
    return {
        "schema": Loader(small, read_schema, 20, broken_bytes, ".toml"),
        "vehicle (TOML)": Loader(vehicle, lambda p: read_vehicle(p, schema), 20, broken_bytes, ".toml"),
        "vehicle (JSON)": Loader(as_json, lambda p: read_vehicle(p, schema), 16, broken_bytes, ".json"),
        "plan": Loader(PLAN_TEMPLATE.encode(), lambda p: read_plan(p, schema), 10, broken_bytes, ".toml"),
        "index": Loader(index, read_price_index, 14, broken_bytes, ".csv"),
        "offer log (JSON)": Loader(json.dumps(log).encode(), read_offer_log, 12, broken_bytes, ".json"),
        "offer log (TOML)": Loader(toml_log, read_offer_log, 5, broken_bytes, ".toml"),
        "model": Loader((ROOT / "models" / "demo.json").read_bytes(), to_value, 1, broken_model, ".json"),
        "table (CSV)": Loader(csv, table, 2, broken_bytes, ".csv"),
        "table (XLSX)": Loader(books["xlsx"], table, 1, broken_archive, ".xlsx"),
        "table (ODS)": Loader(books["ods"], table, 1, broken_archive, ".ods"),
        "table (Parquet)": Loader(parquet, table, 1, broken_bytes, ".parquet"),
    }


def fuzz(inputs: int, seconds: float, seed: int, tell: Callable[[str], None] = lambda line: None) -> dict[str, Loader]:
    """Feed so many inputs to the loaders, each its share, within so many seconds of processor time."""
    found = loaders()
    whole = sum(loader.weight for loader in found.values())
    with tempfile.TemporaryDirectory() as folder:
        for name, loader in found.items():
            chance = random.Random(f"{seed} {name}")
            end = time.process_time() + seconds * max(loader.weight, 5) / (whole + 40)
            file = Path(folder) / f"input{loader.suffix}"
            for at in range(max(1, round(inputs * loader.weight / whole))):
                if time.process_time() > end:
                    break
                data = loader.good if at == 0 else loader.broken(loader.good, chance)
                file.write_bytes(data)
                _feed(loader, file, tell if at else _must_be_read)
    return found


def _must_be_read(line: str) -> None:
    raise AssertionError(f"the good file is not read: {line}")


def _feed(loader: Loader, file: Path, tell: Callable[[str], None]) -> None:
    loader.inputs += 1
    begun = time.process_time()
    try:
        loader.read(file)
        loader.answers += 1
    except ValuationError as refusal:
        loader.refusals += 1
        if loader.inputs == 1:
            tell(str(refusal))
    except Exception as escape:
        last = traceback.extract_tb(escape.__traceback__)[-1]
        kind = f"{type(escape).__name__} in {Path(last.filename).name}:{last.lineno}"
        if kind not in loader.escapes:
            tell(f"{kind}: {str(escape)[:200]}\n{file.read_bytes()[:300]!r}")
        loader.escapes[kind] = loader.escapes.get(kind, 0) + 1
    loader.slowest = max(loader.slowest, time.process_time() - begun)


def main() -> int:
    """Run the long form and print a line for each loader."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seconds", type=float, default=1_500, help="most processor time")
    parser.add_argument("--seed", type=int, default=1)
    words = parser.parse_args()
    found = fuzz(words.inputs, words.seconds, words.seed, lambda line: print(line, file=sys.stderr))
    for name, one in found.items():
        print(
            f"{name}: {one.inputs:,} inputs, {one.answers:,} answers, {one.refusals:,} refusals, "
            f"{sum(one.escapes.values()):,} escapes, slowest {one.slowest:.2f} s"
        )
    escaped = sum(sum(one.escapes.values()) for one in found.values())
    print(f"all: {sum(one.inputs for one in found.values()):,} inputs, {escaped:,} escapes, seed {words.seed}")
    return 1 if escaped else 0


if __name__ == "__main__":
    sys.exit(main())
