"""The zip file a workbook is: its entries, whose compressed bytes pass through unchanged.

Layout of the records: PKWARE APPNOTE.TXT 6.3.10, sections 4.3.7 (local file header), 4.3.12
(central directory) and 4.3.16 (end of central directory).
"""

import struct
import zlib
from collections.abc import Iterable
from typing import NamedTuple

from ledger_tools.errors import BookUnreadableError

MOST_BYTES = 512 * 1024 * 1024
"""Largest workbook file that is opened."""
MOST_ENTRIES = 65_534
MOST_UNPACKED = 256 * 1024 * 1024
"""Largest part when unpacked; a sheet of two million cells is about half of it."""
MOST_UNPACKED_TOTAL = 2 * 1024 * 1024 * 1024

_LOCAL = struct.Struct("<4s5H3L2H")
_CENTRAL = struct.Struct("<4s6H3L5H2L")
_END = struct.Struct("<4s4H2LH")
_OFFSET = struct.Struct("<L")
_OLE = bytes.fromhex("d0cf11e0a1b11ae1")
_STORED, _DEFLATED = 0, 8
_LEVEL = 4
"""A register of a thousand rows takes a third of the time of level 6, and a tenth more room."""
_ENCRYPTED, _SIZES_FOLLOW, _UTF8 = 0x1, 0x8, 0x800
_WIDE = 0xFFFFFFFF
_WHERE = 42
"""Where a directory record tells the offset of its entry."""
_MENDED = "Restore the last backup, or open the file in your spreadsheet program and save it again"
_SAVED_AGAIN = "Open it in your spreadsheet program and save it as an Excel workbook (.xlsx)"


class Entry(NamedTuple):
    """One entry of the zip as it stands in the file.

    Attributes:
        name: Name inside the zip.
        method: 0 stored, 8 deflated.
        crc: CRC-32 of the unpacked bytes.
        size: Length when unpacked, in bytes.
        head: Local header with name and extra field, sizes filled in.
        packed: Compressed bytes; of a file that was read, a view of them.
        central: Central directory record; its offset is filled in when written.
        at: Where head and packed bytes stand in the file that was read; -1 where they do not.
    """

    name: str
    method: int
    crc: int
    size: int
    head: bytes
    packed: bytes | memoryview
    central: bytes
    at: int = -1


def read_entries(content: bytes, file: str) -> list[Entry]:
    """Return the entries of the zip file `content`, in the order of its directory.

    Args:
        content: The whole file.
        file: Its name, for messages.

    Raises:
        BookUnreadableError: It is no zip, is cut off, encrypted, too large or contradicts itself.
    """
    count, start, end = _directory(content, file)
    entries: list[Entry] = []
    spans: list[tuple[int, int]] = []
    view = memoryview(content)
    at = start
    for _ in range(count):
        if content[at : at + 4] != b"PK\1\2" or at + _CENTRAL.size > end:
            raise _damaged(file, "its list of parts is cut off")
        entry, span, at = _entry(content, view, at, start, file)
        entries.append(entry)
        spans.append(span)
    _refuse_overlaps(spans, file)
    if sum(e.size for e in entries) > MOST_UNPACKED_TOTAL:
        raise _too_large(file)
    return entries


def unpack(entry: Entry, file: str) -> bytes:
    """Return the unpacked bytes of `entry`.

    Raises:
        BookUnreadableError: The bytes do not unpack to what the directory promises.
    """
    if entry.method == _STORED:
        plain = bytes(entry.packed)
    else:
        inflater = zlib.decompressobj(-zlib.MAX_WBITS)
        try:
            plain = inflater.decompress(entry.packed, entry.size + 1)
        except zlib.error as error:
            raise _damaged(file, f"part '{entry.name}' cannot be unpacked") from error
    if len(plain) != entry.size or zlib.crc32(plain) != entry.crc:
        raise _damaged(file, f"part '{entry.name}' does not match its checksum")
    return plain


def unpack_start(entry: Entry, length: int) -> bytes:
    """Return about the first `length` unpacked bytes of `entry`, unchecked; none if damaged."""
    if entry.method == _STORED:
        return bytes(entry.packed[:length])
    try:
        return zlib.decompressobj(-zlib.MAX_WBITS).decompress(entry.packed, length)
    except zlib.error:
        return b""


