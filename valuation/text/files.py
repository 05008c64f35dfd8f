"""Files of text: from a path to the text it holds."""

from __future__ import annotations

from pathlib import Path

MAX_BYTES = 50_000_000
"""Bytes that a file of text may have: a saved model of 400 levels has two million."""


def read_text_file(path: str | Path) -> str:
    """The text of a file in UTF-8, with or without its mark.

    Raises
    ------
    ValueError
        If it is not there, is too long, or is not text; the message says which.
    """
    file = Path(path)
    try:
        if file.stat().st_size > MAX_BYTES:
            raise ValueError(f"it has {file.stat().st_size:,} bytes; at most {MAX_BYTES:,} are accepted")
        return file.read_text(encoding="utf-8-sig")
    except OSError as problem:
        raise ValueError(problem.strerror or str(problem)) from None
    except UnicodeDecodeError:
        raise ValueError("it is not UTF-8 text") from None
