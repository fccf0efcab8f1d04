"""Runs that change one file, or write one beside the book: it is there whole, or not at all."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

from ledger_tools.book.reader import read_content
from ledger_tools.book.save import save_book
from tests.faults.books import asking, books, waiting
from tests.faults.scenario import (
    BOOK,
    DAY,
    Ran,
    Scenario,
    backups,
    empty_folder,
    files,
    no_rests,
    put,
    verb,
    with_backups,
)

NEW, NEXT = "another.xlsx", "shop-2026.xlsx"
Prepare = Callable[[Path], None]
Run = Callable[[Path], Ran]


def _ready(folder: Path) -> None:
    with_backups(folder, books().ready)


def _typed(folder: Path) -> None:
    with_backups(folder, books().typed)


def _bare(folder: Path) -> None:
    """Put nothing there but the book, so that even its folder of backups is new."""
    put(folder / BOOK, books().ready)


def _nothing(folder: Path) -> None:
    assert folder.is_dir()


def add_job(folder: Path) -> Ran:
    """Open a job by command."""
    return verb("add-job", str(folder / BOOK), "--customer", "New Name", "--item", "Rack", *DAY)


def recompute(folder: Path) -> Ran:
    """Bring the book up to date."""
    return verb("recompute", str(folder / BOOK), *DAY)


def new(folder: Path) -> Ran:
    """Make a book beside the others."""
    return verb("new", str(folder / NEW), *DAY)


def next_year(folder: Path) -> Ran:
    """Open the book of the next year."""
    return verb("next-year", str(folder / BOOK), str(folder / NEXT), "--today", "2026-01-02")


def _waiting(folder: Path) -> None:
    """Two jobs that wait for an estimate."""
    with_backups(folder, waiting())


def estimate(folder: Path) -> Ran:
    """Write their estimates."""
    return verb("estimate", str(folder / BOOK), *DAY)


def _asking(folder: Path) -> None:
    """A job that comes to more than is authorised."""
    with_backups(folder, asking())


def extra_work(folder: Path) -> Ran:
    """Ask for the rest."""
    words = (str(folder / BOOK), "25-0002", "--found", "Another crack")
    return verb("extra-work", *words, *DAY)


def quarter(folder: Path) -> Ran:
    """Sum up the quarter."""
    return verb("quarter", str(folder / BOOK), "2025-Q1", *DAY)


def year_end(folder: Path) -> Ran:
    """Sum up the year."""
    return verb("year-end", str(folder / BOOK), "2025", *DAY)


@cache
def _undisturbed(prepare: Prepare, run: Run) -> tuple[dict[str, bytes], dict[str, bytes]]:
    """Return the files before and after a run without any fault."""
    with empty_folder() as folder:
        prepare(folder)
        before = files(folder)
        assert run(folder).code == 0
        return before, files(folder)


def _check_book(folder: Path, prepare: Prepare, run: Run) -> None:
    """The book is in its old or its new state, and the next run makes the new one."""
    before, after = _undisturbed(prepare, run)
    path = folder / BOOK
    old, done = before[BOOK], after[BOOK]
    there = path.read_bytes()
    assert there in {old, done}
    assert set(backups(folder)) <= {b"1", b"2", b"3", old}
    assert there == old or old in backups(folder)
    if there == old:
        again = run(folder)
        assert again.code == 0, again.said
    assert path.read_bytes() == done
    assert read_content(done, BOOK).sheets
    save_book(path, done, old=done)
    no_rests(folder)


def _check_beside(folder: Path, prepare: Prepare, run: Run, name: str) -> None:
    """The new file is whole or not there, no other changes, and the next run makes it."""
    before, after = _undisturbed(prepare, run)
    assert set(after) == {*before, name}
    there = files(folder)
    assert {**there, name: after[name]} == after
    again = run(folder)
    if name in there and name in {NEW, NEXT}:
        assert "the file is there already" in again.said
    else:
        assert again.code == 0, again.said
    assert files(folder) == after


def check_added(folder: Path) -> None:
    """As for every run that changes the book."""
    _check_book(folder, _ready, add_job)


def check_added_bare(folder: Path) -> None:
    """The same where there was no backup before."""
    _check_book(folder, _bare, add_job)


def check_recomputed(folder: Path) -> None:
    """As for every run that changes the book."""
    _check_book(folder, _typed, recompute)


def check_new(folder: Path) -> None:
    """As for every run that writes one file."""
    _check_beside(folder, _nothing, new, NEW)


def check_estimated(folder: Path) -> None:
    """As for every run that writes estimates."""
    _check_promised(folder, _waiting, estimate, 2)


def check_asked(folder: Path) -> None:
    """As for every run that writes estimates: a request is one of them."""
    _check_promised(folder, _asking, extra_work, 1)


def _check_promised(folder: Path, prepare: Prepare, run: Run, count: int) -> None:
    """Revisions are whole, papers belong to revisions kept, and the next run makes the rest."""
    before, after = _undisturbed(prepare, run)
    path = folder / BOOK
    old, done = before[BOOK], after[BOOK]
    there, papers = path.read_bytes(), _papers(files(folder))
    assert there in {old, done}
    assert there == old or old in backups(folder)
    assert papers.items() <= (_papers(after).items() if there == done else set())
    again = run(folder)
    assert again.code == 0, again.said
    assert path.read_bytes() == done
    assert _papers(files(folder)) == _papers(after)
    assert len(_papers(after)) == len((".pdf", ".xlsx")) * count
    if list(folder.glob(".*")):
        assert verb("recompute", str(path), "--today", "2025-03-04").code == 0
    no_rests(folder)


def _papers(found: dict[str, bytes]) -> dict[str, bytes]:
    return {name: content for name, content in found.items() if name.startswith("estimates/")}


def check_next_year(folder: Path) -> None:
    """The old book stays as it is."""
    _check_beside(folder, _bare, next_year, NEXT)


def check_quarter(folder: Path) -> None:
    """The book stays as it is."""
    _check_beside(folder, _bare, quarter, "summaries/quarter-2025-Q1.xlsx")


def check_year_end(folder: Path) -> None:
    """The book stays as it is."""
    _check_beside(folder, _bare, year_end, "summaries/year-end-2025.xlsx")


VERBS = {
    "add-job": Scenario("`add-job`", _ready, add_job, check_added),
    "add-job, first backup": Scenario(
        "`add-job` in a book never saved by the tools before", _bare, add_job, check_added_bare
    ),
    "recompute": Scenario(
        "`recompute` that opens a typed job", _typed, recompute, check_recomputed
    ),
    "estimate": Scenario("`estimate` for two jobs", _waiting, estimate, check_estimated),
    "extra-work": Scenario("`extra-work` for a job", _asking, extra_work, check_asked),
    "new": Scenario("`new`", _nothing, new, check_new),
    "next-year": Scenario("`next-year`", _bare, next_year, check_next_year),
    "quarter": Scenario("`quarter`", _bare, quarter, check_quarter),
    "year-end": Scenario("`year-end`", _bare, year_end, check_year_end),
}