def pack(name: str, plain: bytes) -> Entry:
    """Return `plain` as a compressed entry; the same bytes always give the same entry."""
    deflater = zlib.compressobj(_LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
    packed = deflater.compress(plain) + deflater.flush()
    raw = name.encode()
    flags = 0 if name.isascii() else _UTF8
    crc, midnight, first_day = zlib.crc32(plain), 0, 0x21
    facts = (20, flags, _DEFLATED, midnight, first_day, crc, len(packed), len(plain), len(raw), 0)
    head = _LOCAL.pack(b"PK\3\4", *facts) + raw
    central = _CENTRAL.pack(b"PK\1\2", 20, *facts, 0, 0, 0, 0, 0) + raw
    return Entry(name, _DEFLATED, crc, len(plain), head, packed, central)


def write_entries(entries: Iterable[Entry], old: bytes) -> list[bytes | memoryview]:
    """Return a zip file of `entries`, in their order, in pieces.

    Args:
        entries: What it is to hold.
        old: The file entries were read from; what follows each other there is one piece of it.
    """
    view = memoryview(old)
    pieces: list[bytes | memoryview] = []
    directory: list[bytes] = []
    first = last = at = 0
    for entry in entries:
        length = len(entry.head) + len(entry.packed)
        if entry.at != last:
            pieces.append(view[first:last])
            first = last = max(entry.at, 0)
        if entry.at < 0:
            pieces += (entry.head, entry.packed)
        else:
            last += length
        central = entry.central
        directory.append(
            central
            if entry.at == at
            else b"".join((central[:_WHERE], _OFFSET.pack(at), central[_WHERE + _OFFSET.size :]))
        )
        at += length
    pieces.append(view[first:last])
    listed = b"".join(directory)
    end = _END.pack(b"PK\5\6", 0, 0, len(directory), len(directory), len(listed), at, 0)
    return [*pieces, listed, end]


def _directory(content: bytes, file: str) -> tuple[int, int, int]:
    """Return the number of entries, and where the directory begins and ends."""
    if content.startswith(_OLE):
        raise BookUnreadableError(
            file,
            "the file is protected by a password or saved in the format of before 2007",
            f"{_SAVED_AGAIN}, without a password to open it",
        )
    if not content.startswith(b"PK\3\4"):
        what = "the file is empty" if not content else "this is not an Excel workbook"
        raise BookUnreadableError(file, what, _SAVED_AGAIN)
    at = content.rfind(b"PK\5\6", max(0, len(content) - 65_557))
    if at < 0 or at + _END.size > len(content):
        raise _damaged(file, "the file is cut off before its end")
    _, disk, first_disk, here, count, length, start, _ = _END.unpack_from(content, at)
    if count > MOST_ENTRIES or start == _WIDE or content[at - 20 : at - 16] == b"PK\6\7":
        raise BookUnreadableError(file, "the file is in the zip64 format", _SAVED_AGAIN)
    if disk or first_disk or here != count or start + length > at:
        raise _damaged(file, "its list of parts is not where it should be")
    return count, start, start + length


def _entry(
    content: bytes, view: memoryview, at: int, limit: int, file: str
) -> tuple[Entry, tuple[int, int], int]:
    """Return the entry a directory record describes, its first and last byte, and the next record.

    Args:
        content: The whole file.
        view: The same, to be cut without copying.
        at: Where the record begins.
        limit: Where the directory begins.
        file: Name of the file, for messages.
    """
    fields = _CENTRAL.unpack_from(content, at)
    flags, method, crc, packed_size, size = fields[3], fields[4], *fields[7:10]
    following = at + _CENTRAL.size + sum(fields[10:13])
    central = content[at:following]
    offset = fields[16]
    raw = central[_CENTRAL.size : _CENTRAL.size + fields[10]]
    plainly = flags & _UTF8 or raw.isascii()
    name = raw.decode("utf-8" if plainly else "cp437", "replace")
    _refuse_unfit(name, flags, method, (packed_size, size, offset), file)
    if content[offset : offset + 4] != b"PK\3\4" or offset + _LOCAL.size > limit:
        raise _damaged(file, f"part '{name}' is not where it should be")
    local = _LOCAL.unpack_from(content, offset)
    start = offset + _LOCAL.size + local[9] + local[10]
    head = content[offset:start]
    if head[_LOCAL.size : _LOCAL.size + local[9]] != raw or local[3] != method:
        raise _damaged(file, f"part '{name}' is described in two ways")
    end = start + packed_size
    if end > limit:
        raise _damaged(file, f"part '{name}' is cut off")
    where = offset
    if flags & _SIZES_FOLLOW:
        flags &= ~_SIZES_FOLLOW
        sizes = struct.pack("<3L", crc, packed_size, size)
        head = head[:6] + struct.pack("<H", flags) + head[8:14] + sizes + head[26:]
        central = central[:8] + struct.pack("<H", flags) + central[10:]
        where = -1
    entry = Entry(name, method, crc, size, head, view[start:end], central, where)
    return entry, (offset, end), following


def _refuse_unfit(
    name: str, flags: int, method: int, numbers: tuple[int, int, int], file: str
) -> None:
    """Refuse what the zip format allows and a workbook does not need."""
    packed_size, size, _ = numbers
    if flags & _ENCRYPTED:
        raise BookUnreadableError(file, f"part '{name}' is encrypted", _SAVED_AGAIN)
    if _WIDE in numbers:
        raise BookUnreadableError(file, "the file is in the zip64 format", _SAVED_AGAIN)
    if method not in {_STORED, _DEFLATED}:
        what = f"part '{name}' is compressed in an unknown way ({method})"
        raise BookUnreadableError(file, what, _SAVED_AGAIN)
    if size > MOST_UNPACKED or size > 1032 * packed_size + 64:
        raise _too_large(file)
    if method == _STORED and size != packed_size:
        raise _damaged(file, f"part '{name}' has two lengths")


def _refuse_overlaps(spans: list[tuple[int, int]], file: str) -> None:
    """Refuse a file in which two entries share bytes, as only a zip bomb does."""
    end = 0
    for first, last in sorted(spans):
        if first < end:
            raise _damaged(file, "two of its parts overlap")
        end = last


def _damaged(file: str, what: str) -> BookUnreadableError:
    return BookUnreadableError(file, f"the file is damaged: {what}", _MENDED)


def _too_large(file: str) -> BookUnreadableError:
    return BookUnreadableError(
        file,
        "a part of the file would unpack to more than a shop book can hold",
        "Check where the file comes from; use the last backup",
    )
