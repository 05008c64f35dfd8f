"""Letters: which characters the fonts of the paper can draw. What they cannot is printed as an empty box, and said."""

from __future__ import annotations

import struct
from functools import cache
from pathlib import Path
from typing import Any

FONTS = Path(__file__).parent / "fonts"
BOX = "\N{WHITE SQUARE}"
_ALWAYS = frozenset("\n\u200b\u200c\u200d")
_FORMAT_WITH_GROUPS = 12
"""Format number of a character map by groups (OpenType specification, table ``cmap``)."""


def drawable_tree(value: Any) -> tuple[Any, set[str]]:
    """Plain data with a box for every character that no font has, and those characters."""
    if isinstance(value, str):
        if value.isascii():
            return value, set()
        strange = {
            character
            for character in value
            if ord(character) > 127 and character not in _ALWAYS and not _known(ord(character))
        }
        return (
            "".join(BOX if character in strange else character for character in value) if strange else value
        ), strange
    if isinstance(value, dict):
        pairs = {key: drawable_tree(item) for key, item in value.items()}
        return {key: item for key, (item, _) in pairs.items()}, set().union(*(found for _, found in pairs.values()))
    if isinstance(value, list):
        items = [drawable_tree(item) for item in value]
        return [item for item, _ in items], set().union(*(found for _, found in items))
    return value, set()


def _known(code: int) -> bool:
    return any(first <= code <= last for first, last in _ranges())


@cache
def _ranges() -> tuple[tuple[int, int], ...]:
    """Code points that the fonts in ``fonts`` cover; the last resort among them covers what the wheel's fonts do."""
    found: list[tuple[int, int]] = []
    for file in sorted(FONTS.glob("*.[ot]tf")):
        found += _groups(file.read_bytes())
    merged: list[tuple[int, int]] = []
    for first, last in sorted(found):
        if merged and first <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(last, merged[-1][1]))
        else:
            merged.append((first, last))
    return tuple(merged)


def _groups(font: bytes) -> list[tuple[int, int]]:
    """First and last code point of each group of the font's character map (OpenType ``cmap``, format 12)."""
    (tables,) = struct.unpack_from(">H", font, 4)
    for at in range(12, 12 + 16 * tables, 16):
        name, _, offset, _ = struct.unpack_from(">4sIII", font, at)
        if name != b"cmap":
            continue
        (maps,) = struct.unpack_from(">H", font, offset + 2)
        for record in range(offset + 4, offset + 4 + 8 * maps, 8):
            (start,) = struct.unpack_from(">I", font, record + 4)
            if struct.unpack_from(">H", font, offset + start) == (_FORMAT_WITH_GROUPS,):
                (count,) = struct.unpack_from(">I", font, offset + start + 12)
                each = struct.iter_unpack(">III", font[offset + start + 16 : offset + start + 16 + 12 * count])
                return [(first, last) for first, last, _ in each]
    return []
