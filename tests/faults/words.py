"""What stands in the way of writing the book, and what a command says of it."""

import errno
import os
from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack, nullcontext
from pathlib import Path
from typing import NamedTuple
from unittest import mock

from ledger_tools.book import disk, turns
from ledger_tools.book.save import backup_folder
from tests.faults.runs import SCENARIOS
from tests.faults.scenario import BOOK, Ran, prepared, verb

Arranged = AbstractContextManager[object]


class Obstacle(NamedTuple):
    """Something that stands in the way of a command.

    Attributes:
        name: What it is, in words for the documentation.
        arrange: Puts it beside the book; what comes back takes it away.
        code: Exit code of the command.
        today: The day it is run on.
    """

    name: str
    arrange: Callable[[Path], Arranged]
    code: int
    today: str = "2025-03-20"


class Met(NamedTuple):
    """How a command ended that met an obstacle.

    Attributes:
        ran: Exit code and words.
        untouched: Whether the book is byte by byte as it was.
    """

    ran: Ran
    untouched: bool


def meet(obstacle: Obstacle, word: str = "recompute") -> Met:
    """Run a verb on a book with an obstacle in the way."""
    with prepared(SCENARIOS["invoice"]) as folder:
        book = folder / BOOK
        before = book.read_bytes()
        with obstacle.arrange(book):
            ran = verb(word, str(book), "--today", obstacle.today)
        return Met(ran, book.read_bytes() == before)


def _failing(call: str, number: int) -> Arranged:
    def fail(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    return mock.patch.object(disk, call, fail)


def _full(book: Path) -> Arranged:
    del book
    return _failing("write", errno.ENOSPC)


def _folder_read_only(book: Path) -> Arranged:
    del book
    stack = ExitStack()
    for call in ("open_lock", "create", "make_folder"):
        stack.enter_context(_failing(call, errno.EACCES))
    return stack


def _file_read_only(book: Path) -> Arranged:
    book.chmod(0o444)
    return nullcontext()


def _open_in(lock: str, written: bytes) -> Callable[[Path], Arranged]:
    def arrange(book: Path) -> Arranged:
        (book.parent / lock).write_bytes(written)
        return nullcontext()

    return arrange


def _held_open(book: Path) -> Arranged:
    replace = disk.replace

    def refuse(path: Path, by: Path) -> None:
        if path.name == book.name:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        replace(path, by)

    return mock.patch.object(disk, "replace", refuse)


def _saved_meanwhile(book: Path) -> Arranged:
    """Let another program save the book, unseen, when it has been read already."""
    ask = turns.turn

    def late(path: Path, *, named: str = "") -> AbstractContextManager[bool]:
        fresh = book.with_name("fresh")
        fresh.write_bytes(SAVED_BY_ANOTHER)
        fresh.replace(book)
        return ask(path, named=named)

    return mock.patch("ledger_tools.book.save.turn", late)


SAVED_BY_ANOTHER = b"saved by another program"


def _another_run(book: Path) -> Arranged:
    """Hold the book as another run does; the handle is another one, so the system refuses it."""
    stack = ExitStack()
    stack.enter_context(turns.turn(book))
    stack.enter_context(mock.patch.object(turns, "PATIENCE", 0.05))
    return stack


def _no_backup_folder(book: Path) -> Arranged:
    folder = backup_folder(book)
    folder.rename(folder.with_name("elsewhere"))
    folder.write_text("a file", encoding="utf-8")
    return nullcontext()


def _no_links(book: Path) -> Arranged:
    del book
    return _failing("link", errno.EPERM)


def _nothing(book: Path) -> Arranged:
    del book
    return nullcontext()


OBSTACLES = (
    Obstacle("The disk is full", _full, 2),
    Obstacle("The folder is read-only", _folder_read_only, 2),
    Obstacle("The book is marked as read-only", _file_read_only, 2),
    Obstacle("Excel has it open (`~$shop.xlsx`)", _open_in("~$shop.xlsx", b"\4Anna"), 1),
    Obstacle(
        "LibreOffice has it open (`.~lock.shop.xlsx#`)",
        _open_in(".~lock.shop.xlsx#", b",anna,bench,01.03.2025 10:11,file:///p;"),
        1,
    ),
    Obstacle("Windows holds the file open for another program", _held_open, 1),
    Obstacle("Another program saved it since it was read", _saved_meanwhile, 1),
    Obstacle("Another run of these tools is writing it", _another_run, 1),
    Obstacle("The folder of backups cannot be written", _no_backup_folder, 2),
    Obstacle("The disk knows no hard links", _no_links, 0),
    Obstacle("The clock was set back", _nothing, 0, "2024-12-31"),
)
