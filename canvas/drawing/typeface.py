"""How wide writing is, read from the font files that are painted with; no Qt, no system font.

One family ships with the program: Lato (SIL Open Font License), four static faces. Letter heights
are heights of a capital, as on any drawing board.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from canvas.base import resources
from canvas.base.errors import InputError

FAMILY = "Lato"
FACES = {
    (False, False): "fonts/Lato-Regular.ttf",
    (True, False): "fonts/Lato-Bold.ttf",
    (False, True): "fonts/Lato-Italic.ttf",
    (True, True): "fonts/Lato-BoldItalic.ttf",
}
#: Line spacing and depth below the baseline, in capital heights.
LEADING = 1.72
DESCENT = 0.28


@dataclass(frozen=True, slots=True)
class Face:
    """What is read of one face, in units of the font."""

    units_per_em: int
    cap_height: int
    #: Glyph number by code point.
    glyphs: dict[int, int]
    #: Advance width by glyph number.
    advances: tuple[int, ...]

    @property
    def em_per_cap(self) -> float:
        """Font size for a capital one unit high."""
        return self.units_per_em / self.cap_height

    def advance(self, words: str) -> int:
        """Return the summed advance widths; kerning, which mostly tightens, is left out."""
        last = len(self.advances) - 1
        return sum(self.advances[min(self.glyphs.get(ord(c), 0), last)] for c in words)


def _tables(data: bytes) -> dict[str, bytes]:
    (count,) = struct.unpack_from(">H", data, 4)
    found = {}
    for i in range(count):
        tag, _, start, size = struct.unpack_from(">4sIII", data, 12 + 16 * i)
        found[tag.decode("ascii")] = data[start : start + size]
    return found


def _format_4(table: bytes) -> dict[int, int]:
    """Read a segment mapping to delta values (OpenType specification, cmap format 4)."""
    (twice,) = struct.unpack_from(">H", table, 6)
    n = twice // 2
    ends = struct.unpack_from(f">{n}H", table, 14)
    starts = struct.unpack_from(f">{n}H", table, 16 + twice)
    deltas = struct.unpack_from(f">{n}H", table, 16 + 2 * twice)
    at = 16 + 3 * twice
    offsets = struct.unpack_from(f">{n}H", table, at)
    glyphs = {}
    for i in range(n):
        for code in range(starts[i], min(ends[i], 0xFFFE) + 1):
            glyph = code
            if offsets[i]:
                (glyph,) = struct.unpack_from(
                    ">H", table, at + 2 * i + offsets[i] + 2 * (code - starts[i])
                )
                if not glyph:
                    continue
            glyphs[code] = (glyph + deltas[i]) & 0xFFFF
    return glyphs


@cache
def face(bold: bool = False, italic: bool = False) -> Face:
    """Return the measures of a face.

    Raises `InputError` when the file has no Unicode map of the usual kind.
    """
    name = FACES[bold, italic]
    tables = _tables(resources.path(name).read_bytes())
    cmap = tables["cmap"]
    (count,) = struct.unpack_from(">H", cmap, 2)
    for i in range(count):
        platform, encoding, start = struct.unpack_from(">HHI", cmap, 4 + 8 * i)
        if (platform, encoding) == (3, 1) and struct.unpack_from(">H", cmap, start)[0] == 4:
            glyphs = _format_4(cmap[start:])
            break
    else:
        raise InputError(f"{name} has no Unicode character map")
    (metrics,) = struct.unpack_from(">H", tables["hhea"], 34)
    advances = struct.unpack_from(">" + "Hh" * metrics, tables["hmtx"], 0)[::2]
    (units,) = struct.unpack_from(">H", tables["head"], 18)
    # Capital height exists from version 2 of the table on; all four faces have it.
    (cap,) = struct.unpack_from(">h", tables["OS/2"], 88)
    return Face(units, cap, glyphs, advances)


@lru_cache(maxsize=20_000)
def width_mm(words: str, size_mm: float, bold: bool = False, italic: bool = False) -> float:
    """Return how wide one line of writing is at a capital height of `size_mm`."""
    measured = face(bold, italic)
    return measured.advance(words) * size_mm / measured.cap_height


def wrap(
    words: str, size_mm: float, room_mm: float, bold: bool = False, most: int = 0
) -> tuple[str, ...]:
    """Return `words` broken into lines no wider than `room_mm`; at most `most` lines if given.

    A word wider than the room is broken; a text cut short ends in an ellipsis.
    """
    lines: list[str] = []
    for paragraph in words.splitlines() or [""]:
        # Plain spaces only: figure and unit are held together by spaces that must not break.
        pieces = [piece for piece in paragraph.split(" ") if piece]
        lines.extend(_wrap_paragraph(pieces, size_mm, room_mm, bold))
    if most and len(lines) > most:
        lines = [*lines[: most - 1], fit(" ".join(lines[most - 1 :]), size_mm, room_mm, bold)]
    return tuple(lines)


def _wrap_paragraph(pieces: Sequence[str], size_mm: float, room_mm: float, bold: bool) -> list[str]:
    lines: list[str] = []
    current = ""
    for piece in pieces:
        trial = f"{current} {piece}" if current else piece
        if width_mm(trial, size_mm, bold) <= room_mm:
            current = trial
            continue
        if current:
            lines.append(current)
        rest = piece
        while width_mm(rest, size_mm, bold) > room_mm and len(rest) > 1:
            cut = _longest(rest, size_mm, room_mm, bold)
            lines.append(rest[:cut])
            rest = rest[cut:]
        current = rest
    return [*lines, current]


def _longest(words: str, size_mm: float, room_mm: float, bold: bool) -> int:
    """Return how many leading characters fit, at least one."""
    count = 1
    while count < len(words) and width_mm(words[: count + 1], size_mm, bold) <= room_mm:
        count += 1
    return count


def fit(words: str, size_mm: float, room_mm: float, bold: bool = False) -> str:
    """Return `words`, cut short with an ellipsis where they are wider than the room."""
    if width_mm(words, size_mm, bold) <= room_mm:
        return words
    room = room_mm - width_mm("…", size_mm, bold)
    if room <= 0:
        return ""
    return words[: _longest(words, size_mm, room, bold)].rstrip(" ,;·") + "…"
