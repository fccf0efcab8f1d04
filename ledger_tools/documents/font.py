"""What the shipped fonts can show and how wide their letters are, read from the fonts themselves.

Source: OpenType specification, chapters "cmap" (subtable format 4), "head", "hhea" and "hmtx".
"""

import struct
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

FONTS = Path(__file__).parent / "fonts"
REGULAR = "LiberationSans-Regular.ttf"
BOLD = "LiberationSans-Bold.ttf"

_CLOSES_TABLE = 0xFFFF


@dataclass(frozen=True, slots=True)
class Font:
    """One font file.

    Attributes:
        glyphs: Number of the glyph for each code point.
        advances: Width of each glyph, in units of the design; the last holds for all after it.
        em: Units of the design in one type size.
    """

    glyphs: dict[int, int]
    advances: tuple[int, ...]
    em: int

    def width(self, text: str, size: float) -> float:
        """Return how wide `text` is in points at a type size; an unknown letter is one em."""
        return sum(self._advance(ord(letter)) for letter in text) * size / self.em

    def _advance(self, code: int) -> int:
        if code not in self.glyphs:
            return self.em
        return self.advances[min(self.glyphs[code], len(self.advances) - 1)]


@cache
def font(name: str) -> Font:
    """Return the shipped font with that file name."""
    content = (FONTS / name).read_bytes()
    tables = _tables(content)
    metrics: int = struct.unpack_from(">H", content, tables[b"hhea"] + 34)[0]
    pairs = struct.unpack_from(f">{2 * metrics}H", content, tables[b"hmtx"])
    em: int = struct.unpack_from(">H", content, tables[b"head"] + 18)[0]
    return Font(_glyphs(content, tables[b"cmap"]), pairs[::2], em)


@cache
def letters() -> frozenset[int]:
    """Return the code points that both shipped fonts can show."""
    return frozenset(font(REGULAR).glyphs) & frozenset(font(BOLD).glyphs)


def _tables(content: bytes) -> dict[bytes, int]:
    """Return where each table begins."""
    count = struct.unpack_from(">H", content, 4)[0]
    entries = (struct.unpack_from(">4sIII", content, 12 + 16 * i) for i in range(count))
    return {tag: start for tag, _, start, _ in entries}


def _glyphs(content: bytes, cmap: int) -> dict[int, int]:
    """Return the glyph of each code point, from segments of codes with one shift for each.

    The fonts shipped here have no segment that looks its glyphs up in an array.
    """
    at = _windows_subtable(content, cmap)
    count = struct.unpack_from(">H", content, at + 6)[0] // 2
    starts_at = [at + 14, *(at + 16 + 2 * count * part for part in (1, 2, 3))]
    ends, starts, shifts, arrays = (
        struct.unpack_from(f">{count}H", content, start) for start in starts_at
    )
    if any(arrays):
        raise ValueError("this font keeps glyphs in an array, which is not read here")
    segments = zip(starts, ends, shifts, strict=True)
    return {
        code: (code + shift) & 0xFFFF
        for start, end, shift in segments
        for code in range(start, end + 1)
        if code != _CLOSES_TABLE
    }


def _windows_subtable(content: bytes, cmap: int) -> int:
    """Return where the subtable for Windows and Unicode (platform 3, encoding 1) begins."""
    count = struct.unpack_from(">H", content, cmap + 2)[0]
    records = (struct.unpack_from(">HHI", content, cmap + 4 + 8 * i) for i in range(count))
    return cmap + int(next(start for *kind, start in records if kind == [3, 1]))


def wrapped(text: str, width: float, *, size: float, bold: bool = False) -> list[str]:
    """Return `text` in lines no wider than `width` points; a word too wide is broken."""
    measure = font(BOLD if bold else REGULAR)
    return [
        line for given in text.split("\n") for line in _wrapped_line(given, width, measure, size)
    ]


def _wrapped_line(text: str, width: float, measure: Font, size: float) -> list[str]:
    lines = [""]
    for word in _narrow_words(text, width, measure, size):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if measure.width(longer, size) <= width:
            lines[-1] = longer
        elif lines[-1]:
            lines.append(word)
        else:
            lines[-1] = word
    return lines


def _narrow_words(text: str, width: float, measure: Font, size: float) -> list[str]:
    """Return the words of `text`, those wider than `width` in parts."""
    return [part for word in text.split(" ") for part in _parts(word, width, measure, size)]


def _parts(word: str, width: float, measure: Font, size: float) -> list[str]:
    cuts, used = [0], 0.0
    for at, letter in enumerate(word):
        used += measure.width(letter, size)
        if used > width and at > cuts[-1]:
            cuts.append(at)
            used = measure.width(letter, size)
    return [word[start:end] for start, end in pairwise([*cuts, len(word)])]
