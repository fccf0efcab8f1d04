"""A run into which faults are put: what is there before it, and what is common to all."""

import contextlib
import gc
import io
import multiprocessing
import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing.context import ForkServerContext, SpawnContext
from pathlib import Path
from unittest import mock

from ledger_tools.book import disk
from ledger_tools.book.save import backup_folder
from ledger_tools.commands.main import main
from tests.faults.injection import KILL, failing, killed, refused_with

BOOK = "shop.xlsx"
DAY = ("--today", "2025-03-03")
KEPT = 3
SAVED = 1_740_830_400
"""When the books that are there at first were saved: 2025-03-01, noon in Greenwich."""
_MEMORY = Path("/dev/shm")  # noqa: S108 - a disk in memory, where Linux has one, is fast to flush


@dataclass(frozen=True, slots=True)
class Ran:
    """How a run ended.

    Attributes:
        code: Exit code.
        said: Everything it said.
    """

    code: int
    said: str


def verb(*words: str) -> Ran:
    """Run a verb in this process, as the command line does; a traceback goes through."""
    said = io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["ledger-tools", *words]),
        mock.patch.object(gc, "disable"),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(said),
    ):
        try:
            main()
        except SystemExit as stop:
            return Ran(stop.code if isinstance(stop.code, int) else 0, said.getvalue())
    raise AssertionError(words)


@dataclass(frozen=True, slots=True)
class Scenario:
    """A run, what is there before it, and what must hold after it was cut off.

    Attributes:
        says: What it is, in words for the documentation.
        prepare: Fills an empty folder.
        run: Does the work in the folder; gives the exit code.
        check: Looks at what is left, then lets the next run finish the work.
    """

    says: str
    prepare: Callable[[Path], None]
    run: Callable[[Path], Ran]
    check: Callable[[Path], None]


@contextlib.contextmanager
def empty_folder() -> Iterator[Path]:
    """Give a folder that lasts as long as it is needed."""
    with tempfile.TemporaryDirectory(dir=_MEMORY if _MEMORY.is_dir() else None) as name:
        yield Path(name)


@contextlib.contextmanager
def prepared(scenario: Scenario) -> Iterator[Path]:
    """Give a folder in which a run can begin."""
    with empty_folder() as folder:
        scenario.prepare(folder)
        yield folder


def points(scenario: Scenario) -> list[str]:
    """Return the calls that a run with no fault makes, in order."""
    with prepared(scenario) as folder:
        with failing(None, killed) as calls:
            ran = scenario.run(folder)
        assert ran.code == 0, ran.said
        scenario.check(folder)
    return calls.made


def fail_at(scenario: Scenario, at: int, number: int) -> None:
    """Let the call number `at` of a run fail, check what is left and finish the work."""
    with prepared(scenario) as folder:
        before = files(folder)
        with failing(at, refused_with(number)) as calls:
            ran = scenario.run(folder)
        assert calls.reached
        assert ran.code in {0, 1, 2}
        assert ran.said or not ran.code, "a run that fails says why"
        if re.search("as it was|[Nn]othing was", ran.said):
            assert files(folder).get(BOOK) == before.get(BOOK), ran.said
        scenario.check(folder)


def kill_at(scenario: Scenario, at: int) -> None:
    """Kill a run, in a process of its own, at the call number `at`; then as in `fail_at`."""
    with prepared(scenario) as folder:
        run = processes().Process(target=_die_at, args=(scenario, folder, at))
        run.start()
        run.join()
        assert abs(run.exitcode or 0) == KILL
        scenario.check(folder)


def processes() -> SpawnContext | ForkServerContext:
    """Return how processes are begun: from a small one where the system can, else anew."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.faults.runs", "ledger_tools.documents.store"])
    return context


def _die_at(scenario: Scenario, folder: Path, at: int) -> None:
    with failing(at, killed):
        scenario.run(folder)


@contextlib.contextmanager
def no_links() -> Iterator[None]:
    """Let the disk know no second names for a file, as a memory stick; the call still counts."""

    def none(path: Path, another: Path) -> None:
        raise OSError(1, "Operation not permitted", str(path), str(another))

    counted = disk.link

    def link(path: Path, another: Path) -> None:
        with mock.patch.object(os, "link", none):
            counted(path, another)

    with mock.patch.object(disk, "link", link):
        yield


def put(path: Path, content: bytes, saved: int = SAVED) -> None:
    """Write a file as it was saved some time ago."""
    path.write_bytes(content)
    os.utime(path, (saved, saved))


def with_backups(folder: Path, book: bytes) -> None:
    """Put the book there, as many backups as are kept, and what a killed run left."""
    path = folder / BOOK
    backup_folder(path).mkdir()
    for number in range(1, KEPT + 1):
        name = f"shop 2025-03-01 12-00-0{number} ({number}).xlsx"
        put(backup_folder(path) / name, b"%d" % number, SAVED + number)
    (folder / f".{BOOK}-00c0ffee.part").write_bytes(b"half")
    put(path, book)


def backups(folder: Path) -> list[bytes]:
    """Return the backups of the book."""
    found = backup_folder(folder / BOOK)
    return [p.read_bytes() for p in found.glob("*") if not p.name.endswith(".part")]


def files(folder: Path) -> dict[str, bytes]:
    """Return the files that people see, by their place in the folder."""
    found = [p for p in folder.rglob("*") if p.is_file() and not p.name.startswith(".")]
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}


def no_rests(folder: Path) -> None:
    """Nothing half-written is left; an empty lock file in a folder of papers means nothing."""
    rests = [p for p in folder.rglob(".*") if p.name != ".ledger-tools.lock"]
    assert not rests, rests
