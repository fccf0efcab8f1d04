"""The runs into which faults are put, and what must hold after: nothing lost, no number twice."""

import contextlib
import errno
import gc
import io
import multiprocessing
import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from multiprocessing.context import ForkServerContext, SpawnContext
from pathlib import Path
from unittest import mock

from ledger_tools.book import disk
from ledger_tools.book.archive import archive_path
from ledger_tools.book.create import create_book
from ledger_tools.book.layout import INVOICES_TABLE, PAYMENTS_TABLE
from ledger_tools.book.reader import read_book
from ledger_tools.book.save import backup_folder, save_book
from ledger_tools.commands.main import main
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.documents.pending import pending
from ledger_tools.errors import LedgerError
from tests.book.shop import Shop, seed
from tests.faults.injection import KILL, failing, killed, refused_with

BOOK = "shop.xlsx"
READY = "ready"
DAY = ("--today", "2025-03-03")
KEPT = 3
AFTER_THE_SAVE = 30
"""Calls of `invoice` of which the book is saved by then, and no paper begun."""
SAVED = 1_740_830_400
"""When the books that are there at first were saved: 2025-03-01, noon in Greenwich."""
_MEMORY = Path("/dev/shm")  # noqa: S108 - a disk in memory, where Linux has one, is fast to flush
FEE = (Line(1, Kind.FEE, "Towing", estimate=Decimal(1), actual=Decimal(1), price=Decimal(50)),)


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
        prepare: Fills an empty folder.
        run: Does the work in the folder; gives the exit code.
        check: Looks at what is left, then lets the next run finish the work.
    """

    prepare: Callable[[Path], None]
    run: Callable[[Path], Ran]
    check: Callable[[Path], None]


@contextlib.contextmanager
def prepared(scenario: Scenario) -> Iterator[Path]:
    """Give a folder in which a run can begin."""
    with tempfile.TemporaryDirectory(dir=_MEMORY if _MEMORY.is_dir() else None) as name:
        scenario.prepare(Path(name))
        yield Path(name)


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
        before = (folder / BOOK).read_bytes()
        with failing(at, refused_with(number)) as calls:
            ran = scenario.run(folder)
        assert calls.reached
        assert ran.code in {0, 1, 2}
        assert ran.said or not ran.code, "a run that fails says why"
        if re.search("as it was|[Nn]othing was", ran.said):
            assert (folder / BOOK).read_bytes() == before, ran.said
        scenario.check(folder)


def kill_at(name: str, at: int) -> None:
    """Kill a run, in a process of its own, at the call number `at`; then as in `fail_at`."""
    with prepared(SCENARIOS[name]) as folder:
        run = processes().Process(target=_die_at, args=(name, folder, at))
        run.start()
        run.join()
        assert abs(run.exitcode or 0) == KILL
        SCENARIOS[name].check(folder)


def processes() -> SpawnContext | ForkServerContext:
    """Return how processes are begun: from a small one where the system can, else anew."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__, "ledger_tools.documents.store"])
    return context


def _die_at(name: str, folder: Path, at: int) -> None:
    with failing(at, killed):
        SCENARIOS[name].run(folder)


