"""``python -m benchmarks.faults.uploads``: too much, and little that claims to be much, is refused in bounded memory.

Bodies of 50 and 500 MB, with their length told and in chunks; and bombs: files of a few megabytes at most whose content
unpacks, repeats or refers to itself into far more than any table holds. Each is refused with a clear code, and the
service answers the next question.
"""

from __future__ import annotations

import io
import socket
import time
import zipfile
from collections.abc import Callable, Iterator, Sequence

from benchmarks.faults.findings import Finding, part
from benchmarks.faults.service import MIB, Answer, Service, Watch, serving, upload

MEGABYTE = 1_000_000
MOST_GROWTH = 512 * MIB
"""Memory that one refused upload may take for a while."""

MOST_RESIDENT = 3072 * MIB
"""Where a service that keeps growing is ended, for the machine's sake."""

MOST_SECONDS = 60.0
SHEET = (
    '<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{}'
    "</sheetData></worksheet>"
)
ODS = (
    '<?xml version="1.0"?>{}<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
    '<table:table table:name="t">{}</table:table></office:spreadsheet></office:body></office:document-content>'
)
ENTITIES = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">{}]>'.format(
    "".join(f'<!ENTITY {chr(98 + i)} "{10 * f"&{chr(97 + i)};"}">' for i in range(9))
)
"""Ten times ten times ten ...: a page of text that stands for ten thousand million characters."""


def measure(sizes: Sequence[int] = (50, 500), millions: int = 200) -> Sequence[Finding]:
    """Send all of it to a service of its own; a new one after each that had to be ended."""
    findings = [_tried(*one) for one in _large(sizes)]
    for name, file, make in bombs(millions):
        body, kind = upload(make(), file)
        findings.append(
            _tried(f"{name} ({len(body) / MEGABYTE:.1f} MB sent)", lambda service, b=body, k=kind: post(service, b, k))
        )
    return findings


def _large(sizes: Sequence[int]) -> Iterator[tuple[str, Callable[[Service], Answer]]]:
    for size in sizes:
        for chunked in (False, True):
            how = "in chunks without a length" if chunked else "with its length"
            yield f"a body of {size} MB {how}", lambda service, s=size, c=chunked: pour(service, s, chunked=c)


def _tried(name: str, send: Callable[[Service], Answer]) -> Finding:
    with serving() as service:
        return tried(service, name, send)


def tried(service: Service, name: str, send: Callable[[Service], Answer], most: int = MOST_GROWTH) -> Finding:
    """Send one thing; it must be refused in bounded memory, and the service answer afterwards."""
    begun = time.monotonic()
    with Watch(service, MOST_RESIDENT) as watch:
        try:
            answer = send(service)
            seconds = time.monotonic() - begun
            code = answer.json()["code"] if answer.status >= 400 else "taken"
            alive = service.ask("GET", "/healthz", timeout=30).status == 200
        except OSError as problem:
            answer, seconds, code, alive = (
                None,
                time.monotonic() - begun,
                f"no answer ({type(problem).__name__})",
                False,
            )
    refused = answer is not None and answer.status in (400, 413, 422)
    ended = f", ended at {MOST_RESIDENT // MIB:,} MiB" if watch.ended else ""
    figure = (
        f"{answer.status if answer else '-'} {code} after {seconds:.1f} s, {watch.grown / MIB:.0f} MiB more at most"
        f"{ended}; {'answers' if alive else 'does not answer'} afterwards"
    )
    held = refused and alive and watch.grown <= most and seconds <= MOST_SECONDS
    return Finding(f"{name} is refused", figure, held)


def post(service: Service, body: bytes, kind: str) -> Answer:
    """Bring a table over JSON's route."""
    return service.ask("POST", "/api/v1/comparables", body, timeout=2 * MOST_SECONDS, content_type=kind)


def pour(service: Service, megabytes: int, *, chunked: bool) -> Answer:
    """A form whose file is so many megabytes of sales, sent piece by piece and never held whole."""
    whole, kind = upload(b"FILE", "large.csv")
    head, _, tail = whole.partition(b"FILE")
    piece = (b"Penhurrow Haywain,1951,12000,sold\n" * 30_000)[:MEGABYTE]
    pieces = (part for place in range(megabytes + 2) for part in [_piece(place, megabytes, head, piece, tail)])
    told = (
        "Transfer-Encoding: chunked" if chunked else f"Content-Length: {len(head) + megabytes * len(piece) + len(tail)}"
    )
    with socket.create_connection(("127.0.0.1", service.port), timeout=2 * MOST_SECONDS) as wire:
        wire.sendall(
            f"POST /api/v1/comparables HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: {kind}\r\n{told}\r\n\r\n".encode()
        )
        try:
            for one in pieces:
                wire.sendall(f"{len(one):x}\r\n".encode() + one + b"\r\n" if chunked else one)
            if chunked:
                wire.sendall(b"0\r\n\r\n")
        except OSError:
            pass  # refused while it was still being sent; the answer may be waiting
        return _read(wire)


def _piece(place: int, megabytes: int, head: bytes, piece: bytes, tail: bytes) -> bytes:
    if place == 0:
        return head
    return tail if place == megabytes + 1 else piece


