"""A TrueType face: how wide its letters are, and the objects by which a PDF carries it.

Tables and their fields are those of the OpenType specification (head, hhea, hmtx, cmap format 4); the PDF
objects those of a composite font with identity encoding (ISO 32000-1, 9.7).
"""

from __future__ import annotations

import struct
from functools import lru_cache
from pathlib import Path

import pydyf

FOLDER = Path(__file__).parent / "fonts"
FILES = {False: "DejaVuSansCondensed.ttf", True: "DejaVuSansCondensed-Bold.ttf"}
UNKNOWN = 0
"""The glyph that stands for a letter which the face has not."""


class Face:
    """One face, read once."""

    def __init__(self, name: str, content: bytes) -> None:
        self.name = name
        self.content = content
        tables = _tables(content)
        self.units: int = struct.unpack_from(">H", content, tables["head"] + 18)[0]
        self.box: tuple[int, ...] = struct.unpack_from(">4h", content, tables["head"] + 36)
        self.ascent, self.descent = struct.unpack_from(">2h", content, tables["hhea"] + 4)
        count = struct.unpack_from(">H", content, tables["hhea"] + 34)[0]
        long = struct.unpack_from(f">{2 * count}H", content, tables["hmtx"])
        self._advances: tuple[int, ...] = long[::2]
        self._glyphs = _characters(content, tables["cmap"])

    def glyph(self, letter: str) -> int:
        """The glyph of a letter."""
        return self._glyphs.get(ord(letter), UNKNOWN)

    def advance(self, glyph: int) -> int:
        """How far a glyph moves on, in thousandths of the size."""
        return round(1000 * self._advances[min(glyph, len(self._advances) - 1)] / self.units)

    def width(self, text: str, size: float) -> float:
        """How wide a text is set at a size."""
        return sum(self.advance(self.glyph(letter)) for letter in text) * size / 1000

    def encoded(self, text: str) -> str:
        """The text as hexadecimal glyph numbers."""
        return "<" + "".join(f"{self.glyph(letter):04x}" for letter in text) + ">"

    def objects(self, letters: frozenset[str]) -> list[pydyf.Object]:
        """The face as PDF objects, the font itself first; `letters` are those that occur."""
        used = sorted({self.glyph(letter): letter for letter in sorted(letters)}.items())
        scale = 1000 / self.units
        file = pydyf.Stream([self.content], {"Length1": len(self.content)}, compress=True)
        descriptor = pydyf.Dictionary(
            {
                "Type": "/FontDescriptor",
                "FontName": f"/{self.name}",
                "Flags": 4,
                "FontBBox": pydyf.Array([round(edge * scale) for edge in self.box]),
                "ItalicAngle": 0,
                "Ascent": round(self.ascent * scale),
                "Descent": round(self.descent * scale),
                "CapHeight": round(self.ascent * scale),
                "StemV": 80,
            }
        )
        widths = pydyf.Array(
            [item for glyph, _ in used for item in (glyph, pydyf.Array([self.advance(glyph)]))]
        )
        descendant = pydyf.Dictionary(
            {
                "Type": "/Font",
                "Subtype": "/CIDFontType2",
                "BaseFont": f"/{self.name}",
                "CIDSystemInfo": pydyf.Dictionary(
                    {"Registry": pydyf.String("Adobe"), "Ordering": pydyf.String("Identity"), "Supplement": 0}
                ),
                "W": widths,
                "CIDToGIDMap": "/Identity",
            }
        )
        names = pydyf.Stream([_to_unicode(used)], compress=True)
        font = pydyf.Dictionary(
            {"Type": "/Font", "Subtype": "/Type0", "BaseFont": f"/{self.name}", "Encoding": "/Identity-H"}
        )
        return [font, descendant, descriptor, file, names]


def joined(font: list[pydyf.Object]) -> None:
    """Let the objects of a face refer to each other, once they have numbers."""
    whole, descendant, descriptor, file, names = font
    descriptor["FontFile2"] = file.reference
    descendant["FontDescriptor"] = descriptor.reference
    whole["DescendantFonts"] = pydyf.Array([descendant.reference])
    whole["ToUnicode"] = names.reference


@lru_cache(maxsize=2)
def face(*, bold: bool) -> Face:
    """The face that reports are set in."""
    path = FOLDER / FILES[bold]
    return Face(path.stem.replace("-", ""), path.read_bytes())


def _tables(content: bytes) -> dict[str, int]:
    """Where each table of the file begins."""
    count = struct.unpack_from(">H", content, 4)[0]
    entries = (struct.unpack_from(">4sLLL", content, 12 + 16 * number) for number in range(count))
    return {tag.decode("ascii"): offset for tag, _, offset, _ in entries}


def _characters(content: bytes, start: int) -> dict[int, int]:
    """Glyph by character, from the table for the basic plane."""
    count = struct.unpack_from(">H", content, start + 2)[0]
    found: dict[int, int] = {}
    for number in range(count):
        offset = start + struct.unpack_from(">L", content, start + 4 + 8 * number + 4)[0]
        if struct.unpack_from(">H", content, offset)[0] == 4:
            found |= _segments(content, offset)
    return found


def _segments(content: bytes, at: int) -> dict[int, int]:
    size = struct.unpack_from(">H", content, at + 6)[0] // 2
    ends = struct.unpack_from(f">{size}H", content, at + 14)
    starts = struct.unpack_from(f">{size}H", content, at + 16 + 2 * size)
    deltas = struct.unpack_from(f">{size}H", content, at + 16 + 4 * size)
    ranges_at = at + 16 + 6 * size
    ranges = struct.unpack_from(f">{size}H", content, ranges_at)
    found: dict[int, int] = {}
    for place, (first, last) in enumerate(zip(starts, ends, strict=True)):
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if ranges[place]:
                where = ranges_at + 2 * place + ranges[place] + 2 * (code - first)
                glyph = struct.unpack_from(">H", content, where)[0]
                if glyph == 0:
                    continue
            found[code] = (glyph + deltas[place]) & 0xFFFF
    return found


def _to_unicode(used: list[tuple[int, str]]) -> bytes:
    """The map by which readers find the letters of the glyphs, for searching and copying."""
    lines = [f"<{glyph:04x}> <{letter.encode('utf-16-be').hex()}>" for glyph, letter in used]
    blocks = [lines[start : start + 100] for start in range(0, len(lines), 100)]
    body = "\n".join(f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks)
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <ffff>\nendcodespacerange\n"
        f"{body}\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend"
    ).encode("ascii")
