"""Random damage: to bytes, to the XML of a workbook's parts, and to words people type."""

import re
from collections.abc import Callable, Sequence
from random import Random

Bytes = Callable[[Random, bytes], bytes]

_SPLIT = re.compile(rb"(<[^<>]*>|[^<>]+)")
_VALUE = re.compile(rb'"[^"]*"')
STRANGE = (
    "", " ", "-1", "0", "1", "99999999999999999999", "1e999", "-0.0", "NaN", "INF", "1_0", "0x10",
    "١٢", "½", "²", "1,5", "1.5h", "1h30", "25:99", "TRUE", "#REF!", "=1+1", "A1", "XFD1048576",
    "A1048577", "XFE1", "A0", "A1:B2", "B2:A1", "A:A", "$A$1", "Jobs!$A$1", "'", "''!A1", "rId1",
    "../../x", "/xl/workbook.xml", "file:///etc/passwd", "xl/worksheets/sheet1.xml", "\u202egnp",
    "_x0000_", "_xD800_", "a" * 40_000, "\ud7ff\ue000", "shared", "array", "s", "str", "inlineStr",
    "b", "e", "d", "n", "2025-02-30", "9999-12-31", "0001-01-01", "{yy}-{n:04}", "{n}", "\n", "\t",
    "&amp;", "1" * 400, "yes", "no", "void", "to invoice",
)  # fmt: skip
"""Words that have broken programs."""


def _flip(random: Random, content: bytes) -> bytes:
    at = random.randrange(len(content))
    return content[:at] + bytes([random.randrange(256)]) + content[at + 1 :]


def _cut(random: Random, content: bytes) -> bytes:
    at = random.randrange(len(content))
    return content[:at] + content[at + random.choice((1, 2, 4, 40, 4000)) :]


def _truncate(random: Random, content: bytes) -> bytes:
    return content[: random.randrange(len(content))]


def _double(random: Random, content: bytes) -> bytes:
    first, last = sorted(random.randrange(len(content)) for _ in range(2))
    piece = content[first : min(last, first + 4000)]
    return content[:last] + piece + content[last:]


def _number(random: Random, content: bytes) -> bytes:
    """Put a number of two or four bytes in, such as a length or an offset."""
    at = random.randrange(len(content))
    length = random.choice((2, 4))
    number = random.choice((0, 1, 255, 65_535, 0xFFFF_FFFF, 0x7FFF_FFFF, random.getrandbits(32)))
    packed = (number & (1 << 8 * length) - 1).to_bytes(length, "little")
    return content[:at] + packed + content[at + length :]


BYTES: Sequence[Bytes] = (_flip, _cut, _truncate, _double, _number)


def damaged(random: Random, content: bytes) -> bytes:
    """Return `content` with a few bytes changed, lost or doubled."""
    for _ in range(random.choice((1, 1, 2, 5))):
        content = random.choice(BYTES)(random, content or b"\0")
    return content


def _drop(random: Random, pieces: list[bytes], at: int) -> None:
    del pieces[at : at + random.choice((1, 1, 2, 3, 10))]


def _repeat(random: Random, pieces: list[bytes], at: int) -> None:
    pieces[at:at] = pieces[at : at + random.choice((1, 2, 3, 10))]


def _swap(random: Random, pieces: list[bytes], at: int) -> None:
    other = random.randrange(len(pieces))
    pieces[at], pieces[other] = pieces[other], pieces[at]


def _reword(random: Random, pieces: list[bytes], at: int) -> None:
    """Put a strange word in the place of a text or of an attribute's value."""
    word = random.choice(STRANGE).replace("&", "&amp;").replace("<", "&lt;").encode()
    piece = pieces[at]
    if not piece.startswith(b"<"):
        pieces[at] = word
        return
    values = list(_VALUE.finditer(piece))
    if values:
        chosen = random.choice(values)
        quoted = b'"' + word.replace(b'"', b"&quot;") + b'"'
        pieces[at] = piece[: chosen.start()] + quoted + piece[chosen.end() :]


def _reattribute(random: Random, pieces: list[bytes], at: int) -> None:
    """Take an attribute away."""
    found = list(re.finditer(rb' [A-Za-z:0-9]+="[^"]*"', pieces[at]))
    if found:
        chosen = random.choice(found)
        pieces[at] = pieces[at][: chosen.start()] + pieces[at][chosen.end() :]


XML = (_drop, _repeat, _swap, _reword, _reword, _reword, _reattribute)


def altered(random: Random, part: bytes) -> bytes:
    """Return an XML part with tags and words dropped, doubled, swapped or replaced."""
    if random.random() < 0.1:
        return damaged(random, part)
    pieces = _SPLIT.findall(part)
    for _ in range(random.choice((1, 1, 2, 5, 20))):
        if pieces:
            random.choice(XML)(random, pieces, random.randrange(len(pieces)))
    return b"".join(pieces)


def word(random: Random) -> str:
    """Return something a person, or a person's enemy, may type."""
    kind = random.randrange(4)
    if kind == 0:
        return random.choice(STRANGE)
    if kind == 1:
        letters = "0123456789.,:;hm +-%=/'\"{}[]()eE\n\t"
        return "".join(random.choice(letters) for _ in range(random.randrange(12)))
    if kind == 2:
        return "".join(letter(random) for _ in range(random.randrange(30)))
    return random.choice(STRANGE) + random.choice(STRANGE)[:200]


def letter(random: Random) -> str:
    """Return any letter there is, surrogates left out."""
    code = random.choice((random.randrange(0x80), random.randrange(0x3000),
                          random.randrange(0x11_0000)))  # fmt: skip
    return "\ufffd" if 0xD800 <= code <= 0xDFFF else chr(code)
