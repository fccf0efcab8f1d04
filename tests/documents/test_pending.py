"""The note of papers to be made: numbers beside the book, and nothing else is believed of it."""

from pathlib import Path

import pytest

from ledger_tools.documents.pending import forget_pending, note_of, note_pending, pending
from ledger_tools.errors import FileInTheWayError


def test_numbers_come_back_in_order_and_once(tmp_path: Path) -> None:
    """What is noted is read again; forgotten, it is gone and no file is left."""
    book = tmp_path / "shop.xlsx"

    note_pending(book, ["25-0002", "25-0001", "25-0002"])
    noted = pending(book)
    forget_pending(book)

    assert noted == ("25-0002", "25-0001")
    assert (pending(book), list(tmp_path.iterdir())) == ((), [])


def test_nothing_to_note_leaves_no_note(tmp_path: Path) -> None:
    """The note of before goes with it."""
    book = tmp_path / "shop.xlsx"
    note_pending(book, ["25-0001"])

    note_pending(book, [])

    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (b"", ()),
        (b"25-0001\n25-00", ("25-0001", "25-00")),
        (b"\xff\xfe\n../../x\n", ("\ufffd\ufffd", "../../x")),
        (b"1\n" * 600_000, ()),
    ],
    ids=["empty", "half", "strange", "huge"],
)
def test_a_note_that_is_no_note_stops_nothing(
    tmp_path: Path, written: bytes, read: tuple[str, ...]
) -> None:
    """Whatever stands there is words to be looked up in the book; a huge file is not read."""
    note_of(tmp_path / "shop.xlsx").write_bytes(written)

    assert pending(tmp_path / "shop.xlsx") == read


def test_a_note_that_cannot_be_written_stops_before_anything_is_issued(tmp_path: Path) -> None:
    """The message names it."""
    note_of(tmp_path / "shop.xlsx").mkdir()

    with pytest.raises(FileInTheWayError, match="nothing was issued"):
        note_pending(tmp_path / "shop.xlsx", ["25-0001"])


def test_the_note_of_a_linked_book_lies_beside_the_file(tmp_path: Path) -> None:
    """Two ways to one book have one note."""
    (tmp_path / "real").mkdir()
    book = tmp_path / "real" / "shop.xlsx"
    book.touch()
    (tmp_path / "link.xlsx").symlink_to(book)

    assert note_of(tmp_path / "link.xlsx") == book.with_name(".shop.xlsx.papers")
