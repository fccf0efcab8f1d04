"""Saving leaves the old book or the new one, and a backup."""

import os
from pathlib import Path

import pytest

from ledger_tools.book import disk
from ledger_tools.book.save import backup_folder, save_book
from ledger_tools.book.turns import lock_of
from ledger_tools.errors import BookChangedError, BookLockedError, FileInTheWayError

DAY = 1_740_830_400  # 2025-03-01, noon in Greenwich


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a file that stands for a book."""
    path = tmp_path / "shop.xlsx"
    _write(path, b"old", DAY)
    return path


def _write(path: Path, content: bytes, saved: int) -> bytes:
    path.write_bytes(content)
    os.utime(path, (saved, saved))
    return content


def _names(path: Path) -> list[str]:
    return sorted(p.name for p in path.iterdir())


def test_the_new_book_replaces_the_old_one(book: Path) -> None:
    """The old one is kept under the time it was saved, and nothing else is left behind."""
    backup = save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"new"
    assert backup.read_bytes() == b"old"
    assert backup.stat().st_mtime == DAY
    assert backup.parent == backup_folder(book) == book.parent / "shop-backups"
    assert backup.name.startswith("shop 2025-03-01 ")
    assert _names(book.parent) == ["shop-backups", "shop.xlsx"]


def test_a_backup_does_not_change_with_the_book(book: Path) -> None:
    """The backup is a file of its own once the book is replaced."""
    backup = save_book(book, b"new", old=b"old")
    with book.open("ab") as opened:
        opened.write(b"er")

    assert backup.read_bytes() == b"old"


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such permissions")
def test_permissions_stay(book: Path) -> None:
    """The new file may be read by the same people."""
    book.chmod(0o640)
    save_book(book, b"new", old=b"old")

    assert book.stat().st_mode & 0o777 == 0o640


def test_a_book_saved_meanwhile_is_not_overwritten(book: Path) -> None:
    """Its bytes tell, whatever the date of the file says."""
    _write(book, b"newer", DAY)

    with pytest.raises(BookChangedError, match="saved by another program"):
        save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"newer"
    assert _names(book.parent) == ["shop.xlsx"]


def test_an_open_book_is_not_overwritten(book: Path) -> None:
    """Even if it was opened after the plan was begun."""
    (book.parent / ".~lock.shop.xlsx#").touch()

    with pytest.raises(BookLockedError):
        save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"old"
    assert _names(book.parent) == [".~lock.shop.xlsx#", "shop.xlsx"]


def test_a_book_held_open_by_windows_is_named_as_such(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows refuses to replace a file that a program holds open."""

    def fail(*_: object) -> None:
        raise PermissionError(13, "Access is denied")

    monkeypatch.setattr(disk, "replace", fail)

    with pytest.raises(BookLockedError, match="another program holds it open"):
        save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"old"