def _read(wire: socket.socket) -> Answer:
    """The answer that waits on a connection, of which the sending side may be broken."""
    from http.client import HTTPResponse

    response = HTTPResponse(wire)
    response.begin()
    return Answer(response.status, {name.lower(): value for name, value in response.getheaders()}, response.read())


def bombs(millions: int) -> Iterator[tuple[str, str, Callable[[], bytes]]]:
    """What each is, its file's name and how it is made; the larger ones have ``millions`` of characters or rows."""
    row = "<row>" + '<c t="inlineStr"><is><t>a</t></is></c>' * 4 + "</row>"
    header = '<row><c t="inlineStr"><is><t>price</t></is></c><c t="inlineStr"><is><t>outcome</t></is></c></row>'
    yield "XLSX of endless rows", "rows.xlsx", lambda: xlsx(SHEET, [header], row, millions)
    yield (
        "XLSX with one endless cell",
        "cell.xlsx",
        lambda: xlsx(SHEET, [header, '<row><c t="inlineStr"><is><t>'], "a" * 1000, millions, "</t></is></c></row>"),
    )
    yield "XLSX whose entities refer to each other", "entities.xlsx", lambda: xlsx(
        ENTITIES + SHEET.removeprefix('<?xml version="1.0"?>'),
        [header, '<row><c t="inlineStr"><is><t>&j;</t></is></c></row>'], "", 0,
    )  # fmt: skip
    cell = '<table:table-cell table:number-columns-repeated="{}" office:value-type="string"><text:p>a</text:p>'
    plain = cell.format(1) + "</table:table-cell>"
    yield "ODS that claims 100,000 x 100,000 cells", "claims.ods", lambda: ods(
        "", [f'<table:table-row table:number-rows-repeated="100000">{cell.format(100_000)}</table:table-cell>'],
        "", 0, "</table:table-row>",
    )  # fmt: skip
    heads = "".join(plain.replace(">a<", f">{name}<") for name in ("price", "outcome"))
    yield (
        "ODS of endless rows",
        "rows.ods",
        lambda: ods(
            "",
            [f"<table:table-row>{heads}</table:table-row>"],
            f"<table:table-row>{4 * plain}</table:table-row>",
            millions,
        ),
    )
    yield (
        "ODS whose entities refer to each other",
        "entities.ods",
        lambda: ods(
            ENTITIES, [f"<table:table-row>{plain}{cell.format(1)}&j;</table:table-cell></table:table-row>"], "", 0
        ),
    )
    yield "Parquet of endless rows", "rows.parquet", lambda: parquet(millions)
    yield "Parquet with one endless cell", "cell.parquet", lambda: parquet_cell(millions)


def xlsx(frame: str, start: Sequence[str], repeated: str, millions: int, end: str = "") -> bytes:
    """A workbook whose one sheet repeats a piece of text until it has so many million characters."""
    from openpyxl import Workbook

    plain = io.BytesIO()
    Workbook().save(plain)
    return _packed(plain, "xl/worksheets/sheet1.xml", frame, "".join(start), repeated, millions, end)


def ods(doctype: str, start: Sequence[str], repeated: str, millions: int, end: str = "") -> bytes:
    """A spreadsheet whose one table repeats a piece of text until it has so many million characters."""
    from odf.opendocument import OpenDocumentSpreadsheet

    plain = io.BytesIO()
    OpenDocumentSpreadsheet().write(plain)
    return _packed(plain, "content.xml", ODS.format(doctype, "{}"), "".join(start), repeated, millions, end)


def _packed(plain: io.BytesIO, entry: str, frame: str, start: str, repeated: str, millions: int, end: str) -> bytes:
    """A sound workbook with one of its parts put in the place of its own."""
    packed = io.BytesIO()
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name != entry:
                new.writestr(old.getinfo(name), old.read(name))
        _fill(new, entry, frame, start, repeated, millions, end)
    return packed.getvalue()


def _fill(archive: zipfile.ZipFile, entry: str, frame: str, start: str, repeated: str, millions: int, end: str) -> None:
    head, _, tail = frame.partition("{}")
    piece = (repeated * (MEGABYTE // max(len(repeated), 1) + 1)).encode() if repeated else b""
    with archive.open(entry, "w") as out:
        out.write((head + start).encode())
        for _ in range(millions):
            out.write(piece)
        out.write((end + tail).encode())


def parquet(millions: int) -> bytes:
    """So many million rows of one value, which pack into next to nothing."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    block = pa.table({"price": pa.repeat(100.0, MEGABYTE), "outcome": pa.repeat("sold", MEGABYTE)})
    out = io.BytesIO()
    with pq.ParquetWriter(out, block.schema, compression="zstd") as writer:
        for _ in range(millions):
            writer.write_table(block)
    return out.getvalue()


def parquet_cell(millions: int) -> bytes:
    """Two rows, of which one holds so many million characters."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    out = io.BytesIO()
    pq.write_table(
        pa.table({"price": [100.0, 200.0], "outcome": ["sold", "a" * (millions * MEGABYTE)]}), out, compression="zstd"
    )
    return out.getvalue()


if __name__ == "__main__":
    part(measure)
