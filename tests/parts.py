"""Workbook files as tests take them apart: their parts by name, and what is put into them."""

import re
import struct
import zipfile
import zlib
from pathlib import Path


def png() -> bytes:
    """Return a picture of 2 x 2 red points."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        checked = kind + content
        return struct.pack(">L", len(content)) + checked + struct.pack(">L", zlib.crc32(checked))

    head = struct.pack(">2L5B", 2, 2, 8, 2, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\xc0\x20\x20" * 2) * 2)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def read_parts(path: Path) -> dict[str, bytes]:
    """Return the parts of a workbook, unpacked."""
    with zipfile.ZipFile(path) as opened:
        return {info.filename: opened.read(info) for info in opened.infolist()}


def write_parts(path: Path, parts: dict[str, bytes]) -> Path:
    """Write a workbook of these parts."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as opened:
        for name, content in parts.items():
            opened.writestr(name, content)
    return path


def packed_parts(path: Path) -> dict[str, bytes]:
    """Return the compressed bytes of each part of a workbook, in the order of the file."""
    content = path.read_bytes()
    with zipfile.ZipFile(path) as opened:
        found = {}
        for info in sorted(opened.infolist(), key=lambda i: i.header_offset):
            lengths = struct.unpack_from("<2H", content, info.header_offset + 26)
            start = info.header_offset + 30 + sum(lengths)
            found[info.filename] = content[start : start + info.compress_size]
    return found


def share_formulas(path: Path) -> None:
    """Write B2:B7 of the owner's sheet as one shared formula, as Excel does on saving."""
    parts = read_parts(path)
    name = next(n for n, content in parts.items() if b"A2*2+$A$2</f>" in content)
    text = parts[name].decode()
    text = text.replace("<f>A2*2+$A$2</f>", '<f t="shared" ref="B2:B7" si="0">A2*2+$A$2</f>')
    parts[name] = re.sub(r"<f>A[3-7]\*2\+\$A\$2</f>", '<f t="shared" si="0"/>', text).encode()
    write_parts(path, parts)