def test_backups_are_copied_where_links_are_not_possible(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A memory stick knows no hard links."""

    def fail(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(disk, "link", fail)
    backup = save_book(book, b"new", old=b"old")

    assert backup.read_bytes() == b"old"
    assert backup.stat().st_mtime == DAY


def test_only_so_many_backups_are_kept(book: Path) -> None:
    """The oldest go first; what the owner put into the folder stays."""
    folder = backup_folder(book)
    folder.mkdir()
    for name in ("shop 2024 before the flood.xlsx", "notes.txt", "other 2025-01-01 10-00-00.xlsx"):
        _write(folder / name, b"mine", 1)
    for number in range(5):
        old = _write(book, b"%d" % number, DAY + number * 60)
        save_book(book, b"new", old=old, keep=3)

    ours = [p for p in folder.iterdir() if p.read_bytes() != b"mine"]
    assert sorted(p.read_bytes() for p in ours) == [b"2", b"3", b"4"]
    assert len(_names(folder)) == 6


def test_backups_of_the_same_second_are_told_apart(book: Path) -> None:
    """A batch saves more than once a second, and no version is lost."""
    kept = []
    for number in range(12):
        old = _write(book, b"%02d" % number, DAY)
        kept.append(save_book(book, b"new", old=old, keep=10))

    assert len({p.name for p in kept}) == 12
    left = sorted(p.read_bytes() for p in backup_folder(book).iterdir())
    assert left == [b"%02d" % n for n in range(2, 12)]


def test_a_clock_set_back_loses_no_version(book: Path) -> None:
    """The last versions are kept in the order they were made, whatever the clock said then."""
    for number in range(6):
        old = _write(book, b"%d" % number, DAY - number * 86_400)
        save_book(book, b"new", old=old, keep=3)

    left = sorted(p.read_bytes() for p in backup_folder(book).iterdir())
    assert left == [b"3", b"4", b"5"]


def test_a_backup_of_before_the_numbers_is_the_oldest(book: Path) -> None:
    """Backups that have no number in their names are known and go first."""
    backup_folder(book).mkdir()
    (backup_folder(book) / "shop 2031-01-01 10-00-00.xlsx").touch()

    for number in range(2):
        save_book(book, b"new", old=_write(book, b"%d" % number, DAY), keep=2)

    assert sorted(p.read_bytes() for p in backup_folder(book).iterdir()) == [b"0", b"1"]


def test_a_book_saved_just_before_it_is_replaced_is_not_lost(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program without a lock file saves after the bytes were compared: its version stays."""
    link = disk.link

    def saved_meanwhile(path: Path, another: Path) -> None:
        link(path, another)
        fresh = path.with_name("fresh")
        fresh.write_bytes(b"theirs")
        fresh.replace(path)

    monkeypatch.setattr(disk, "link", saved_meanwhile)
    with pytest.raises(BookChangedError, match="run the command again"):
        save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"theirs"
    assert _names(backup_folder(book)) == []


def test_a_book_marked_as_read_only_is_not_written(book: Path) -> None:
    """Its owner meant it; the folder alone would allow it."""
    book.chmod(0o444)

    with pytest.raises(FileInTheWayError, match="marked as read-only"):
        save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"old"
    assert _names(book.parent) == ["shop.xlsx"]


def test_a_backup_folder_that_cannot_be_written_is_named(book: Path) -> None:
    """Without a backup the book is not touched."""
    backup_folder(book).write_text("a file", encoding="utf-8")

    with pytest.raises(FileInTheWayError, match="folder 'shop-backups': the backup cannot"):
        save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"old"
    assert _names(book.parent) == ["shop-backups", "shop.xlsx"]


def test_what_killed_runs_left_is_removed(book: Path) -> None:
    """Half-written files and locks of this book go; files that look alike stay."""
    ours = [".shop.xlsx-0123abcd.part", lock_of(book).name]
    others = [".shop.xlsx-0123abcd.parts", ".shop.xlsx-my.part", ".shop2.xlsx-0123abcd.part"]
    for name in [*ours, *others]:
        (book.parent / name).write_bytes(b"half")

    save_book(book, b"new", old=b"old")

    assert _names(book.parent) == sorted([*others, "shop-backups", "shop.xlsx"])


def test_the_newest_backup_is_kept_whatever_its_date(book: Path) -> None:
    """A book restored from an old backup has an old date; its backup is kept all the same."""
    for number in range(3):
        save_book(book, b"new", old=_write(book, b"%d" % number, DAY + number), keep=2)
    backup = save_book(book, b"new", old=_write(book, b"restored", DAY - 99_999), keep=2)

    assert backup.read_bytes() == b"restored"
    assert len(_names(backup_folder(book))) == 2


def test_a_link_to_the_book_stays_a_link(book: Path, tmp_path: Path) -> None:
    """The file it points to is replaced, and the backups lie beside that file."""
    (tmp_path / "desk").mkdir()
    link = tmp_path / "desk" / "book.xlsx"
    link.symlink_to(book)

    save_book(link, b"new", old=b"old")

    assert link.is_symlink()
    assert book.read_bytes() == b"new"
    assert _names(tmp_path / "desk") == ["book.xlsx"]
