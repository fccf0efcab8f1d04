"""Putting a changed workbook in the place of the old one: whole or not at all, with a backup."""

import contextlib
import os
import re
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from ledger_tools.book.locks import refuse_if_open
from ledger_tools.book.reader import digest_of, read_file
from ledger_tools.errors import BookChangedError, BookLockedError, FileInTheWayError

BACKUPS_KEPT = 20


def save_book(path: Path, content: bytes, *, digest: str, keep: int = BACKUPS_KEPT) -> Path:
    """Put `content` in the place of the workbook at `path` and return the backup of the old one.

    A run that is cut off leaves either the old book or the new one. The backup lies in the folder
    ``<name>-backups`` beside the book and is named after the time the old book was saved.

    Args:
        path: The book; a symbolic link stays one.
        content: The whole new file.
        digest: SHA-256 of the file the new one was made from.
        keep: How many backups are kept, the one just made included.

    Raises:
        BookLockedError: The book is open in a spreadsheet program.
        BookChangedError: The file is not the one that was read.
        FileInTheWayError: The folder cannot be written, or the disk is full.
    """
    real = path.resolve()
    written: Path | None = None
    try:
        written = _write_beside(real, content)
        refuse_if_open(real)
        if digest_of(read_file(real)) != digest:
            raise BookChangedError(
                path.name,
                "the book was saved by another program since it was read",
                "Nothing was written; run the command again",
            )
        backup = _back_up(real, keep)
        _replace(written, real)
    except OSError as error:
        raise FileInTheWayError(
            path.name,
            f"the book cannot be written ({error.strerror or error})",
            "Check that there is room and that you may write in its folder; the book is as it was",
        ) from error
    finally:
        if written is not None:
            with contextlib.suppress(OSError):
                written.unlink(missing_ok=True)
    return backup


def backup_folder(path: Path) -> Path:
    """Return the folder that holds the backups of the workbook at `path`."""
    real = path.resolve()
    return real.with_name(f"{real.stem}-backups")


def _write_beside(real: Path, content: bytes) -> Path:
    """Write `content` into a new file in the same folder, down to the disk."""
    handle, name = tempfile.mkstemp(prefix=f".{real.stem}-", suffix=".tmp", dir=real.parent)
    written = Path(name)
    try:
        with os.fdopen(handle, "wb") as opened:
            opened.write(content)
            opened.flush()
            os.fsync(opened.fileno())
        shutil.copymode(real, written)
    except BaseException:
        written.unlink(missing_ok=True)
        raise
    return written


def _replace(written: Path, real: Path) -> None:
    try:
        written.replace(real)
    except PermissionError as error:
        raise BookLockedError(
            real.name,
            "the book cannot be replaced: another program holds it open",
            "Close it there and try again; the book is as it was",
        ) from error
    if os.name != "nt":
        folder = os.open(real.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _back_up(real: Path, keep: int) -> Path:
    """Keep the old file under its date; where the disk allows it without copying its bytes."""
    folder = backup_folder(real)
    folder.mkdir(exist_ok=True)
    saved = datetime.fromtimestamp(real.stat().st_mtime, UTC).astimezone()
    dated = f"{real.stem} {saved:%Y-%m-%d %H-%M-%S}"
    number = 1 + max((_number(p, dated, real.suffix) for p in folder.iterdir()), default=0)
    counted = f" ({number})" if number > 1 else ""
    backup = folder / f"{dated}{counted}{real.suffix}"
    try:
        os.link(real, backup)
    except OSError:
        shutil.copy2(real, backup)
    _forget_oldest(real, backup, keep)
    return backup


def _number(path: Path, dated: str, suffix: str) -> int:
    """Return which backup of one second `path` is; 0 if it is of another."""
    found = re.fullmatch(rf"{re.escape(dated)}(?: \((\d+)\))?{re.escape(suffix)}", path.name)
    return int(found[1] or 1) if found else 0


def _forget_oldest(real: Path, newest: Path, keep: int) -> None:
    """Delete the oldest backups beyond `keep`; files of other names are let be."""
    stamp = r" \d{4}-\d\d-\d\d \d\d-\d\d-\d\d( \(\d+\))?"
    ours = re.compile(re.escape(real.stem) + stamp + re.escape(real.suffix))
    others = [p for p in newest.parent.iterdir() if ours.fullmatch(p.name) and p != newest]
    others.sort(key=lambda p: (p.stat().st_mtime_ns, len(p.name), p.name), reverse=True)
    for old in others[max(keep - 1, 0) :]:
        with contextlib.suppress(OSError):
            old.unlink()
