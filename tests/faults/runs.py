"""The runs into which faults are put, and what must hold after: nothing lost, no number twice."""

import errno
import tempfile
from functools import cache
from pathlib import Path

from ledger_tools.book.archive import archive_path
from ledger_tools.book.reader import read_book
from ledger_tools.book.save import save_book
from ledger_tools.documents.pending import pending
from ledger_tools.errors import LedgerError
from tests.faults.books import ALL_ISSUED, books, issued, paid
from tests.faults.injection import failing, refused_with
from tests.faults.scenario import (
    BOOK,
    DAY,
    KEPT,
    Ran,
    Scenario,
    backups,
    files,
    no_links,
    no_rests,
    points,
    prepared,
    put,
    verb,
    with_backups,
)
from tests.faults.verbs import VERBS

READY = "ready"
AFTER_THE_SAVE = 30
"""Calls of `invoice` of which the book is saved by then, and no paper begun."""


def _to_save(folder: Path) -> None:
    """A book, and the one that is to take its place."""
    with_backups(folder, books().issued)
    (folder / READY).write_bytes(books().ready)


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
    """Save where the disk knows no second names for a file."""
    with no_links():
        return _save(folder)


def _check_saved(folder: Path) -> None:
    """The old book or the new one, a backup of each version before, and the next save works."""
    path = folder / BOOK
    first, old, new, _ = books()
    there = path.read_bytes()
    assert there in {old, new}
    assert read_book(path).snapshot.sheets
    kept = backups(folder)
    assert set(kept) <= {b"1", b"2", b"3", old}
    assert {b"2", b"3"} <= set(kept)
    assert there == old or old in kept
    save_book(path, first, old=there, keep=KEPT)
    assert path.read_bytes() == first
    assert there in backups(folder)
    assert len(backups(folder)) == KEPT
    no_rests(folder)


def _to_invoice(folder: Path) -> None:
    """A book with two jobs to bill, whose first invoice has its papers."""
    with_backups(folder, books().ready)
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
    papers = points(INVOICE).index("make_folder", AFTER_THE_SAVE)
    with prepared(INVOICE) as folder:
        with failing(papers, refused_with(errno.ENOSPC)):
            assert _invoice(folder).code == 1
        assert issued(folder / BOOK) == ALL_ISSUED
        assert pending(folder / BOOK) == ("25-0002", "25-0003")
        found = [p for p in folder.rglob("*") if p.is_file()]
        return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}


def _first_papers(folder: Path) -> None:
    """Put a book there, and nothing else: no folder of papers, no backups."""
    put(folder / BOOK, books().ready)


def _invoice(folder: Path) -> Ran:
    return verb("invoice", str(folder / BOOK), *DAY)


def _invoice_without_links(folder: Path) -> Ran:
    with no_links():
        return _invoice(folder)


def _check_invoiced(folder: Path) -> None:
    """Numbers are whole, papers belong to issued numbers, and the next run makes the rest."""
    _check_numbers(folder)
    papers = {p.name: p.read_bytes() for p in (folder / "invoices").glob("[!.]*")}
    assert papers == _papers(*ALL_ISSUED)


def _check_first_invoiced(folder: Path) -> None:
    """The same where no paper was there before."""
    _check_numbers(folder)
    papers = {p.name: p.read_bytes() for p in (folder / "invoices").glob("[!.]*")}
    assert papers == _papers("25-0002", "25-0003")


def _check_numbers(folder: Path) -> None:
    before = issued(folder / BOOK)
    assert before in ({"25-0001": "25-0001"}, ALL_ISSUED)
    assert before != ALL_ISSUED or books().ready in backups(folder)
    there = {p.name: p.read_bytes() for p in (folder / "invoices").glob("[!.]*")}
    assert there.items() <= _papers(*before).items()
    assert set(backups(folder)) <= {b"1", b"2", b"3", books().ready}
    again = _invoice(folder)
    assert again.code == 0, again.said
    assert issued(folder / BOOK) == ALL_ISSUED
    if list(folder.glob(".*")):
        assert verb("recompute", str(folder / BOOK), "--today", "2025-03-04").code == 0
    no_rests(folder)


