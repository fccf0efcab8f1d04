"""Putting a changed workbook in the place of the old one: whole or not at all, with a backup."""

import contextlib
import os
import re
import stat
from datetime import UTC, datetime
from pathlib import Path

from ledger_tools.book import disk
from ledger_tools.book.locks import refuse_if_open
from ledger_tools.book.turns import turn
from ledger_tools.book.whole import (
    FileContent,
    NotConfirmedError,
    clear_leftovers,
    confirm,
    make_folder,
    put_in_place,
    written_beside,
)
from ledger_tools.errors import BookChangedError, BookLockedError, FileInTheWayError

BACKUPS_KEPT = 20
_ANYONE_WRITES = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
_AS_IT_WAS = "Check that there is room and that you may write there; the book is as it was"


def save_book(path: Path, content: FileContent, *, old: bytes, keep: int = BACKUPS_KEPT) -> Path:
    """Put `content` in the place of the workbook at `path` and return the backup of the old one.

    A run that is cut off leaves either the old book or the new one. The backup lies in the folder
    ``<name>-backups`` beside the book. Its name has the time the old book was saved, and a number
    that counts up, so that a clock set back puts no new backup before an old one.

    Args:
        path: The book; a symbolic link stays one.
        content: The whole new file.
        old: The whole file the new one was made from.
        keep: How many backups are kept, the one just made included.

    Raises:
        BookLockedError: The book is open in a spreadsheet program, or another run writes it.
        BookChangedError: The file is not the one that was read.
        FileInTheWayError: The folder cannot be written, or the disk is full.
    """
    real = path.resolve()
    try:
        with turn(real) as alone:
            _refuse_read_only(real)
            if alone:
                clear_leftovers(real)
            backup = _exchange(real, content, old)
            _forget_oldest(real, backup, keep)
    except NotConfirmedError as error:
        raise FileInTheWayError(
            path.name,
            f"the book is written, but the disk does not confirm it ({error.strerror})",
            "Check the disk, and look whether the book opens; its last state is in the backups",
        ) from error
    except OSError as error:
        what = f"the book cannot be written ({error.strerror or error})"
        raise FileInTheWayError(path.name, what, _AS_IT_WAS) from error
    return backup


def save_new(path: Path, content: bytes) -> None:
    """Put a workbook where there is none; a run that is cut off leaves none.

    Its folder is made if it is not there.

    Raises:
        BookLockedError: Another run writes it.
        FileInTheWayError: There is a file already, the folder cannot be written, it is full, or
            the disk does not confirm that the file is there.
    """
    real = path.resolve()
    try:
        make_folder(real.parent)
        with turn(real) as alone:
            if alone:
                clear_leftovers(real)
            with written_beside(real, content) as written:
                _refuse_there(real)
                put_in_place(written, real)
    except NotConfirmedError as error:
        raise FileInTheWayError(
            path.name,
            f"the file is written, but the disk does not confirm it ({error.strerror})",
            "Check the disk, and look whether the file opens",
        ) from error
    except OSError as error:
        what = f"the file cannot be written ({error.strerror or error})"
        remedy = "Check that there is room and that you may write there"
        raise FileInTheWayError(path.name, what, remedy) from error


def refuse_changed(path: Path, old: bytes) -> None:
    """Refuse to go on with what was worked out from a workbook that is not the same any more.

    Raises:
        BookChangedError: The file at `path` is not `old`.
        FileInTheWayError: It cannot be read again.
    """
    try:
        if not disk.same(path, old):
            raise _changed(path)
    except OSError as error:
        what = f"the book cannot be read again ({error.strerror or error})"
        remedy = "Nothing was written; run the command again"
        raise FileInTheWayError(path.name, what, remedy) from error


def _refuse_there(real: Path) -> None:
    if real.exists():
        raise FileInTheWayError(
            real.name, "the file is there already", "Move it away and try again"
        )


def backup_folder(path: Path) -> Path:
    """Return the folder that holds the backups of the workbook at `path`."""
    real = path.resolve()
    return real.with_name(f"{real.stem}-backups")


