"""Photographs: told by their content, bounded, turned, stripped."""

import io
import struct
import zlib

import pytest
from PIL import Image

from valuation.errors import SheetError
from valuation.sheets.photos import LONGEST_SIDE, prepare_photo, read_photos


def opened(photo):
    return Image.open(io.BytesIO(photo.jpeg))


def png_claiming(width, height):
    """A PNG of a few bytes that says it unpacks to the given size."""

    def chunk(kind, content):
        body = kind + content
        return struct.pack(">I", len(content)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(9))) + chunk(b"IEND", b"")


def test_a_large_picture_is_made_small(picture):
    photo = prepare_photo(picture(4000, 3000), "large.jpg", "From the left")
    assert (photo.width, photo.height) == opened(photo).size == (LONGEST_SIDE, LONGEST_SIDE * 3 // 4)
    assert photo.caption == "From the left"
    assert len(photo.jpeg) < 200_000


def test_it_is_turned_as_its_mark_says_and_tells_nothing_else(picture):
    marks = Image.Exif()
    marks[0x0112] = 6  # turn a quarter clockwise
    marks[0x010F] = "SecretCam 9"
    marks.get_ifd(0x8825)[2] = (52.0, 12.0, 30.0)  # latitude
    photo = prepare_photo(picture(400, 200, exif=marks, comment=b"taken at home"), "turned.jpg")
    assert (photo.width, photo.height) == (200, 400)
    image = opened(photo).convert("RGB")
    red, blue = image.getpixel((100, 50)), image.getpixel((100, 350))
    assert red[0] > 200 > red[2]
    assert blue[2] > 200 > blue[0]
    assert not opened(photo).getexif()
    assert "comment" not in opened(photo).info
    for secret in (b"SecretCam", b"taken at home", b"Exif", b"ICC_PROFILE"):
        assert secret not in photo.jpeg


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "BMP", "TIFF", "GIF"])
def test_the_content_tells_the_kind_and_not_the_name(picture, kind):
    assert prepare_photo(picture(kind=kind), "photo.jpg").width == 400


def test_what_was_transparent_lies_on_white():
    out = io.BytesIO()
    Image.new("RGBA", (64, 64), (0, 0, 0, 0)).save(out, "PNG")
    assert opened(prepare_photo(out.getvalue(), "clear.png")).convert("RGB").getpixel((30, 30)) == (255, 255, 255)


def test_sixteen_bit_greys_are_read():
    out = io.BytesIO()
    Image.new("I;16", (64, 64), 65_535 // 2).save(out, "PNG")
    grey = opened(prepare_photo(out.getvalue(), "grey.png")).convert("RGB").getpixel((30, 30))
    assert 110 < grey[0] < 145


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "its content is not a picture .the file is empty."),
        (b"%PDF-1.7 and so on", "not a picture .it looks like a PDF file."),
        (b"<svg onload='x()'/>", "not a picture .it looks like a web page or drawing in text."),
        (b"PK\x03\x04 zipped", "not a picture .it looks like a zip archive."),
        (b"\0\0\0\x20ftypheic", "HEIC or AVIF picture, which cannot be read here"),
        (b"MZ\x90 program", "it begins with b'MZ"),
    ],
)
def test_what_is_no_picture_is_refused(content, words):
    with pytest.raises(SheetError, match=words):
        prepare_photo(content, "photo.jpg")


def test_a_broken_picture_is_refused(picture):
    with pytest.raises(SheetError, match=r"photo\.jpg: it is damaged and cannot be decoded to the end"):
        prepare_photo(picture()[:900], "photo.jpg")


@pytest.mark.parametrize("size", [(20_000, 20_000), (9_000, 9_000), (60_000, 60_000)])
def test_a_decompression_bomb_is_refused_before_it_is_unpacked(size):
    with pytest.raises(SheetError, match=r"bomb\.png: it unpacks to .* Save it smaller"):
        prepare_photo(png_claiming(*size), "bomb.png")


def test_too_small_and_too_many(picture, tmp_path):
    with pytest.raises(SheetError, match="has 20 x 300 pixels; at least 32 each way"):
        prepare_photo(picture(20, 300), "strip.jpg")
    with pytest.raises(SheetError, match="Cannot put 7 photographs on one sheet: there is room for 6"):
        read_photos(["x.jpg"] * 7)
    with pytest.raises(SheetError, match=r"Cannot read the photograph missing\.jpg: No such file"):
        read_photos([tmp_path / "missing.jpg"])


def test_too_many_bytes_are_refused_unread(tmp_path, monkeypatch):
    monkeypatch.setattr("valuation.sheets.photos.MOST_BYTES", 1000)
    (tmp_path / "big.jpg").write_bytes(b"x" * 2000)
    with pytest.raises(SheetError, match=r"big\.jpg: it has 0 MB, more than"):
        read_photos([tmp_path / "big.jpg"])


def test_equal_files_give_equal_bytes(picture):
    assert prepare_photo(picture(), "a.jpg").fingerprint == prepare_photo(picture(), "b.jpg").fingerprint
