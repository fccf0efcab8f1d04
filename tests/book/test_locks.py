"""A book that is open elsewhere is not written."""

from pathlib import Path

import pytest

from ledger_tools.book.locks import locks_of, refuse_if_open
from ledger_tools.errors import BookLockedError


@pytest.mark.parametrize(
    ("lock", "content", "who"),
    [
        ("~$shop.xlsx", b"\x04Anna" + b" " * 50 + b"A\0n\0n\0a\0", " (Anna)"),
        ("~$shop.xlsx", b"", ""),
        (".~lock.shop.xlsx#", b",anna,bench,01.03.2025 10:11,file:///p;", " (anna, bench)"),
        (".~lock.shop.xlsx#", b"Anna B,anna,bench,01.03.2025 10:11,file:///p;",
         " (Anna B, anna, bench)"),
        (".~lock.shop.xlsx#", b"\xff\xfe", ""),
    ],
)  # fmt: skip
def test_an_open_book_is_refused(tmp_path: Path, lock: str, content: bytes, who: str) -> None:
    """The message says who holds it, and which file to delete if nobody does."""
    (tmp_path / lock).write_bytes(content)

    with pytest.raises(BookLockedError) as caught:
        refuse_if_open(tmp_path / "shop.xlsx")

    assert caught.value.where == "shop.xlsx"
    assert caught.value.what == f"the book is open in a spreadsheet program{who}"
    assert f"delete the file '{lock}'" in caught.value.remedy


def test_a_lock_of_another_book_is_no_hindrance(tmp_path: Path) -> None:
    """Only the lock files of this book count."""
    (tmp_path / "~$shop 2.xlsx").touch()
    (tmp_path / ".~lock.shop.ods#").touch()

    refuse_if_open(tmp_path / "shop.xlsx")

    assert locks_of(tmp_path / "shop.xlsx") == ()


def test_the_lock_lies_beside_the_real_file(tmp_path: Path) -> None:
    """A book opened through a link is locked where it really lies."""
    (tmp_path / "real").mkdir()
    book = tmp_path / "real" / "shop.xlsx"
    book.touch()
    link = tmp_path / "link.xlsx"
    link.symlink_to(book)
    (book.parent / "~$shop.xlsx").touch()

    with pytest.raises(BookLockedError):
        refuse_if_open(link)
