"""Photographs: checked by what they are, turned upright, made small, and freed of hidden data."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from valuation.errors import SheetError

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PHOTOS = 6
"""Chosen: they fill about a page."""
MOST_BYTES = 40_000_000
"""Chosen: several times what a telephone's photograph has."""
MOST_PIXELS = 80_000_000
"""Above this a file is taken for a decompression bomb: 240 MB once unpacked."""
LONGEST_SIDE = 1400
"""Pixels; prints at 200 dots per inch over 7 inches."""
LEAST_SIDE = 32
"""Pixels; chosen: less shows nothing."""
_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph ready for a sheet.

    Parameters
    ----------
    caption : str
        May be empty.
    jpeg : bytes
        Upright, at most ``LONGEST_SIDE`` pixels long, without any metadata.
    width, height : int
        Pixels.
    """

    caption: str
    jpeg: bytes
    width: int
    height: int

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the picture."""
        return hashlib.sha256(self.jpeg).hexdigest()


def read_photos(files: Sequence[str | Path], captions: Sequence[str] = ()) -> tuple[Photo, ...]:
    """Read up to six photographs.

    Parameters
    ----------
    files : sequence of str or Path
    captions : sequence of str
        In the order of the files; missing ones are empty.

    Raises
    ------
    SheetError
        If there are more than six, or for the reasons of :func:`prepare_photo`.
    """
    if len(files) > MOST_PHOTOS:
        raise SheetError(
            f"Cannot put {len(files)} photographs on one sheet: there is room for {MOST_PHOTOS}. Choose the "
            f"{MOST_PHOTOS} that show most."
        )
    words = [*captions, *[""] * (len(files) - len(captions))]
    return tuple(_read(Path(file), caption) for file, caption in zip(files, words, strict=False))


def _read(file: Path, caption: str) -> Photo:
    try:
        size = file.stat().st_size
        if size > MOST_BYTES:
            raise _too_many_bytes(file.name, size)
        content = file.read_bytes()
    except OSError as problem:
        raise SheetError(
            f"Cannot read the photograph {file.name}: {problem.strerror}. Check the path and that it is a file."
        ) from problem
    return prepare_photo(content, file.name, caption)


def prepare_photo(content: bytes, name: str, caption: str = "") -> Photo:
    """Check and prepare one photograph.

    Parameters
    ----------
    content : bytes
        Of the file; its kind is told by the content, never by the name.
    name : str
        For messages.
    caption : str

    Returns
    -------
    Photo
        Turned as its orientation mark says, resized, re-coded from bare pixels: no location, no camera, no comment, no
        preview and no colour profile stays.

    Raises
    ------
    SheetError
        If it is not a picture, is damaged, or is absurdly large or small.
    """
    if len(content) > MOST_BYTES:
        raise _too_many_bytes(name, len(content))
    picture = _open(content, name)
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise SheetError(
            f"Cannot use the photograph {name}: it unpacks to {width} x {height} pixels, more than "
            f"{MOST_PIXELS // 1_000_000} million. Save it smaller; {LONGEST_SIDE} pixels on the long side are enough."
        )
    if min(width, height) < LEAST_SIDE:
        raise SheetError(
            f"Cannot use the photograph {name}: it has {width} x {height} pixels; at least {LEAST_SIDE} each way are "
            "needed. Give the original."
        )
    pixels = _upright(picture, name)
    pixels.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = io.BytesIO()
    bare = pixels.copy()
    bare.info.clear()
    bare.save(out, "JPEG", quality=82, optimize=True)
    return Photo(caption, out.getvalue(), *bare.size)


def _open(content: bytes, name: str) -> Image:
    import warnings

    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # we judge the size ourselves
            return Image.open(io.BytesIO(content), formats=_FORMATS)
    except UnidentifiedImageError:
        raise SheetError(
            f"Cannot use the photograph {name}: its content is not a picture ({_looks_like(content)}). Give a JPEG, "
            "PNG, WebP, TIFF, BMP or GIF file."
        ) from None
    except Image.DecompressionBombError as problem:
        raise SheetError(
            f"Cannot use the photograph {name}: it unpacks to more than {MOST_PIXELS // 1_000_000} million pixels. "
            f"Save it smaller; {LONGEST_SIDE} pixels on the long side are enough."
        ) from problem
    except (OSError, ValueError, SyntaxError) as problem:
        raise _damaged(name) from problem


def _upright(picture: Image, name: str) -> Image:
    """The pixels, decoded in full, as people see them, on white where they were transparent."""
    from PIL import Image, ImageOps

    try:
        picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a large JPEG is decoded at a fraction of its size
        picture.load()
        turned = ImageOps.exif_transpose(picture)
        if turned.mode in ("RGBA", "LA", "PA", "P"):
            layer = turned.convert("RGBA")
            paper = Image.new("RGBA", layer.size, "white")
            turned = Image.alpha_composite(paper, layer)
        if turned.mode.startswith(("I", "F")):
            turned = turned.point(lambda value: value / 256).convert("L")
        return turned.convert("RGB")
    except (OSError, ValueError, SyntaxError, IndexError, EOFError) as problem:
        raise _damaged(name) from problem


def _damaged(name: str) -> SheetError:
    return SheetError(
        f"Cannot use the photograph {name}: it is damaged and cannot be decoded to the end. Copy it again."
    )


def _too_many_bytes(name: str, size: int) -> SheetError:
    return SheetError(
        f"Cannot use the photograph {name}: it has {size / 1e6:.0f} MB, more than {MOST_BYTES // 1_000_000}. "
        "Save it smaller."
    )


def _looks_like(content: bytes) -> str:
    """What the first bytes say that it is instead."""
    if not content:
        return "the file is empty"
    kinds = ((b"%PDF", "a PDF file"), (b"PK\x03\x04", "a zip archive"), (b"<", "a web page or drawing in text"))
    for start, kind in kinds:
        if content.lstrip()[:8].startswith(start):
            return f"it looks like {kind}"
    if content[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypavif"):
        return "it is a HEIC or AVIF picture, which cannot be read here"
    return f"it begins with {content[:8]!r}"
