"""Zip files are copied as they stand, and refused where they are not what they say."""

import io
import struct
import zipfile
from itertools import product

import pytest

from ledger_tools.book.parts.archive import (
    pack,
    read_entries,
    unpack,
    unpack_start,
    write_entries,
)
from ledger_tools.errors import BookUnreadableError


def _zip(parts: dict[str, bytes], *, stream: bool = False) -> bytes:
    class NoSeek(io.BytesIO):
        def seekable(self) -> bool:
            return False

    target = NoSeek() if stream else io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as opened:
        for name, content in parts.items():
            opened.writestr(name, content)
    return target.getvalue()


@pytest.mark.parametrize("stream", [False, True], ids=["sizes first", "sizes after the bytes"])
def test_entries_written_again_are_read_by_another_program(*, stream: bool) -> None:
    """Another program reads what is written, also where sizes stood behind the bytes."""
    content = _zip({"a/é.xml": b"one" * 100, "b": b""}, stream=stream)
    entries = read_entries(content, "x.xlsx")

    written = b"".join(write_entries([*entries, pack("ü", b"new")], content))

    with zipfile.ZipFile(io.BytesIO(written)) as opened:
        assert opened.testzip() is None
        assert opened.namelist() == ["a/é.xml", "b", "ü"]
        assert [opened.read(n) for n in opened.namelist()] == [b"one" * 100, b"", b"new"]
    assert [e.packed for e in read_entries(written, "x.xlsx")][:2] == [e.packed for e in entries]


@pytest.mark.parametrize("changes", list(product(("kept", "dropped", "written"), repeat=4)))
def test_what_is_kept_between_what_changes_is_the_same_bytes(changes: tuple[str, ...]) -> None:
    """Parts that follow each other are copied as one piece, wherever others change or go."""
    old = {name: name.encode() * 50 for name in "abcd"}
    content = _zip(old)
    what = dict(zip("abcd", changes, strict=True))
    entries = [
        entry if what[entry.name] == "kept" else pack(entry.name, b"new" * 9)
        for entry in read_entries(content, "x.xlsx")
        if what[entry.name] != "dropped"
    ]

    written = b"".join(write_entries(entries, content))

    with zipfile.ZipFile(io.BytesIO(written)) as opened:
        assert {n: opened.read(n) for n in opened.namelist()} == {
            name: old[name] if what[name] == "kept" else b"new" * 9
            for name in "abcd"
            if what[name] != "dropped"
        }
    again = read_entries(written, "x.xlsx") if entries else []
    assert [(e.head, bytes(e.packed)) for e in again] == [
        (e.head, bytes(e.packed)) for e in entries
    ]


def test_stored_and_packed_parts_both_unpack() -> None:
    """A part may stand uncompressed in the file."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as opened:
        opened.writestr("a", b"plain")

    assert unpack(read_entries(target.getvalue(), "x.xlsx")[0], "x.xlsx") == b"plain"


def _with(content: bytes, at: int, new: bytes) -> bytes:
    return content[:at] + new + content[at + len(new) :]


_GOOD = _zip({"[Content_Types].xml": b"<a/>" * 50, "b.xml": b"<b/>" * 50})
_DIRECTORY = _GOOD.index(b"PK\1\2")
_SECOND = _GOOD.index(b"PK\1\2", _DIRECTORY + 1)
_END = _GOOD.index(b"PK\5\6")
_HUGE = struct.pack("<L", 0xFFFFFFFF)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        pytest.param(b"", "the file is empty", id="empty"),
        pytest.param(b"Job;Customer\n", "not an Excel workbook", id="text"),
        pytest.param(bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 600, "password", id="encrypted"),
        pytest.param(_GOOD[:-30], "cut off", id="end missing"),
        pytest.param(_GOOD[: len(_GOOD) // 2], "cut off", id="half a file"),
        pytest.param(_GOOD[:40] + _GOOD[60:], "not where it should be", id="hole in the middle"),
        pytest.param(_with(_GOOD, _END + 10, b"\xff\xff"), "zip64", id="zip64 count"),
        pytest.param(_with(_GOOD, _DIRECTORY + 24, _HUGE), "zip64", id="zip64 size"),
        pytest.param(_with(_GOOD, _DIRECTORY + 8, b"\1"), "encrypted", id="encrypted part"),
        pytest.param(_with(_GOOD, _DIRECTORY + 10, b"\x0e"), "unknown way", id="other method"),
        pytest.param(
            _with(_GOOD, _DIRECTORY + 24, struct.pack("<L", 200_000_000)),
            "more than a shop book can hold",
            id="swells a million times",
        ),
        pytest.param(_with(_GOOD, 30, b"x"), "described in two ways", id="two names"),
        pytest.param(
            _with(_GOOD, _SECOND + 42, struct.pack("<L", 0)), "described in two ways", id="twice"
        ),
    ],
)
def test_unfit_files_are_refused_with_a_reason(content: bytes, what: str) -> None:
    """Each kind of broken or hostile file gets its own sentence, with the file and a remedy."""
    with pytest.raises(BookUnreadableError, match=what) as caught:
        read_entries(content, "shop.xlsx")

    assert caught.value.where == "shop.xlsx"
    assert caught.value.remedy


def test_entries_that_share_bytes_are_refused() -> None:
    """Many entries over the same bytes are how a small file swells to a huge one."""
    one = _zip({"a": b"x" * 1000})
    directory = one[one.index(b"PK\1\2") : one.index(b"PK\5\6")]
    start = one.index(b"PK\1\2")
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 2, 2, 2 * len(directory), start, 0)

    with pytest.raises(BookUnreadableError, match="overlap"):
        read_entries(one[:start] + directory * 2 + end, "shop.xlsx")


@pytest.mark.parametrize("size", [100, 300], ids=["more than promised", "less than promised"])
def test_a_part_that_is_not_as_long_as_promised_is_refused(size: int) -> None:
    """A part unpacks to what the directory says, and no byte further."""
    wrong = _with(_GOOD, _DIRECTORY + 24, struct.pack("<L", size))

    with pytest.raises(BookUnreadableError, match="checksum"):
        unpack(read_entries(wrong, "shop.xlsx")[0], "shop.xlsx")


def test_a_part_with_flipped_bits_is_refused() -> None:
    """Damage inside a part is noticed by its checksum."""
    entry = read_entries(_GOOD, "shop.xlsx")[0]
    at = _GOOD.index(entry.packed)
    damaged = _with(_GOOD, at + 2, bytes([_GOOD[at + 2] ^ 0x55]))

    with pytest.raises(BookUnreadableError, match=r"Content_Types"):
        unpack(read_entries(damaged, "shop.xlsx")[0], "shop.xlsx")


def test_the_start_of_a_damaged_part_is_nothing() -> None:
    """A look at the start of a part says nothing; reading the whole part then names the damage."""
    entry = read_entries(_GOOD, "shop.xlsx")[0]._replace(packed=b"\xff" * 20)

    assert unpack_start(entry, 100) == b""
    with pytest.raises(BookUnreadableError, match="cannot be unpacked"):
        unpack(entry, "shop.xlsx")