@cache
def _all_papers() -> dict[str, bytes]:
    """Return the papers that a run without any fault makes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        put(folder / BOOK, books().ready)
        assert _invoice(folder).code == 0
        assert verb("reprint", str(folder / BOOK), *DAY).code == 0
        return {p.name: p.read_bytes() for p in (folder / "invoices").iterdir()}


def _papers(*numbers: str) -> dict[str, bytes]:
    return {n: c for n, c in _all_papers().items() if n[len("invoice-") :][:7] in numbers}


def _to_archive(folder: Path) -> None:
    with_backups(folder, paid().book)
    put(archive_path(folder / BOOK), paid().archive)


def _to_archive_first(folder: Path) -> None:
    with_backups(folder, paid().whole)


def _archive(folder: Path) -> Ran:
    return verb("archive", str(folder / BOOK), *DAY)


@cache
def _archived(*, first: bool) -> tuple[bytes, bytes]:
    """Return the book and its archive book after a run without any fault."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (_to_archive_first if first else _to_archive)(folder)
        assert _archive(folder).code == 0
        return (folder / BOOK).read_bytes(), archive_path(folder / BOOK).read_bytes()


def _check_archived(folder: Path) -> None:
    """Both books are there, in their old or new states."""
    _check_both(folder, (paid().book, paid().archive), _archived(first=False))


def _check_archived_first(folder: Path) -> None:
    """The same where there was no archive book before."""
    _check_both(folder, (paid().whole, b""), _archived(first=True))


def _check_both(folder: Path, before: tuple[bytes, bytes], after: tuple[bytes, bytes]) -> None:
    """No sheet is lost or doubled: old or new state of each book, the archive never behind."""
    path = folder / BOOK
    (old, old_archive), (new, new_archive) = before, after
    there = path.read_bytes(), files(folder).get(archive_path(path).name, b"")
    assert there in {(old, old_archive), (old, new_archive), (new, new_archive)}
    assert there[0] == old or old in backups(folder)
    again = _archive(folder)
    assert again.code == 0, again.said
    assert (path.read_bytes(), archive_path(path).read_bytes()) == (new, new_archive)
    names = [sheet.name for sheet in read_book(archive_path(path)).snapshot.sheets]
    assert names == ["Jobs", "25-0003", "25-0002", "25-0001"]
    for book in (path, archive_path(path)):
        # The next run that writes a book clears away what a killed one left beside it.
        save_book(book, book.read_bytes(), old=book.read_bytes())
    no_rests(folder)


INVOICE = Scenario("`invoice` for two jobs", _to_invoice, _invoice, _check_invoiced)
SCENARIOS = {
    "save": Scenario("Saving a book over its old state", _to_save, _save, _check_saved),
    "save without links": Scenario(
        "The same on a disk without hard links", _to_save, _save_without_links, _check_saved
    ),
    "invoice": INVOICE,
    "invoice without links": Scenario(
        "The same on a disk without hard links",
        _to_invoice,
        _invoice_without_links,
        _check_invoiced,
    ),
    "invoice, first papers": Scenario(
        "`invoice` in a folder that holds the book alone",
        _first_papers,
        _invoice,
        _check_first_invoiced,
    ),
    "invoice after one cut off": Scenario(
        "`invoice` after one that was cut off before its papers",
        _papers_lacking,
        _invoice,
        _check_invoiced,
    ),
    "archive": Scenario(
        "`archive` of two jobs into an archive book that is there",
        _to_archive,
        _archive,
        _check_archived,
    ),
    "archive, first": Scenario(
        "`archive` of three jobs into a new archive book",
        _to_archive_first,
        _archive,
        _check_archived_first,
    ),
    **VERBS,
}