@cache
def _states() -> tuple[bytes, bytes, bytes]:
    """Return a book with one invoice issued, before and after two more jobs are to be billed."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder) / BOOK)
        book = seed("ca-qc")
        few = book.catalogue._replace(repairs=book.catalogue.repairs[:1])
        shop.path.write_bytes(create_book(replace(book, catalogue=few)))
        shop.add(state="to invoice", lines=FEE)
        first = shop.path.read_bytes()
        shop.invoice()
        issued = shop.path.read_bytes()
        for customer in ("Ann Bell", "C. Dorn"):
            shop.add(customer=customer, state="to invoice", lines=FEE)
        return first, issued, shop.path.read_bytes()


def book_with_invoice() -> bytes:
    """Return a small book with one invoice issued and two jobs that are to be billed."""
    return _states()[2]


def _put(path: Path, content: bytes, saved: int) -> None:
    path.write_bytes(content)
    os.utime(path, (saved, saved))


def _with_backups(folder: Path, book: bytes) -> None:
    """Put the book there, as many backups as are kept, and what a killed run left."""
    path = folder / BOOK
    backup_folder(path).mkdir()
    for number in range(1, KEPT + 1):
        name = f"shop 2025-03-01 12-00-0{number} ({number}).xlsx"
        _put(backup_folder(path) / name, b"%d" % number, SAVED + number)
    (folder / f".{BOOK}-00c0ffee.part").write_bytes(b"half")
    _put(path, book, SAVED)


def _backups(folder: Path) -> list[bytes]:
    found = backup_folder(folder / BOOK)
    return [p.read_bytes() for p in found.iterdir() if not p.name.endswith(".part")]


def _no_rests(folder: Path) -> None:
    """Nothing half-written is left; an empty lock file in the folder of papers means nothing."""
    rests = {p.relative_to(folder).as_posix() for p in folder.rglob(".*")}
    assert rests <= {"invoices/.ledger-tools.lock"}, rests


def _to_save(folder: Path) -> None:
    """A book, and the one that is to take its place."""
    _, old, new = _states()
    _with_backups(folder, old)
    (folder / READY).write_bytes(new)


def _save(folder: Path) -> Ran:
    """Save the state that lies ready over the book."""
    path = folder / BOOK
    new = (folder / READY).read_bytes()
    try:
        save_book(path, new, old=path.read_bytes(), keep=KEPT)
    except LedgerError as problem:
        return Ran(1, str(problem))
    return Ran(0, "")


def _save_without_links(folder: Path) -> Ran:
    """Save where the disk knows no second names for a file, as a memory stick."""

    def none(path: Path, another: Path) -> None:
        raise OSError(1, "Operation not permitted", str(path), str(another))

    counted = disk.link

    def link(path: Path, another: Path) -> None:
        with mock.patch.object(os, "link", none):
            counted(path, another)

    with mock.patch.object(disk, "link", link):
        return _save(folder)


def _check_saved(folder: Path) -> None:
    """The old book or the new one, a backup of each version before, and the next save works."""
    path = folder / BOOK
    first, old, new = _states()
    there = path.read_bytes()
    assert there in {old, new}
    assert read_book(path).snapshot.sheets
    kept = _backups(folder)
    assert set(kept) <= {b"1", b"2", b"3", old}
    assert {b"2", b"3"} <= set(kept)
    assert there == old or old in kept
    save_book(path, first, old=there, keep=KEPT)
    assert path.read_bytes() == first
    assert there in _backups(folder)
    assert len(_backups(folder)) == KEPT
    _no_rests(folder)


def _to_invoice(folder: Path) -> None:
    """A book with two jobs to bill, whose first invoice has its papers."""
    _with_backups(folder, _states()[2])
    for name, content in _papers("25-0001").items():
        path = folder / "invoices" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)


def _papers_lacking(folder: Path) -> None:
    """Put a book there whose last two invoices lack their papers, as a cut-off run leaves it."""
    for name, content in _cut_off().items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)


@cache
def _cut_off() -> dict[str, bytes]:
    """Return every file that is there after `invoice` could not write the first paper."""
    papers = points(SCENARIOS["invoice"]).index("make_folder", AFTER_THE_SAVE)
    with prepared(SCENARIOS["invoice"]) as folder:
        with failing(papers, refused_with(errno.ENOSPC)):
            assert _invoice(folder).code == 1
        assert issued(folder / BOOK) == ALL_ISSUED
        assert pending(folder / BOOK) == ("25-0002", "25-0003")
        found = [p for p in folder.rglob("*") if p.is_file()]
        return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}


def _invoice(folder: Path) -> Ran:
    return verb("invoice", str(folder / BOOK), *DAY)


def issued(path: Path) -> dict[str, str]:
    """Return job numbers by invoice number as the register of a book holds them, in its order."""
    return _issued(path.read_bytes())


@cache
def _issued(content: bytes) -> dict[str, str]:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / BOOK).write_bytes(content)
        return _register(Shop(Path(folder) / BOOK))


def _register(shop: Shop) -> dict[str, str]:
    grid = shop.grid(INVOICES_TABLE)
    values = shop.sheet(grid.sheet).values
    rows = range(grid.header_row + 1, grid.table_end + 1)
    pairs = [
        (values.get((r, grid.columns["number"])), values.get((r, grid.columns["job"])))
        for r in rows
    ]
    given = [(str(number), str(job)) for number, job in pairs if number]
    assert len(dict(given)) == len(given), given
    return dict(given)


ALL_ISSUED = {f"25-000{n}": f"25-000{n}" for n in (1, 2, 3)}


def _check_invoiced(folder: Path) -> None:
    """Numbers are whole, papers belong to issued numbers, and the next run makes the rest."""
    before = issued(folder / BOOK)
    assert before in ({"25-0001": "25-0001"}, ALL_ISSUED)
    there = {p.name: p.read_bytes() for p in (folder / "invoices").glob("[!.]*")}
    assert there.items() <= _papers(*before).items()
    assert set(_backups(folder)) <= {b"1", b"2", b"3", _states()[2]}
    again = _invoice(folder)
    assert again.code == 0, again.said
    assert issued(folder / BOOK) == ALL_ISSUED
    papers = {p.name: p.read_bytes() for p in (folder / "invoices").glob("[!.]*")}
    assert papers == _papers(*ALL_ISSUED)
    if list(folder.glob(".*")):
        assert verb("recompute", str(folder / BOOK), "--today", "2025-03-04").code == 0
    _no_rests(folder)


@cache
def _all_papers() -> dict[str, bytes]:
    """Return the papers that a run without any fault makes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _put(folder / BOOK, _states()[2], SAVED)
        assert _invoice(folder).code == 0
        assert verb("reprint", str(folder / BOOK), *DAY).code == 0
        return {p.name: p.read_bytes() for p in (folder / "invoices").iterdir()}


