"""Sniffing: what kind of file some bytes are, in which encoding, and which character separates its columns."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Callable

from valuation.errors import TableError

DELIMITERS = (",", ";", "\t", "|")
"""Characters that may separate the columns of a text table."""

MAX_UNPACKED = 20_000_000
"""Bytes that a spreadsheet may unpack to; more is refused unread. Measured: that many are 122,700 rows of four
cells in an XLSX, or half a minute and 430 MiB for an ODS, where 200 million took 3 GiB and gave no answer in 105 s."""

_FOREIGN = (
    (b"%PDF", "a PDF document"),
    (b"\xd0\xcf\x11\xe0", "an old Excel workbook (.xls) or another old Office file"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a compressed file (gzip)"),
    (b"7z\xbc\xaf", "a compressed file (7z)"),
    (b"Rar!", "a compressed file (rar)"),
    (b"SQLite format 3", "a database"),
    (b"{\\rtf", "a text document (RTF)"),
)
_ACCEPTED = "A table is read from CSV, XLSX, ODS or Parquet; save or export it as one of these."


def kind_of(data: bytes, name: str) -> str:
    """``"csv"``, ``"xlsx"``, ``"ods"`` or ``"parquet"``, by the content and whatever the file is called.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        For messages.

    Raises
    ------
    TableError
        If the bytes are empty or some other kind of file.
    """
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise TableError(
            f"Cannot read '{name}': it is empty. Give a table with a header row and one row for each sale."
        )
    for start, what in _FOREIGN:
        if data.startswith(start):
            raise TableError(f"Cannot read '{name}': it is {what}, whatever its name says. {_ACCEPTED}")
    if data.startswith(b"PAR1"):
        return "parquet"
    if data.startswith(b"PK"):
        return _zip_kind(data, name)
    return "csv"


def _zip_kind(data: bytes, name: str) -> str:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = {entry.filename: entry.file_size for entry in archive.infolist()}
    except (zipfile.BadZipFile, OSError, ValueError) as problem:
        raise TableError(f"Cannot read '{name}': it is a damaged spreadsheet or archive. {_ACCEPTED}") from problem
    if sum(entries.values()) > MAX_UNPACKED:
        raise TableError(
            f"Cannot read '{name}': it would unpack to {sum(entries.values()):,} bytes; at most {MAX_UNPACKED:,} are "
            "accepted. Save the table alone, as CSV or Parquet."
        )
    if "xl/workbook.xml" in entries:
        return "xlsx"
    if "content.xml" in entries and "mimetype" in entries:
        return "ods"
    raise TableError(f"Cannot read '{name}': it is a compressed archive without a table in it. {_ACCEPTED}")


def decode(data: bytes, name: str) -> tuple[str, str]:
    """The text of a CSV file and the encoding it was read in (utf-8, utf-16, or an old code page).

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        For messages.

    Raises
    ------
    TableError
        If the bytes are not text in any of these.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif data[:2000].count(0) > len(data[:2000]) // 4:  # Latin text in UTF-16 without its mark: every second byte is 0
        encodings = ["utf-16-le" if data[1:2000:2].count(0) >= data[0:2000:2].count(0) else "utf-16-be"]
    else:
        encodings = ["utf-8-sig", _old_page(data)] if not data.isascii() else ["utf-8-sig"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not _is_binary(text):
            return text, encoding.removesuffix("-sig")
    raise TableError(f"Cannot read '{name}': it is not text, so it is not a CSV table. {_ACCEPTED}")


OLD_PAGES = {
    "cp1252": "Western text of Windows",
    "cp850": "Western text of DOS",
    "mac_roman": "Western text of older Apple computers",
}
"""Code pages of older programs, the likeliest first; a file does not say which it is in."""


def _old_page(data: bytes) -> str:
    """The code page that makes words of the bytes beyond ASCII: that of Windows, unless one other alone does so."""
    odd = {page: _odd_letters(data, page) for page in OLD_PAGES}
    plausible = [page for page in OLD_PAGES if not odd[page]]
    return plausible[0] if len(plausible) == 1 else "cp1252"


def _odd_letters(data: bytes, page: str) -> int:
    """How many characters beyond ASCII cannot stand where they do: signs amid a word, capitals after small letters."""
    try:
        text = data.decode(page)
    except UnicodeDecodeError:
        return len(data)
    amid = re.findall(r"(?<=[A-Za-z])[^\x00-\x7f](?=[a-z])", text)
    after = re.findall(r"(?<=[a-z])[^\x00-\x7f]", text)
    drawn = re.findall(r"[\u2500-\u259f]", text)
    return sum(not (sign.islower() or sign == "’") for sign in amid) + sum(map(str.isupper, after)) + len(drawn)


def _is_binary(text: str) -> bool:
    sample = text[:4000]
    # One control character in fifty is the limit, chosen: text has next to none, pictures and programs have many.
    odd = sum(character < " " and character not in "\t\r\n\f\x1a" for character in sample)
    return "\x00" in text or odd * 50 > len(sample)


def refuse_markup(text: str, name: str) -> None:
    """Refuse a web page, XML or JSON that came under a table's name.

    Parameters
    ----------
    text : str
        The whole file.
    name : str
        For messages.

    Raises
    ------
    TableError
        If the text starts as such a file does.
    """
    start = text.lstrip()[:200]
    if start.startswith("<"):
        raise TableError(f"Cannot read '{name}': it is a web page or XML, not a table. {_ACCEPTED}")
    if start.startswith(("{", "[{", "[[")):
        raise TableError(f"Cannot read '{name}': it is JSON, not a table. {_ACCEPTED}")


def delimiter_of(text: str, is_known: Callable[[str], bool]) -> str:
    """The delimiter that gives one of the first rows most known headers; among equals, one that gives most columns.

    Parameters
    ----------
    text : str
        The file's text.
    is_known : callable
        Whether a header is one that the schema knows.
    """
    lines = [line[:20_000] for line in text[:200_000].splitlines() if line.strip()][:20]

    def merit(delimiter: str) -> tuple[int, int]:
        rows = [next(csv.reader([line], delimiter=delimiter), []) for line in lines]
        return max((sum(map(is_known, row)), len(row)) for row in rows)

    return max(DELIMITERS, key=merit)