def _refuse_read_only(real: Path) -> None:
    """Refuse a book that its owner marked as not to be written."""
    if not (os.access(real, os.W_OK) and disk.facts(real).st_mode & _ANYONE_WRITES):
        raise FileInTheWayError(
            real.name,
            "the book is marked as read-only",
            "Take the mark away to have it written; the book is as it was",
        )


def _exchange(real: Path, content: FileContent, old: bytes) -> Path:
    """Put `content` in the place of the book that is still `old`, and return the backup."""
    mode = stat.S_IMODE(disk.facts(real).st_mode)
    with written_beside(real, content, mode=mode) as written:
        refuse_if_open(real)
        seen = disk.facts(real)
        if not disk.same(real, old):
            raise _changed(real)
        backup = _backed_up(real, old, seen)
        try:
            _replace(written, real, seen)
        except NotConfirmedError:
            raise
        except BaseException:
            with contextlib.suppress(OSError):
                disk.remove(backup)
            raise
    return backup


def _mark(found: os.stat_result) -> tuple[int, int, int, int]:
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


def _changed(real: Path) -> BookChangedError:
    return BookChangedError(
        real.name,
        "the book was saved by another program since it was read",
        "Nothing was written; run the command again",
    )


def _replace(written: Path, real: Path, seen: os.stat_result) -> None:
    # Whoever saved the book since has given it another date or another file.
    if _mark(disk.facts(real)) != _mark(seen):
        raise _changed(real)
    try:
        put_in_place(written, real)
    except PermissionError as error:
        raise BookLockedError(
            real.name,
            "the book cannot be replaced: another program holds it open",
            "Close it there and try again; the book is as it was",
        ) from error


def _backed_up(real: Path, old: bytes, seen: os.stat_result) -> Path:
    """Keep the old file under its date; where the disk allows it without copying its bytes."""
    folder = backup_folder(real)
    try:
        make_folder(folder)
        clear_leftovers(folder / real.name)
        backup = folder / _name(real, seen, 1 + max(_numbers(real, folder), default=0))
        try:
            disk.link(real, backup)
        except OSError:
            _copy(real, old, seen, backup)
        confirm(folder)
    except OSError as error:
        what = f"the backup cannot be written ({error.strerror or error})"
        raise FileInTheWayError(f"folder '{folder.name}'", what, _AS_IT_WAS) from error
    return backup


def _copy(real: Path, old: bytes, seen: os.stat_result, backup: Path) -> None:
    times = seen.st_atime_ns, seen.st_mtime_ns
    mode = stat.S_IMODE(seen.st_mode)
    with written_beside(backup.with_name(real.name), old, mode=mode, times=times) as written:
        disk.replace(backup, written)


def _name(real: Path, seen: os.stat_result, number: int) -> str:
    saved = datetime.fromtimestamp(seen.st_mtime, UTC).astimezone()
    return f"{real.stem} {saved:%Y-%m-%d %H-%M-%S} ({number}){real.suffix}"


def _number(real: Path, name: str) -> int | None:
    """Return which backup a file is, 0 where its name has no number; None for another file."""
    stamp = r" \d{4}-\d\d-\d\d \d\d-\d\d-\d\d(?: \((\d+)\))?"
    found = re.fullmatch(re.escape(real.stem) + stamp + re.escape(real.suffix), name, re.ASCII)
    return int(found[1] or 0) if found else None


def _numbers(real: Path, folder: Path) -> list[int]:
    found = (_number(real, name) for name in disk.names(folder))
    return [number for number in found if number is not None]


def _forget_oldest(real: Path, newest: Path, keep: int) -> None:
    """Delete the oldest backups beyond `keep`; files of other names are let be."""
    with contextlib.suppress(OSError):
        folder = newest.parent
        ours = [(n, name) for name in disk.names(folder) if (n := _number(real, name)) is not None]
        for _, name in sorted(ours, reverse=True)[max(keep, 1) :]:
            with contextlib.suppress(OSError):
                disk.remove(folder / name)