def _papers(*numbers: str) -> dict[str, bytes]:
    return {n: c for n, c in _all_papers().items() if n[len("invoice-") :][:7] in numbers}


@cache
def _paid() -> tuple[bytes, bytes]:
    """Return a book with two paid jobs and one archived before, and its archive book."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder) / BOOK)
        shop.path.write_bytes(_states()[2])
        shop.invoice()
        shop.fill_rows(
            PAYMENTS_TABLE,
            1,
            [
                {"day": shop.today, "invoice": i.number, "amount": i.total}
                for i in shop.parsed().book.invoices.values()
            ],
        )
        shop.recompute()
        assert verb("archive", str(shop.path), "25-0001", *DAY).code == 0
        return shop.path.read_bytes(), archive_path(shop.path).read_bytes()


def _to_archive(folder: Path) -> None:
    book, archive = _paid()
    _with_backups(folder, book)
    _put(archive_path(folder / BOOK), archive, SAVED)


def _archive(folder: Path) -> Ran:
    return verb("archive", str(folder / BOOK), *DAY)


@cache
def _archived() -> tuple[bytes, bytes]:
    """Return the book and its archive book after a run without any fault."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _to_archive(folder)
        assert _archive(folder).code == 0
        return (folder / BOOK).read_bytes(), archive_path(folder / BOOK).read_bytes()


def _check_archived(folder: Path) -> None:
    """No sheet is lost or doubled: old or new state of each book, the archive never behind."""
    path = folder / BOOK
    (old, old_archive), (new, new_archive) = _paid(), _archived()
    there = path.read_bytes(), archive_path(path).read_bytes()
    assert there in {(old, old_archive), (old, new_archive), (new, new_archive)}
    again = _archive(folder)
    assert again.code == 0, again.said
    assert (path.read_bytes(), archive_path(path).read_bytes()) == (new, new_archive)
    names = [sheet.name for sheet in read_book(archive_path(path)).snapshot.sheets]
    assert names == ["Jobs", "25-0003", "25-0002", "25-0001"]
    for book in (path, archive_path(path)):
        # The next run that writes a book clears away what a killed one left beside it.
        save_book(book, book.read_bytes(), old=book.read_bytes())
    _no_rests(folder)


SCENARIOS = {
    "save": Scenario(_to_save, _save, _check_saved),
    "save without links": Scenario(_to_save, _save_without_links, _check_saved),
    "invoice": Scenario(_to_invoice, _invoice, _check_invoiced),
    "invoice after one cut off": Scenario(_papers_lacking, _invoice, _check_invoiced),
    "archive": Scenario(_to_archive, _archive, _check_archived),
}
