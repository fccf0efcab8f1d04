"""Folders and files are brought down to the disk, and what is not confirmed is said."""

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from ledger_tools.book import disk
from ledger_tools.book.save import save_book, save_new
from ledger_tools.book.whole import make_folder
from ledger_tools.documents.store import write_document
from ledger_tools.errors import FileInTheWayError


@pytest.fixture
def flushed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of the folders that are brought down, and of the files put in place."""
    done: list[str] = []
    replace = disk.replace

    def put(path: Path, by: Path) -> None:
        done.append(f"put {path.name}")
        replace(path, by)

    monkeypatch.setattr(disk, "flush_folder", lambda folder: done.append(folder.name))
    monkeypatch.setattr(disk, "replace", put)
    return done


def test_the_names_of_new_folders_are_brought_down(tmp_path: Path, flushed: list[str]) -> None:
    """Outermost first; a folder that is there already costs nothing."""
    make_folder(tmp_path / "papers" / "2025")
    make_folder(tmp_path / "papers" / "2025")

    assert flushed == [tmp_path.name, "papers"]
    assert (tmp_path / "papers" / "2025").is_dir()


def test_the_first_backup_is_certain_before_the_book_is_replaced(
    tmp_path: Path, flushed: list[str]
) -> None:
    """Else a power cut might leave the new book and no backup."""
    book = tmp_path / "shop.xlsx"
    book.write_bytes(b"old")

    save_book(book, b"new", old=b"old")

    assert flushed == [tmp_path.name, "shop-backups", "put shop.xlsx", tmp_path.name]


def _not_confirmed(folder: Path) -> None:
    raise OSError(errno.EIO, os.strerror(errno.EIO), str(folder))


@pytest.mark.parametrize("write", [save_new, write_document])
def test_a_file_that_is_there_unconfirmed_is_not_called_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, write: Callable[[Path, bytes], object]
) -> None:
    """The disk fails after the file was put in place: that is said, and what to look at."""
    monkeypatch.setattr(disk, "flush_folder", _not_confirmed)

    with pytest.raises(FileInTheWayError, match="does not confirm") as caught:
        write(tmp_path / "a.xlsx", b"whole")

    assert "look whether the" in caught.value.remedy
    assert (tmp_path / "a.xlsx").read_bytes() == b"whole"


def test_a_folder_whose_name_is_not_confirmed_takes_no_paper(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A paper in it might be lost with it."""
    monkeypatch.setattr(disk, "flush_folder", _not_confirmed)

    for write in (save_new, write_document):
        folder = tmp_path / write.__name__
        with pytest.raises(FileInTheWayError, match=r"cannot be written \(Input/output error\)"):
            write(folder / "a.xlsx", b"whole")

        assert not list(folder.iterdir())
